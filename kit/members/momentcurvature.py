"""Bending of a section whose material has a measured stress–strain curve, up to its peak moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from kit.errors import InputError
from kit.members.cases import BendingCase
from kit.members.crossing import first_crossing
from kit.members.loading import gauss_points, load_effects, moment_shape
from kit.members.state import State
from kit.sections.mesh import mesh_polygon
from kit.sources import carries

STRIPS, CELLS = 160, 48
NEWTON_TURNS = 30
SCOUTS = 24


@dataclass(frozen=True)
class Fibres:
    """A section cut into fibres along the member: their areas (mm2) and places from the centroid (mm).

    ``edge_mm``, (k, 2), are the corners of the outline, where the strain is greatest.
    """

    area_mm2: np.ndarray
    x_mm: np.ndarray
    y_mm: np.ndarray
    edge_mm: np.ndarray


@dataclass(frozen=True)
class MomentCurvature:
    """Moment (N mm) against curvature (1/mm) about the x axis, from zero to the end of the curve.

    ``peak`` is the index of the greatest moment; ``broke`` tells that a fibre reached the last measured
    strain there, so that the true peak may lie beyond.
    """

    curvature_1_per_mm: np.ndarray
    moment_Nmm: np.ndarray
    peak: int
    broke: bool

    @property
    def peak_moment_Nmm(self) -> float:
        """Greatest moment, N mm."""
        return float(self.moment_Nmm[self.peak])


def fibres(polygon: Polygon, elements: int = 200) -> Fibres:
    """Fibres at the three interior points of each triangle of a mesh: area, centroid and Ix exact.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    elements : int
        Triangles wanted.
    """
    mesh = mesh_polygon(polygon, elements)
    corners = mesh.points[mesh.triangles[:, :3]]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    # The degree-2 rule of a triangle: weights 1/3 at the points (2/3, 1/6, 1/6).
    rule = np.full((3, 3), 1.0 / 6.0) + np.eye(3) * 0.5
    points = np.einsum("pc,tcd->tpd", rule, corners).reshape(-1, 2)
    areas = np.repeat(area / 3.0, 3)
    centroid = areas @ points / areas.sum()
    points = points - centroid
    edge = np.asarray(polygon.convex_hull.exterior.coords)[:-1] - centroid
    return Fibres(areas, points[:, 0], points[:, 1], edge)


def gathered(found: Fibres, across: int, up: int) -> Fibres:
    """The fibres gathered into cells: area and first moments kept, second moments to about (1/cells)².

    Parameters
    ----------
    found : Fibres
    across, up : int
        Cells in the width and in the depth; one across, for bending that never looks at x.
    """

    def cell(place, count):
        return np.minimum((place - place.min()) * (count / np.ptp(place)), count - 1).astype(int)

    which = cell(found.x_mm, across) + across * cell(found.y_mm, up)
    area, by_x, by_y = (np.bincount(which, found.area_mm2 * arm) for arm in (1.0, found.x_mm, found.y_mm))
    filled = area > 0
    area = area[filled]
    return Fibres(area, by_x[filled] / area, by_y[filled] / area, found.edge_mm)


def whole_curve(pairs) -> np.ndarray:
    """The curve through the origin, (n, 2): where no compression was measured, tension is mirrored."""
    table = np.asarray(pairs, dtype=float)
    table = table[table[:, 0] != 0.0]
    if not (table[:, 0] < 0).any():
        table = np.vstack([-table[::-1], table])
    return np.insert(table, np.searchsorted(table[:, 0], 0.0), [0.0, 0.0], axis=0)


def curve_in_service(state: State) -> np.ndarray:
    """The material's measured curve at the duration and temperature of the service, (n, 2).

    Stress by the factor f of the strengths, strain by f/e with the factor e of the modulus: the curve keeps
    its form, starts with the lowered modulus and ends at the lowered strength.

    Raises
    ------
    InputError
        If the material has no stress–strain curve.
    """
    material = state.material
    if material.stress_strain is None:
        raise InputError(
            f"material '{material.key}' has no stress-strain curve",
            f"materials.{material.key}.stress_strain",
            "give a measured curve, or use the resistance without one",
        )
    f = float(state.compression) / material.yield_compression_MPa.mean
    e = float(state.modulus) / material.youngs_modulus_MPa.mean
    return np.asarray(material.stress_strain) * (f / e, f)


@carries("timoshenko-1955", "chakrabarty-2006", caveats=("plane-sections", "measured-curve-end"))
def moment_curvature(found: Fibres, pairs, held: bool = True, steps: int = 60) -> MomentCurvature:
    """Moment against curvature about x for a measured stress–strain curve.

    Parameters
    ----------
    found : Fibres
    pairs : (n, 2), strain and stress in MPa, tension positive
        From :class:`~kit.members.materials.Material`; compression mirrored from tension where not given.
    held : bool
        True: the curvature is about x only (neutral axis horizontal). False: the section bends freely, so
        that no moment is left about y.
    steps : int
        Curvatures, closer near zero, up to that at which a fibre reaches the end of the curve.

    Notes
    -----
    Plane sections: ε = ε0 − κ y + κ_y x. The axial force vanishes by bisection and chords, in free bending
    the moment about y with it by Newton's method with shortened steps, on all curvatures at once. Sagging
    under loads along −y: the upper fibres are compressed.
    """
    curve = whole_curve(pairs)
    found = gathered(found, 1, STRIPS) if held else gathered(found, CELLS, CELLS)
    lean = 0.0 if held else _elastic_lean(found)
    # A yielded section turns about another axis than an elastic one: look further, then up to the limit.
    coarse = np.linspace(0.0, 2.5 * _elastic_room(found, curve, lean), SCOUTS + 1)
    use = _balanced(found, curve, coarse, lean, held)[1]
    past = int(np.argmax(use > 1.0)) if (use > 1.0).any() else SCOUTS
    limit = float(np.interp(1.0, use[past - 1 : past + 1], coarse[past - 1 : past + 1]))
    curvature = limit * np.linspace(0.0, 1.0, steps + 1) ** 2
    moment, _ = _balanced(found, curve, curvature, lean, held)
    peak = int(np.argmax(moment))
    return MomentCurvature(curvature, moment, peak, peak == steps)


def _elastic_lean(found: Fibres) -> float:
    """Curvature about y for a unit curvature about x, elastic and free."""
    area, x, y = found.area_mm2, found.x_mm, found.y_mm
    return float(np.sum(area * x * y) / np.sum(area * x * x))


def _elastic_room(found: Fibres, curve: np.ndarray, lean: float) -> float:
    """Curvature at which an elastic section reaches the end of the curve."""
    strain = lean * found.edge_mm[:, 0] - found.edge_mm[:, 1]
    return 1.0 / float(np.max(np.where(strain > 0, strain / curve[-1, 0], strain / curve[0, 0])))


def _balanced(found: Fibres, curve, curvature, lean: float, held: bool):
    """Moments about x in equilibrium, and the use of the curve's range by the edge, for each curvature."""
    law = _Law(curve)
    axial, leaning = _held(found, law, curvature) if held else _free(found, law, curvature, lean)
    stress = law.stress(_strain(found, curvature, axial, leaning))
    x, y = found.edge_mm.T
    edge = axial[:, None] - curvature[:, None] * y + leaning[:, None] * x
    use = np.maximum(edge.max(axis=1) / curve[-1, 0], edge.min(axis=1) / curve[0, 0])
    return -(stress @ (found.area_mm2 * found.y_mm)), use


class _Law:
    """Stress and tangent modulus of a piecewise straight curve; constant stress beyond its ends."""

    def __init__(self, curve: np.ndarray):
        self.strains, self.stresses = curve.T
        self.slopes = np.diff(self.stresses) / np.diff(self.strains)

    def stress(self, strain):
        return np.interp(strain, self.strains, self.stresses)

    def tangent(self, strain):
        """A falling branch would send Newton's step the wrong way: nothing stands in for it."""
        piece = np.clip(np.searchsorted(self.strains, strain) - 1, 0, len(self.slopes) - 1)
        return np.maximum(self.slopes[piece], 0.0)


def _strain(found: Fibres, curvature, axial, leaning):
    return axial[:, None] - curvature[:, None] * found.y_mm + leaning[:, None] * found.x_mm


def _held(found: Fibres, law: _Law, curvature):
    """Strain at the centroid without axial force: between all fibres compressed and all stretched."""
    reach = curvature * np.abs(found.edge_mm[:, 1]).max()
    still = np.zeros_like(curvature)

    def force(above):
        return law.stress(_strain(found, curvature, above - reach, still)) @ found.area_mm2

    return first_crossing(force, 2.0 * reach) - reach, still


def _free(found: Fibres, law: _Law, curvature, lean: float):
    """Strain at the centroid and curvature about y without axial force and moment about y.

    Newton's step on a convex energy; where the slope along the step has turned round, the chord's point
    between is taken instead.
    """
    area, reach = found.area_mm2, np.abs(found.x_mm).max()
    arms = np.stack([np.ones_like(found.x_mm), found.x_mm / reach])
    unknown = np.stack([np.zeros_like(curvature), curvature * lean * reach])
    scale, least = area.sum() * np.abs(law.stresses).max(), 1e-4 * law.slopes.max() * area.sum()

    def residual(rows, u):
        strain = _strain(found, curvature[rows], u[0], u[1] / reach)
        return strain, (law.stress(strain) * area) @ arms.T

    rows = np.arange(len(curvature))
    strain, rest = residual(rows, unknown)
    for _ in range(NEWTON_TURNS):
        going = np.abs(rest).max(axis=1) >= 1e-6 * scale
        rows, strain, rest = rows[going], strain[going], rest[going]
        if not len(rows):
            break
        step = _newton_step(law.tangent(strain) * area, arms, rest, least)
        strain, ahead = residual(rows, unknown[:, rows] + step)
        before, after = np.sum(rest.T * step, axis=0), np.sum(ahead.T * step, axis=0)
        turned = np.flatnonzero(after > 0)
        step[:, turned] *= before[turned] / (before[turned] - after[turned])
        unknown[:, rows] += step
        if len(turned):
            strain[turned], ahead[turned] = residual(rows[turned], unknown[:, rows[turned]])
        rest = ahead
    return unknown[0], unknown[1] / reach


def _newton_step(stiffness, arms, rest, least: float):
    """−H⁻¹ r for the 2 × 2 stiffness of every curvature, (2, n); ``least`` is added to its diagonal."""
    s00 = stiffness.sum(axis=1) + least
    s01, s11 = stiffness @ arms[1], stiffness @ arms[1] ** 2 + least
    determinant = s00 * s11 - s01 * s01
    return np.stack(
        [
            (s01 * rest[:, 1] - s11 * rest[:, 0]) / determinant,
            (s01 * rest[:, 0] - s00 * rest[:, 1]) / determinant,
        ]
    )


@carries("timoshenko-1955", caveats=("plane-sections", "small-deflections"))
def load_deflection(
    bent: MomentCurvature, case: BendingCase, shear_rigidity_N: float = np.inf, steps: int = 60
) -> tuple[np.ndarray, np.ndarray]:
    """Load against deflection of a beam up to its peak load.

    Parameters
    ----------
    bent : MomentCurvature
    case : BendingCase
        Loading and span.
    shear_rigidity_N : float
        G A_s, for the elastic shear deflection.
    steps : int

    Returns
    -------
    deflection_mm, load_N : (steps + 1,) arrays
        At the load, or at midspan; from zero to the peak.

    Notes
    -----
    δ = L² ∫ κ(M(z)) m̄(z) dz by the unit load, κ(M) on the rising branch; the load peaks when the greatest
    moment reaches the section's peak.
    """
    effects = load_effects(case)
    span = case.span_mm
    spacing = case.spacing_mm / span if case.loading == "four-point" else 0.0
    arm = 0.5 * (1.0 - spacing)
    z, weight = gauss_points(np.unique([0.0, arm, 0.5, 1.0 - arm, 1.0]))
    shape = np.abs(moment_shape(case.loading, spacing, z))
    unit = np.abs(moment_shape("cantilever" if case.loading == "cantilever" else "three-point", 0.0, z))
    load = np.linspace(0.0, bent.peak_moment_Nmm / (effects.moment * span), steps + 1)
    rising = slice(0, bent.peak + 1)
    moment = np.maximum.accumulate(bent.moment_Nmm[rising])
    curvature = np.interp(load[:, None] * span * shape, moment, bent.curvature_1_per_mm[rising])
    flexure = span**2 * curvature @ (unit * weight)
    return flexure + effects.shear_flexure * load * span / shear_rigidity_N, load
