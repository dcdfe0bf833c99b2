"""Greatest shear stress in uniform torsion: the resolved peak where there is one, and an area-based value."""

from __future__ import annotations

import numpy as np

from kit.sections.mesh import SHARP_DEG, inward_turns
from kit.sections.torsion import MEAN, Torsion, gradient_at, load_of, scatter
from kit.sources import carries

# An inward turn below this is a join of curves, not a corner.
KINK_DEG = 3.0
_FLATTENED, _COARSE = 1.5e-4, 2e-3
_STRAIGHT_DEG = 0.01
_SWEEPS = 24
_FLAT_DEG = 1e-6


@carries("timoshenko-goodier-1970", caveats=("area-based-stress",))
def stress_exceeded_by(solved: Torsion, share: float = 0.001) -> float:
    """Torsional shear stress per unit torque that a share of the area exceeds, 1/mm3.

    Unlike the peak it hardly depends on the mesh at a sharp re-entrant corner; it is no measure of strength.
    """
    stress = np.linalg.norm(0.5 * (solved.warping_stress + solved.prandtl_stress), axis=2).ravel()
    weight = np.repeat(solved.mesh.areas / 3.0, 3)
    order = np.argsort(stress)[::-1]
    above = np.cumsum(weight[order]) / weight.sum()
    return float(np.interp(share, above, stress[order])) / solved.J


def has_sharp_corner(rings: tuple[np.ndarray, ...]) -> bool:
    """Whether a corner turns inwards that is no chord of a flattened curve: the stress there is infinite."""
    return sharpest_kink(rings) > 0.0


def sharpest_kink(rings: tuple[np.ndarray, ...]) -> float:
    """The greatest inward turn, degrees, of a corner that is none of a flattened curve's; 0 without one.

    Above ``SHARP_DEG`` every corner is sharp. A lesser one may be a vertex between two chords of a curve:
    see :func:`_on_a_curve`. Below ``KINK_DEG`` the stress grows as r^(−1/60) at most, by an eighth over three
    decades of r: joins of curves as drawn, a little out of line, are no corners.
    """
    size = float(np.ptp(rings[0], axis=0).max())
    return max(float(_kinks(ring, size).max(initial=0.0)) for ring in rings)


def _kinks(ring: np.ndarray, size: float) -> np.ndarray:
    """Inward turns of the vertices of a ring that are sharp corners, degrees."""
    turn = inward_turns(ring)
    if not (turn > KINK_DEG).any():
        return turn[:0]
    # A side drawn in several pieces is one side.
    ring = ring[np.abs(turn) > _STRAIGHT_DEG]
    turn = inward_turns(ring)
    side = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    sharp = (turn > SHARP_DEG) | ((turn > KINK_DEG) & ~_on_a_curve(np.radians(turn), side, size))
    return turn[sharp]


def _on_a_curve(turn: np.ndarray, side: np.ndarray, size: float) -> np.ndarray:
    """Which vertices of a ring may be those of a flattened curve, (n,) bool.

    A chord c that turns by δ into the next leaves a gap of c δ/8 to its curve. A vertex is taken as a
    curve's where that gap, with the shorter of its sides, is one of flattening (``_FLATTENED`` of the
    envelope); where it is up to ``_COARSE`` and the boundary goes on turning beside it, at least a third as
    far; or where it and its neighbours lie on one radius, however coarse, as in a regular polygon of many
    sides; or where such an arc runs out into a tangent, with half a chord's turn.

    Parameters
    ----------
    turn : (n,) array, rad
        Inward turn of each vertex.
    side : (n,) array, mm
        Length of the side that begins at each vertex.
    size : float, mm
        The greater dimension of the envelope.
    """
    before, turns = np.roll(side, 1), (np.roll(turn, 1), np.roll(turn, -1))
    chord = np.minimum(before, side)
    gap = chord * turn / 8.0
    goes_on = np.maximum(*turns) >= turn / 3.0
    bend = turn / chord
    near = (np.roll(bend, 1), np.roll(bend, -1))
    arc = (np.minimum(*near) > 0.45 * bend) & (np.maximum(*near) < 2.0 * bend)
    ends = np.zeros(len(turn), dtype=bool)
    for shift, between in ((1, before), (-1, side)):
        ends |= np.roll(arc, shift) & (turn <= 0.75 * np.roll(bend, shift) * between)
    return (gap <= _FLATTENED * size) | ((gap <= _COARSE * size) & goes_on) | arc | ends


def _pieces(loop: np.ndarray, turn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pieces of one loop over which to average the stress along it.

    Half a mesh side where the boundary is straight or turns outwards. Each vertex of a flattened inward
    curve is itself a faint singularity, so from one to the next the whole chord is averaged, whose mean
    is the smooth curve's to second order in the turn; other sides that end at such a vertex are averaged
    whole.

    Parameters
    ----------
    loop : (k, 3) int array
        First node, second node, mid-side node of each side, beginning at a vertex of the polygon.
    turn : (k,) float array, degrees
        Inward turn at each first node.

    Returns
    -------
    nodes : (p, 2) int array
        First and last node of each piece.
    sides : (p, 2) int array
        The sides it belongs to, from … up to, not including.
    """
    corner, curved = np.abs(turn) > _FLAT_DEG, turn > _FLAT_DEG
    corners = np.flatnonzero(corner)
    bent = curved[corners]
    chords = bent & np.roll(bent, -1)
    in_chord = chords[np.cumsum(corner) - 1]
    touching = ~in_chord & (curved | np.roll(curved, -1))
    plain, whole = np.flatnonzero(~in_chord & ~touching), np.flatnonzero(touching)
    first, last = corners[chords], np.append(corners, len(loop))[1:][chords]
    nodes = [loop[plain][:, [0, 2]], loop[plain][:, [2, 1]], loop[whole][:, :2]]
    nodes.append(np.column_stack([loop[first, 0], loop[last - 1, 1]]))
    start = np.concatenate([plain, plain, whole, first])
    stop = np.concatenate([plain + 1, plain + 1, whole + 1, last])
    return np.vstack(nodes), np.column_stack([start, stop])


def _along(solved: Torsion, nodes: np.ndarray) -> np.ndarray:
    """Mean stress along pieces from the warping function: (ω(q) − ω(p) + p × q) / |q − p|, (p,), mm."""
    (p, q), omega = solved.mesh.points[nodes.T], solved.warping[nodes.T]
    return (omega[1] - omega[0] + p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]) / np.hypot(*(q - p).T)


def _reactions(solved: Torsion) -> np.ndarray:
    """−∮N ∂φ/∂n ds by node, (n,), mm2: what the boundary holds Prandtl's function with."""
    mesh = solved.mesh
    slope = gradient_at(mesh, solved.slopes, solved.prandtl)
    return scatter(mesh, 2.0 * mesh.areas[:, None] * MEAN) - load_of(mesh, solved.slopes, slope)


def _across(solved: Torsion, loop: np.ndarray, sides: np.ndarray, reactions: np.ndarray) -> np.ndarray:
    """Mean of the same stress from Prandtl's function, q = −∂φ/∂n, over whole sides, (p,), mm.

    From the reactions, which hold q far more closely than the slope of φ at the boundary does. q is quadratic
    along each side; with its mid-side value eliminated, each vertex keeps (L₁ + L₂)/8 of its own value and
    −L/24 of each neighbour's, so that each sweep leaves a third of the error.
    """
    length = np.hypot(*(solved.mesh.points[loop[:, 1]] - solved.mesh.points[loop[:, 0]]).T)
    before, middle = np.roll(length, 1), reactions[loop[:, 2]]
    load = reactions[loop[:, 0]] - (middle + np.roll(middle, 1)) / 8.0
    q = np.zeros(len(loop))
    for _ in range(_SWEEPS):
        near = before * np.roll(q, 1) + length * np.roll(q, -1)
        q = (load + near / 24.0) / ((before + length) / 8.0)
    flow = np.append(0.0, np.cumsum(length * (q + np.roll(q, -1)) / 12.0 + 1.25 * middle))
    along = np.append(0.0, np.cumsum(length))
    return (flow[sides[:, 1]] - flow[sides[:, 0]]) / (along[sides[:, 1]] - along[sides[:, 0]])


def boundary_stress(solved: Torsion) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Torsional shear stress along the boundary per unit torque, averaged over short pieces.

    Returns
    -------
    places : (p, 2) float array, mm
        The middles of the pieces.
    stress : (p,) float array, 1/mm3
        From the warping function, positive counter-clockwise round the outer ring.
    other : (p,) float array, 1/mm3
        From Prandtl's function on the same mesh.
    """
    places, stress, other, reactions = [], [], [], _reactions(solved)
    for loop in solved.mesh.loops:
        turn = inward_turns(solved.mesh.points[loop[:, 0]])
        start = int(np.argmax(np.abs(turn) > _FLAT_DEG))
        loop, turn = np.roll(loop, -start, axis=0), np.roll(turn, -start)
        nodes, sides = _pieces(loop, turn)
        places.append(solved.mesh.points[nodes].mean(axis=1))
        stress.append(_along(solved, nodes) / solved.J)
        other.append(_across(solved, loop, sides, reactions) / solved.J)
    return np.vstack(places), np.concatenate(stress), np.concatenate(other)


@carries("timoshenko-goodier-1970", "young-budynas-2002")
def peak_stress(solved: Torsion) -> tuple[float, tuple[float, float], float]:
    """Greatest torsional shear stress per unit torque; it lies on the boundary.

    For outlines with no sharp re-entrant corner only (:func:`has_sharp_corner`): elsewhere it has no limit.

    Returns
    -------
    stress : float, 1/mm3
        From the warping function.
    place : (x, y), mm
        The middle of the piece of boundary where it acts.
    doubt : float
        How far the value from Prandtl's function, on the same mesh, differs there, relative.
    """
    places, stress, other = boundary_stress(solved)
    at = int(np.abs(stress).argmax())
    x, y = places[at]
    return float(abs(stress[at])), (float(x), float(y)), float(abs(other[at] / stress[at] - 1.0))
