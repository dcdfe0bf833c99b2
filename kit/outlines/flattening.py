"""Curves to polygons: to a chord tolerance, or so that the area is kept."""

from __future__ import annotations

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import Contour, pack

DEFAULT_SHARE = 1e-4
SMOOTH = np.cos(np.radians(10.0))
MOST_POINTS = 200_000
GAUSS_T = 0.5 + 0.5 * np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)])
GAUSS_W = np.array([5.0, 8.0, 5.0]) / 18.0


def bounds(contours: tuple[Contour, ...]) -> np.ndarray:
    """Box of the curves themselves (not of their control points): least x, least y, greatest x, greatest y.

    Parameters
    ----------
    contours : tuple of contours, drawn units

    Returns
    -------
    (4,) float array
    """
    points, sizes, _ = pack(contours)
    found = [points[_starts(sizes)]]
    for size in (3, 4):
        if (sizes == size).any():
            pieces = _of_size(points, sizes, size)
            inside = np.concatenate([_at(pieces, t) for t in _turning(pieces)])
            found.append(inside[np.isfinite(inside).all(axis=1)])
    every = np.concatenate(found)
    return np.concatenate([every.min(axis=0), every.max(axis=0)])


def flatten(contours: tuple[Contour, ...], tolerance: float, keep_area: bool = False) -> list[np.ndarray]:
    """Rings of chords no further from the curves than the tolerance.

    n equal steps of the parameter leave a gap of at most max|B″| / (8 n²): |P0 − 2 P1 + P2| / (4 n²) for
    a quadratic, and 6/8 of the greater second difference over n² for a cubic.

    Parameters
    ----------
    contours : tuple of contours, drawn units
    tolerance : float, drawn units
        Greatest distance between a curve and its chord.
    keep_area : bool
        Points inside smooth curves are moved outwards by about two thirds of the gap, until each
        contour's area is the curve's own; the distance stays within the tolerance.

    Returns
    -------
    list of (n, 2) float arrays
        Open rings (the last point is not the first again), in the sense the contours were drawn.

    Raises
    ------
    Unusable
        If more than 200 000 points would be needed.
    """
    points, sizes, counts = pack(contours)
    steps = _steps(points, sizes, tolerance)
    if keep_area:  # a curve between two corners needs a point of its own to move
        steps = np.where((sizes > 2) & (steps < 2), 2, steps)
    if steps.sum() > MOST_POINTS:
        raise Unusable(f"flattening needs {steps.sum():.0f} points; simplify the drawing or flatten coarser")
    rings = np.split(_walk(points, sizes, steps), np.cumsum(_per_contour(steps, counts))[:-1])
    if not keep_area:
        return rings
    return [_keep_area(r, a) for r, a in zip(rings, signed_areas(contours), strict=True)]


def signed_areas(contours: tuple[Contour, ...]) -> np.ndarray:
    """Area inside each contour, exact for the curves; counter-clockwise positive.

    ½ ∮ (x dy − y dx) by Gauss's rule with three points, exact for pieces up to cubics.

    Returns
    -------
    (contours,) float array, drawn units squared
    """
    points, sizes, counts = pack(contours)
    origin = points.mean(axis=0)
    areas = np.empty(len(sizes))
    for size in np.unique(sizes):
        areas[sizes == size] = _areas_under(_of_size(points, sizes, size) - origin)
    return np.array([a.sum() for a in np.split(areas, np.cumsum(counts)[:-1])])


def _areas_under(pieces: np.ndarray) -> np.ndarray:
    degree = pieces.shape[1] - 1
    at = np.einsum("tj,njk->ntk", _bernstein(degree, GAUSS_T), pieces)
    slope = np.einsum("tj,njk->ntk", _bernstein(degree - 1, GAUSS_T), np.diff(pieces, axis=1)) * degree
    return 0.5 * (at[:, :, 0] * slope[:, :, 1] - at[:, :, 1] * slope[:, :, 0]) @ GAUSS_W


def ring_area(ring: np.ndarray) -> float:
    """Area inside a ring of straight sides; counter-clockwise positive."""
    x, y = (ring - ring[0]).T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _bernstein(degree: int, t: np.ndarray) -> np.ndarray:
    s = 1.0 - t
    rows = {
        0: (np.ones_like(t),),
        1: (s, t),
        2: (s * s, 2 * s * t, t * t),
        3: (s**3, 3 * s * s * t, 3 * s * t * t, t**3),
    }[degree]
    return np.stack(rows, axis=-1)


def _starts(sizes: np.ndarray) -> np.ndarray:
    return np.cumsum(sizes, dtype=int) - sizes


def _of_size(points: np.ndarray, sizes: np.ndarray, size: int) -> np.ndarray:
    """Pieces with so many control points, (pieces, size, 2)."""
    return points[_starts(sizes)[sizes == size][:, None] + np.arange(size)]


def _second_difference(pieces: np.ndarray) -> np.ndarray:
    """Greatest length of P(i) − 2 P(i+1) + P(i+2) in each piece."""
    return np.linalg.norm(np.diff(pieces, n=2, axis=1), axis=2).max(axis=1)


def _steps(points: np.ndarray, sizes: np.ndarray, tolerance: float) -> np.ndarray:
    steps = np.ones(len(sizes))
    for size, factor in ((3, 0.25), (4, 0.75)):
        here = sizes == size
        if here.any():
            gap = factor * _second_difference(_of_size(points, sizes, size))
            steps[here] = np.maximum(1.0, np.ceil(np.sqrt(gap / tolerance) - 1e-9))
    return steps


def _per_contour(steps: np.ndarray, counts: np.ndarray) -> np.ndarray:
    return np.array([s.sum() for s in np.split(steps, np.cumsum(counts)[:-1])], int)


def _walk(points: np.ndarray, sizes: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Points at equal steps of every piece's parameter, the end of each piece left to the next."""
    steps = steps.astype(int)
    places = np.cumsum(steps) - steps
    out = np.empty((steps.sum(), 2))
    for size in np.unique(sizes):
        here = np.flatnonzero(sizes == size)
        owner = np.repeat(np.arange(len(here)), steps[here])
        number = np.arange(len(owner)) - np.repeat(np.cumsum(steps[here]) - steps[here], steps[here])
        t = number / steps[here][owner]
        pieces = _of_size(points, sizes, size)[owner]
        out[places[here][owner] + number] = np.einsum("ij,ijk->ik", _bernstein(size - 1, t), pieces)
    return out


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


def _keep_area(ring: np.ndarray, wanted: float) -> np.ndarray:
    """Move the points inside smooth curves until the ring has the wanted area."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    lengths = [np.maximum(np.linalg.norm(v, axis=1), 1e-300) for v in (before, after)]
    sine = (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) / (lengths[0] * lengths[1])
    cosine = np.sum(before * after, axis=1) / (lengths[0] * lengths[1])
    across = before + after
    normal = np.column_stack([across[:, 1], -across[:, 0]])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    # A chord of length c that turns by an angle leaves a gap of c·angle/8; corners stay where they are.
    move = np.where(cosine > SMOOTH, sine * (lengths[0] + lengths[1]) / 24.0, 0.0)
    return ring + _scale_for_area(ring, normal * move[:, None], wanted) * normal * move[:, None]


def _scale_for_area(ring: np.ndarray, move: np.ndarray, wanted: float) -> float:
    """Factor on the moves, between 0 and 2, that gives the wanted area (quadratic in the factor)."""
    none, one, two = (ring_area(ring + k * move) for k in (0.0, 1.0, 2.0))
    bend, slope, short = 0.5 * (two - 2 * one + none), 0.5 * (4 * one - two - 3 * none), none - wanted
    if abs(slope) < 1e-14 * abs(none):
        return 0.0
    inside = slope * slope - 4 * bend * short
    return float(np.clip(-2 * short / (slope + np.copysign(np.sqrt(max(inside, 0.0)), slope)), 0.0, 2.0))
