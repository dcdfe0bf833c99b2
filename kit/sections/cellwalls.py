"""Slenderness of walls: of all that a transverse force may shear, and of those that torsion does.

Where a line across a wall parts the section in two, no torsional shear flow passes it: an open wall is
sheared one way on one face and the other way on the other, and does not buckle by that. The walls that do
lie between two rings of the outline: around a hole. So each hole is walked along, with the distance to the
nearest other ring as the thickness of the wall there. Open walls are walked along on the outer ring, with the
material straight ahead as their thickness.

A wall goes on as far as its direction stays within ``WITHIN_DEG``: corners are edges that hold it. A cell as a
whole may besides give way by changing its shape, as a round tube does by becoming oval.
"""

from __future__ import annotations

import functools

import numpy as np
import shapely

from kit.sections.area import edges_of
from kit.sections.shearcut import first_hits

# Places along a ring; along one longer than its convex hull as many more, up to three times.
PLACES, MOST_PLACES = 72, 216
# Less than a right angle, so that a corner ends a wall.
WITHIN_DEG = 80.0
# √π / 2: diameter of the circle of a square's area over that of its perimeter.
SQUARE = 0.886
# A corner: so far within so many places. A round cell turns half as far, 20°.
FOLD_DEG, FOLD_PLACES = 45.0, 4


def wall_columns(rings: tuple[np.ndarray, ...]) -> dict[str, float]:
    """The most slender walls, dimensionless; 0 where there are none.

    Parameters
    ----------
    rings : tuple of (n, 2) arrays, mm
        Outer ring counter-clockwise, holes clockwise: material on the left.

    Returns
    -------
    dict
        ``cell_wall_b_over_t``: greatest length of a closed cell's wall, from edge to edge along the hole,
        over its thickness. ``cell_wall_D_over_t``: diameter of the round tube that a whole cell counts as,
        over its thickness. ``wall_b_over_t``: as the first, of all walls. For walls of changing thickness
        see :func:`_squared`.
    """
    found = [_of_hole(rings, hole) for hole in range(1, len(rings))]
    flat, round_ = np.max(found, axis=0) if found else (0.0, 0.0)
    every = max(flat, _outside(rings))
    return {
        "cell_wall_b_over_t": float(flat), "cell_wall_D_over_t": float(round_), "wall_b_over_t": float(every),
    }  # fmt: skip


def _outside(rings: tuple[np.ndarray, ...]) -> float:
    """Greatest b / t along the outer ring."""
    points, step = _evenly(rings[0], PLACES)
    a, b = edges_of(rings)
    way = _ways(points)
    into = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-300)[:, None]
    size = float(np.ptp(rings[0], axis=0).max())
    _, thickness = first_hits(points, into, a, b, 1e-7 * size)
    thick = np.sqrt(_squared(np.where(np.isfinite(thickness), thickness, size)))
    return _flat(thick, _spreads(_turns(points)), step)


def _of_hole(rings: tuple[np.ndarray, ...], hole: int) -> tuple[float, float]:
    points, step = _evenly(rings[hole], MOST_PLACES)
    others = shapely.multilinestrings(
        [shapely.linearrings(ring) for other, ring in enumerate(rings) if other != hole]
    )
    shapely.prepare(others)
    thickness = shapely.distance(shapely.points(points), others)
    turn = _turns(points)
    return _flat(np.sqrt(_squared(thickness)), _spreads(turn), step), _round(thickness, turn, step)


def _evenly(ring: np.ndarray, most: int) -> tuple[np.ndarray, float]:
    """Points evenly along a ring, and how far apart they lie along it."""
    closed = np.vstack([ring, ring[:1]])
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T)))
    hull = shapely.convex_hull(shapely.multipoints(ring)).length
    count = int(np.clip(round(PLACES * along[-1] / hull), PLACES, most))
    places = np.arange(count) * (along[-1] / count)
    points = np.column_stack([np.interp(places, along, closed[:, axis]) for axis in (0, 1)])
    return points, float(along[-1] / count)


def _ways(points: np.ndarray) -> np.ndarray:
    """From the place before each to the one after it, (n, 2)."""
    return np.concatenate([points[1:], points[:1]]) - np.concatenate([points[-1:], points[:-1]])


def _turns(points: np.ndarray) -> np.ndarray:
    """Turn of the way at each point, (n,), degrees: over two steps either way, so that specks do not count."""
    way = _ways(points)
    before = np.concatenate([way[-1:], way[:-1]])
    cross = before[:, 0] * way[:, 1] - before[:, 1] * way[:, 0]
    return np.degrees(np.arctan2(cross, (before * way).sum(axis=1)))


def _windows(values: np.ndarray) -> np.ndarray:
    """Row i: the values from place i on, once around."""
    return values[_around(len(values))]


@functools.cache
def _around(count: int) -> np.ndarray:
    return (np.arange(count)[:, None] + np.arange(count)) % count


def _squared(thickness: np.ndarray) -> np.ndarray:
    """Square of the thickness that counts, mm2, of every stretch: (first place, number of places − 1).

    Yield is reached where a wall is thinnest, at a flow of τ t_min; it buckles by its bending stiffness, the
    flexibilities 1/t³ across it in series. A plate whose D stands for them gives way at D/(b² t_min), so that
    t² = 1/(t_min mean(1/t³)). The mean is weighted as the bending of half a sine wave is, which counts
    the middle double; where the plain mean is the worse, that one is taken. t itself for an even wall.
    """
    plain, waved = _weights(len(thickness))
    flexibility = _windows(thickness**-3.0)
    mean = np.maximum(flexibility @ plain, flexibility @ waved)
    return 1.0 / (np.minimum.accumulate(_windows(thickness), axis=1) * mean)


@functools.cache
def _weights(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Weights of the places of a stretch in a mean, and under a sine wave squared: (place, places − 1)."""
    number, place = np.arange(1, count + 1), np.arange(count)[:, None]
    plain = np.where(place < number, 1.0 / number, 0.0)
    waved = plain * (1.0 - np.cos(2.0 * np.pi * (place + 0.5) / number))
    return plain, waved / waved.sum(axis=0)


def _spreads(turn: np.ndarray) -> np.ndarray:
    """How far apart the directions within every stretch lie, (first place, number of places − 1), degrees."""
    steps = _windows(turn)
    steps[:, 0] = 0.0
    heading = np.cumsum(steps, axis=1)
    return np.maximum.accumulate(heading, axis=1) - np.minimum.accumulate(heading, axis=1)


def _flat(thick: np.ndarray, spread: np.ndarray, step: float) -> float:
    """Greatest b / t of the stretches of one ring; half a step beyond the first and the last place."""
    return np.where(spread <= WITHIN_DEG, step * np.arange(1, len(thick) + 1) / thick, 0.0).max()


def _round(thickness: np.ndarray, turn: np.ndarray, step: float) -> float:
    """D / t of the round tube that a cell counts as: of its perimeter, or 0.886 of it where it has corners.

    A long tube gives way by becoming oval, in two lobes, whatever its shape: four hinges of the wall. So the
    flexibility counts that is found there, wherever they lie: the mean and the fourth harmonic. Corners stiffen;
    with them a square counts as the round tube of the same area.
    """
    count = len(thickness)
    flexibility = thickness**-3.0
    hinges = np.abs((flexibility * np.exp(8j * np.pi * np.arange(count) / count)).mean())
    thick = 1.0 / np.sqrt(thickness.min() * (flexibility.mean() + hinges))
    corner = _corners(turn)
    cornered = np.count_nonzero(corner & ~np.roll(corner, 1)) >= 3
    return (SQUARE if cornered else 1.0) * step * count / np.pi / thick + 2.0


def _corners(turn: np.ndarray) -> np.ndarray:
    """Which places belong to a corner, (n,) bool."""
    corner = np.zeros(len(turn), dtype=bool)
    fold = np.abs(_windows(turn)[:, :FOLD_PLACES].sum(axis=1)) >= FOLD_DEG
    for place in range(FOLD_PLACES):
        corner |= np.roll(fold, place)
    return corner
