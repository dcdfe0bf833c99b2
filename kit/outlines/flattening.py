"""Curves to polygons: to a chord tolerance, or so that the area is kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import Contour, pack

DEFAULT_SHARE = 1e-4
MOST_POINTS = 200_000
# By the number of control points: (i, j, weight of Pi × Pj) in the area under a piece.
PAIRS = {
    2: ((0, 1, 1 / 2),),
    3: ((0, 1, 1 / 3), (1, 2, 1 / 3), (0, 2, 1 / 6)),
    4: ((0, 1, 0.3), (0, 2, 0.15), (0, 3, 0.05), (1, 2, 0.15), (1, 3, 0.15), (2, 3, 0.3)),
}


@dataclass(frozen=True)
class Curves:
    """Contours as arrays, taken apart once: all that this module computes can start from it.

    Attributes
    ----------
    points, sizes, counts : arrays
        As from `pack`.
    pieces : dict of size → (places, (n, size, 2) float array)
        Pieces with so many control points, and where they stand among all.
    """

    points: np.ndarray
    sizes: np.ndarray
    counts: np.ndarray
    pieces: dict[int, tuple[np.ndarray, np.ndarray]]


Contours = tuple[Contour, ...] | Curves


def curves_of(contours: Contours) -> Curves:
    """Contours as arrays; what is taken apart already stays as it is."""
    if isinstance(contours, Curves):
        return contours
    points, sizes, counts = pack(contours)
    starts = np.cumsum(sizes, dtype=int) - sizes
    places = {size: np.flatnonzero(sizes == size) for size in (2, 3, 4)}
    pieces = {n: (at, points[starts[at][:, None] + np.arange(n)]) for n, at in places.items() if len(at)}
    return Curves(points, sizes, counts, pieces)


def bounds(contours: Contours) -> np.ndarray:
    """Box of the curves themselves (not of their control points): least x, least y, greatest x, greatest y.

    Parameters
    ----------
    contours : tuple of contours, or Curves, drawn units

    Returns
    -------
    (4,) float array
    """
    found = []
    for size, (_, pieces) in curves_of(contours).pieces.items():
        found.append(pieces[:, 0])
        if size > 2:
            inside = np.concatenate([_at(pieces, t) for t in _turning(pieces)])
            found.append(inside[np.isfinite(inside).all(axis=1)])
    every = np.concatenate(found)
    return np.concatenate([every.min(axis=0), every.max(axis=0)])


def flatten(contours: Contours, tolerance: float, keep_area: bool = False) -> list[np.ndarray]:
    """Rings of chords no further from the curves than the tolerance.

    n equal steps of the parameter leave a gap of at most max|B″| / (8 n²): |P0 − 2 P1 + P2| / (4 n²) for
    a quadratic, and 6/8 of the greater second difference over n² for a cubic.

    Parameters
    ----------
    contours : tuple of contours, or Curves, drawn units
    tolerance : float, drawn units
        Greatest distance between a curve and its chord.
    keep_area : bool
        Points inside curves are moved outwards by about two thirds of the gap, until each contour's area
        is the curve's own; the distance stays within the tolerance, and ends of curves stay in place.

    Returns
    -------
    list of (n, 2) float arrays
        Open rings (the last point is not the first again), in the sense the contours were drawn.

    Raises
    ------
    Unusable
        If more than 200 000 points would be needed.
    """
    curves = curves_of(contours)
    steps = _steps(curves, tolerance, keep_area)
    if steps.sum() > MOST_POINTS:
        raise Unusable(f"flattening needs {steps.sum()} points; simplify the drawing or flatten coarser")
    ends = np.cumsum(_per_contour(steps, curves.counts))[:-1]
    walked, gaps = _walk(curves, steps)
    rings = np.split(walked, ends)
    if not keep_area:
        return rings
    inside = np.split(_crowding(steps), ends)
    found = zip(rings, np.split(gaps, ends), inside, signed_areas(curves), strict=True)
    return [_keep_area(*one) for one in found]


def signed_areas(contours: Contours) -> np.ndarray:
    """Area inside each contour, exact for the curves; counter-clockwise positive.

    ½ ∮ (x dy − y dx) of a Bézier piece is a sum over pairs of its control points, Pi × Pj, with the
    weights below (from the integrals of the Bernstein polynomials).

    Returns
    -------
    (contours,) float array, drawn units squared
    """
    curves = curves_of(contours)
    origin = curves.points.mean(axis=0)
    areas = np.empty(len(curves.sizes))
    for at, pieces in curves.pieces.values():
        areas[at] = _areas_under(pieces - origin)
    return np.array([part.sum() for part in np.split(areas, np.cumsum(curves.counts)[:-1])])


def _areas_under(pieces: np.ndarray) -> np.ndarray:
    x, y = pieces[..., 0], pieces[..., 1]
    total = np.zeros(len(pieces))
    for i, j, weight in PAIRS[pieces.shape[1]]:
        total += weight * (x[:, i] * y[:, j] - x[:, j] * y[:, i])
    return total


def ring_area(ring: np.ndarray) -> float:
    """Area inside a ring of straight sides; counter-clockwise positive."""
    return 0.5 * _turned(ring - ring[0], ring - ring[0])


def _turned(a: np.ndarray, b: np.ndarray) -> float:
    """Sum of the cross products of each row of a with the next row of b, around the ring."""
    inner = a[:-1, 0] @ b[1:, 1] - a[:-1, 1] @ b[1:, 0]
    return float(inner + a[-1, 0] * b[0, 1] - a[-1, 1] * b[0, 0])


def _bernstein(degree: int, t: np.ndarray) -> np.ndarray:
    s = 1.0 - t
    rows = {
        0: (np.ones_like(t),),
        1: (s, t),
        2: (s * s, 2 * s * t, t * t),
        3: (s**3, 3 * s * s * t, 3 * s * t * t, t**3),
    }[degree]
    return np.stack(rows, axis=-1)


def _second_difference(pieces: np.ndarray) -> np.ndarray:
    """Greatest length of P(i) − 2 P(i+1) + P(i+2) in each piece."""
    return np.linalg.norm(np.diff(pieces, n=2, axis=1), axis=2).max(axis=1)


def _steps(curves: Curves, tolerance: float, keep_area: bool) -> np.ndarray:
    steps = np.ones(len(curves.sizes), int)
    for size, (at, pieces) in curves.pieces.items():
        if size > 2:
            gap = {3: 0.25, 4: 0.75}[size] * _second_difference(pieces)
            needed = np.maximum(1.0, np.ceil(np.sqrt(gap / tolerance) - 1e-9))
            if keep_area:  # a curve needs a point of its own to move; a single one moves by 4/3 of the gap
                needed += (needed == 1) & (gap > 0.05 * tolerance)
                needed += (needed == 2) & (gap / 4 > 0.7 * tolerance)
            steps[at] = np.minimum(needed, 2 * MOST_POINTS)
    return steps


def _per_contour(steps: np.ndarray, counts: np.ndarray) -> np.ndarray:
    return np.array([s.sum() for s in np.split(steps, np.cumsum(counts)[:-1])], int)


def _walk(curves: Curves, steps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points at equal steps of every piece's parameter, the end of each piece left to the next; and the
    curve's distance from the middle of the chord that begins at each point, as a vector (−B″ / 8 n²)."""
    places = np.cumsum(steps) - steps
    out, gaps = np.empty((steps.sum(), 2)), np.zeros((steps.sum(), 2))
    for size, (at, pieces) in curves.pieces.items():
        if size == 2:
            out[places[at]] = pieces[:, 0]
            continue
        count = steps[at]
        owner = np.repeat(np.arange(len(at)), count)
        number = np.arange(len(owner)) - (np.cumsum(count) - count)[owner]
        share = 1.0 / count[owner]
        spots = places[at][owner] + number
        out[spots] = np.einsum("ij,ijk->ik", _bernstein(size - 1, number * share), pieces[owner])
        bend = np.diff(pieces, n=2, axis=1)[owner] * ((size - 1) * (size - 2))
        middle = _bernstein(size - 3, (number + 0.5) * share)
        gaps[spots] = np.einsum("ij,ijk->ik", middle, bend) * (share**2 / -8.0)[:, None]
    return out, gaps


def _crowding(steps: np.ndarray) -> np.ndarray:
    """For each point, n / (n − 1) inside a piece of n chords (n gaps for n − 1 points); 0 at its start."""
    share = np.repeat(steps / np.maximum(steps - 1, 1), steps)
    share[np.cumsum(steps) - steps] = 0.0
    return share


def _turning(pieces: np.ndarray) -> list[np.ndarray]:
    """Parameters strictly inside 0…1 where x or y turns back; NaN where there is none."""
    d = np.diff(pieces, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        if pieces.shape[1] == 3:
            roots = [(d[:, 0] / (d[:, 0] - d[:, 1]))]
        else:
            a, b, c = d[:, 0] - 2 * d[:, 1] + d[:, 2], d[:, 1] - d[:, 0], d[:, 0]
            q = -(b + np.copysign(np.sqrt(b * b - a * c), b))
            roots = [q / a, c / q]
    columns = [root[:, axis] for root in roots for axis in (0, 1)]
    return [np.where((t > 0) & (t < 1), t, np.nan) for t in columns]


def _at(pieces: np.ndarray, t: np.ndarray) -> np.ndarray:
    return np.einsum("ij,ijk->ik", _bernstein(pieces.shape[1] - 1, t), pieces)


def _keep_area(ring: np.ndarray, gaps: np.ndarray, crowding: np.ndarray, wanted: float) -> np.ndarray:
    """Move the points inside curves until the ring has the wanted area; ends of pieces stay where they are.

    A chord of length c with a gap of g leaves out an area of 2/3 g c; a point moved by m between chords
    of c and d wins m (c + d) / 2.
    """
    chord = np.roll(ring, -1, axis=0) - ring
    length = np.maximum(np.linalg.norm(chord, axis=1), 1e-300)
    left_out = 2.0 / 3.0 * (gaps[:, 0] * chord[:, 1] - gaps[:, 1] * chord[:, 0])  # 2/3 g c, outward positive
    across = chord + np.roll(chord, 1, axis=0)
    outward = np.column_stack([across[:, 1], -across[:, 0]])
    outward /= np.maximum(np.linalg.norm(outward, axis=1), 1e-300)[:, None]
    size = crowding * (left_out + np.roll(left_out, 1)) / (length + np.roll(length, 1))
    move = outward * size[:, None]
    return ring + _scale_for_area(ring, move, wanted) * move


def _scale_for_area(ring: np.ndarray, move: np.ndarray, wanted: float) -> float:
    """Factor on the moves, between 0 and 1.3, that gives the wanted area (quadratic in the factor)."""
    ring = ring - ring[0]
    area, bend = 0.5 * _turned(ring, ring), 0.5 * _turned(move, move)
    slope, short = 0.5 * (_turned(ring, move) + _turned(move, ring)), area - wanted
    if abs(slope) <= 1e-14 * (abs(area) + abs(wanted)):
        return 0.0
    inside = slope * slope - 4 * bend * short
    return float(np.clip(-2 * short / (slope + np.copysign(np.sqrt(max(inside, 0.0)), slope)), 0.0, 1.3))
