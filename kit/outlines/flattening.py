"""Curves to polygons: to a chord tolerance, or so that the area is kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import Contour, pack

DEFAULT_SHARE = 1e-4
MOST_POINTS = 200_000
BEND = {3: 0.25, 4: 0.75}  # of the greatest second difference: the gap of one chord
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

    @cached_property
    def areas(self) -> np.ndarray:
        """Area inside each contour, exact: see `signed_areas`."""
        origin = self.points.mean(axis=0)
        areas = np.empty(len(self.sizes))
        for at, pieces in self.pieces.values():
            areas[at] = areas_under(pieces - origin)
        return _sums(areas, self.counts)

    @cached_property
    def gaps(self) -> dict[int, np.ndarray]:
        """Greatest distance between each piece that bends and its chord, by number of control points."""
        return {n: BEND[n] * _second_difference(at[1]) for n, at in self.pieces.items() if n > 2}

    def moved(self, origin) -> Curves:
        """The same with another origin."""
        pieces = {n: (at, found - origin) for n, (at, found) in self.pieces.items()}
        return Curves(self.points - origin, self.sizes, self.counts, pieces)


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
    curves = curves_of(contours)
    found = [pieces[:, 0] for _, pieces in curves.pieces.values()]
    ends = np.concatenate(found)
    if (ends.min(axis=0) <= curves.points.min(axis=0)).all() and (
        ends.max(axis=0) >= curves.points.max(axis=0)
    ).all():  # no control point reaches beyond the ends, as in well-drawn fonts
        return np.concatenate([ends.min(axis=0), ends.max(axis=0)])
    for size, (_, pieces) in curves.pieces.items():
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
    steps = steps_for(curves, tolerance, keep_area)
    if steps.sum() > MOST_POINTS:
        raise Unusable(f"flattening needs {steps.sum()} points; simplify the drawing or flatten coarser")
    ends = np.cumsum(_sums(steps, curves.counts)).tolist()
    walked, gaps = _walk(curves, steps)
    rings = _cut(walked, ends)
    if not keep_area:
        return rings
    found = zip(rings, _cut(gaps, ends), _cut(_crowding(steps), ends), curves.areas.tolist(), strict=True)
    return [_keep_area(*one) for one in found]


def _cut(rows: np.ndarray, ends: list[int]) -> list[np.ndarray]:
    return [rows[start:end] for start, end in zip([0, *ends[:-1]], ends, strict=True)]


def signed_areas(contours: Contours) -> np.ndarray:
    """Area inside each contour, exact for the curves; counter-clockwise positive.

    ½ ∮ (x dy − y dx) of a Bézier piece is a sum over pairs of its control points, Pi × Pj, with the
    weights below (from the integrals of the Bernstein polynomials).

    Returns
    -------
    (contours,) float array, drawn units squared
    """
    return curves_of(contours).areas


def areas_under(pieces: np.ndarray) -> np.ndarray:
    """Area between each piece and the origin, ½ ∫ (x dy − y dx); (n,) array of (n, size, 2) control points."""
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


def bernstein(degree: int, t: np.ndarray) -> np.ndarray:
    """Weights of the control points at each t, last axis; degree 0 to 3."""
    s = 1.0 - t
    rows = {
        0: (np.ones_like(t),),
        1: (s, t),
        2: (s * s, 2 * s * t, t * t),
        3: (s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t),
    }[degree]
    return np.stack(rows, axis=-1)


def _second_difference(pieces: np.ndarray) -> np.ndarray:
    """Greatest length of P(i) − 2 P(i+1) + P(i+2) in each piece."""
    second = pieces[:, :-2] - 2.0 * pieces[:, 1:-1] + pieces[:, 2:]
    return np.hypot(second[..., 0], second[..., 1]).max(axis=1)


def steps_for(curves: Curves, tolerance: float, keep_area: bool) -> np.ndarray:
    """Number of chords of each piece, as `flatten` says."""
    steps = np.ones(len(curves.sizes), int)
    for size, gap in curves.gaps.items():
        needed = np.maximum(1.0, np.ceil(np.sqrt(gap / tolerance) - 1e-9))
        if keep_area:  # a curve needs a point of its own to move; a single one moves by 4/3 of the gap
            needed += (needed == 1) & (gap > 0.05 * tolerance)
            needed += (needed == 2) & (gap / 4 > 0.7 * tolerance)
        steps[curves.pieces[size][0]] = np.minimum(needed, 2 * MOST_POINTS)
    return steps


def _sums(values: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Sum over the pieces of each contour; 0 for one that has none."""
    padded = np.append(values, values[:1] * 0)  # the start of an empty contour at the end is in range
    return np.add.reduceat(padded, np.cumsum(counts) - counts) * (counts > 0)


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
        out[spots] = np.einsum("ij,ijk->ik", bernstein(size - 1, number * share), pieces[owner])
        bend = np.diff(pieces, n=2, axis=1)[owner] * ((size - 1) * (size - 2))
        middle = bernstein(size - 3, (number + 0.5) * share)
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
    return np.einsum("ij,ijk->ik", bernstein(pieces.shape[1] - 1, t), pieces)


def _keep_area(ring: np.ndarray, gaps: np.ndarray, crowding: np.ndarray, wanted: float) -> np.ndarray:
    """Move the points inside curves until the ring has the wanted area; ends of pieces stay where they are.

    A chord of length c with a gap of g leaves out an area of 2/3 g c; a point moved by m between chords
    of c and d wins m (c + d) / 2.
    """
    chord = np.concatenate((ring[1:], ring[:1])) - ring
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-300)
    left_out = 2.0 / 3.0 * (gaps[:, 0] * chord[:, 1] - gaps[:, 1] * chord[:, 0])  # 2/3 g c, outward positive
    across = chord + _before(chord)
    size = crowding * (left_out + _before(left_out)) / (length + _before(length))
    size /= np.maximum(np.hypot(across[:, 0], across[:, 1]), 1e-300)
    move = np.stack((across[:, 1] * size, -across[:, 0] * size), axis=1)
    return ring + _scale_for_area(ring, move, wanted) * move


def _before(rows: np.ndarray) -> np.ndarray:
    """Each row's predecessor around the ring (`numpy.roll` takes five times as long on short ones)."""
    return np.concatenate((rows[-1:], rows[:-1]))


def _scale_for_area(ring: np.ndarray, move: np.ndarray, wanted: float) -> float:
    """Factor on the moves, between 0 and 1.3, that gives the wanted area (quadratic in the factor)."""
    ring = ring - ring[0]
    area, bend = 0.5 * _turned(ring, ring), 0.5 * _turned(move, move)
    slope, short = 0.5 * (_turned(ring, move) + _turned(move, ring)), area - wanted
    if abs(slope) <= 1e-14 * (abs(area) + abs(wanted)):
        return 0.0
    inside = slope * slope - 4 * bend * short
    return float(np.clip(-2 * short / (slope + np.copysign(np.sqrt(max(inside, 0.0)), slope)), 0.0, 1.3))
