"""The least wall of an outline: its narrowest neck, or the thinnest place of a long tip.

A *neck* is where a round disc inside the material touches the outline at two opposite points: between them
the two sides are as near as they come, or parallel (a saddle of the distance to the outline). Corners make no
necks. A *tip* runs out without one: see `kit.outlines.tips`.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import Polygon

from kit.outlines.sides import Sides, dot, sides_of
from kit.outlines.tips import least_tip

ROUNDING = 1e-7  # rad, and share of a length
FREE = 1e-3  # share of a disc's radius that the corners of a flattened curve may reach into it
SPOTS = np.array([0.5, 0.25, 0.75, 0.0, 1.0])  # along what two parallel sides have opposite one another
DISCS = 64  # tried at a time, the smallest first
MANY, MOST_PAIRS = 2_000, 2_000_000  # sides; pairs looked at in one go
INSCRIBED = 1e-3  # accuracy of the widest disc, of the root of the area


def least_wall(polygon: Polygon) -> float:
    """Width of the thinnest wall, mm: of a neck, of a long tip, or of the whole outline (its widest disc).

    Two boundaries that are not the same ring are never nearer to one another than this, rounding and the
    chords of flattened curves apart.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    """
    sides = sides_of(polygon)
    most = _widest(polygon) if len(sides.start) > MANY else math.inf
    neck = least_neck(sides, most)
    if math.isinf(neck):
        neck = _widest(polygon)
    return min(neck, least_tip(sides, neck))


def _widest(polygon: Polygon) -> float:
    """Diameter of the widest disc inside, mm."""
    return 2.0 * shapely.maximum_inscribed_circle(polygon, INSCRIBED * math.sqrt(polygon.area)).length


def least_neck(sides: Sides, most: float = math.inf) -> float:
    """Width of the narrowest neck, mm; the given width where none is narrower (a triangle, a lens).

    Every pair of sides and internal corners that could face one another is looked at: pairs are found by the
    directions in which each is left at right angles, so that there are few of them.
    """
    tree = shapely.STRtree(shapely.linestrings(np.stack([sides.start, sides.end], axis=1)))
    cones = _cones(sides)
    step = max(1, MOST_PAIRS // len(sides.start))
    for chords in (_corners_and_sides, _corners, _parallels):
        for first in range(0, len(sides.start), step):  # all at once, but for outlines of very many corners
            most = _least_free(chords(sides, cones, slice(first, first + step), most), most, tree)
    return most


def _least_free(chords: np.ndarray, most: float, tree: shapely.STRtree) -> float:
    """Length of the shortest chord, none longer than given, on which a disc holds nothing of the outline."""
    length = np.hypot(*(chords[:, 1] - chords[:, 0]).T)
    order = np.flatnonzero(length < most)
    order = order[np.argsort(length[order], kind="stable")]
    for some in np.split(order, range(DISCS, len(order), DISCS)):
        free = _free(chords[some].mean(axis=1), length[some] / 2, tree)
        if free.any():
            return float(length[some][free.argmax()])
    return most


def _free(middles: np.ndarray, radii: np.ndarray, tree: shapely.STRtree) -> np.ndarray:
    """Whether discs hold nothing of the outline; they lie in the material, as they touch it from inside."""
    if not len(middles):
        return np.zeros(0, bool)
    _, away = tree.query_nearest(shapely.points(middles), return_distance=True, all_matches=False)
    return away >= (1.0 - FREE) * radii


def _cones(sides: Sides) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Internal corners (by the side that starts there), and the directions in which a point of the material
    is nearest to each: from an angle, through a width, rad."""
    a, b = sides.along[sides.before], sides.along
    turn = np.arctan2(a[:, 1] * b[:, 0] - a[:, 0] * b[:, 1], dot(a, b))
    corners = np.flatnonzero(turn > -ROUNDING)
    return corners, _angle(sides.inward[corners]), np.maximum(turn[corners], 0.0)


def _angle(way: np.ndarray) -> np.ndarray:
    return np.arctan2(way[:, 1], way[:, 0])


def _pairs(low: np.ndarray, width: np.ndarray, angles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which angles lie in which spans of directions: numbers of the spans, and of the angles."""
    order = np.argsort(angles % (2 * math.pi))
    once = (angles % (2 * math.pi))[order]
    twice = np.concatenate([once, once + 2 * math.pi])
    low = (low - ROUNDING) % (2 * math.pi)
    first = np.searchsorted(twice, low)
    count = np.searchsorted(twice, low + width + 2 * ROUNDING, side="right") - first
    span = np.repeat(np.arange(len(low)), count)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[span]
    return span, order[number % max(len(order), 1)]


def _corners_and_sides(sides: Sides, cones, some: slice, most: float) -> np.ndarray:
    """Chords from some internal corners, at right angles to a side, (n, 2, 2)."""
    corners, low, width = (values[some] for values in cones)
    corner, side = _pairs(low, width, _angle(-sides.inward))
    point = sides.start[corners[corner]]
    height = dot(point - sides.start[side], sides.inward[side])
    near = (height > 0) & (height < most)
    point, side, height = point[near], side[near], height[near]
    place = dot(point - sides.start[side], sides.along[side])
    length = dot(sides.end[side] - sides.start[side], sides.along[side])
    good = (height > ROUNDING * length) & (place >= -ROUNDING * length) & (place <= (1 + ROUNDING) * length)
    foot = point[good] - height[good, None] * sides.inward[side[good]]
    return np.stack([point[good], foot], axis=1)


def _corners(sides: Sides, cones, some: slice, most: float) -> np.ndarray:
    """Chords between some internal corners and all others, (n, 2, 2)."""
    corners, low, width = cones
    one, other = _pairs(low[some], width[some], low + math.pi)
    a, b = corners[some][one], corners[other]
    way = sides.start[b] - sides.start[a]
    near = (a != b) & (dot(way, way) < most * most)
    a, b, way = a[near], b[near], way[near]
    good = _in_cone(sides, a, way) & _in_cone(sides, b, -way)
    return np.stack([sides.start[a[good]], sides.start[b[good]]], axis=1)


def _in_cone(sides: Sides, corner: np.ndarray, way: np.ndarray) -> np.ndarray:
    """Whether points away from a corner have it as the nearest point of its two sides."""
    least = ROUNDING * np.hypot(*way.T)
    return (dot(way, sides.along[sides.before[corner]]) >= -least) & (dot(way, sides.along[corner]) <= least)


def _parallels(sides: Sides, _, some: slice, most: float) -> np.ndarray:
    """Chords between parallel sides, at several places of what they have opposite one another, (n, 2, 2)."""
    low = _angle(sides.inward[some]) - ROUNDING
    one, other = _pairs(low, np.full(len(low), 2 * ROUNDING), _angle(-sides.inward))
    one += some.start
    height = dot(sides.start[other] - sides.start[one], sides.inward[one])
    ends = [dot(p[other] - sides.start[one], sides.along[one]) for p in (sides.start, sides.end)]
    length = dot(sides.end[one] - sides.start[one], sides.along[one])
    low, high = np.maximum(0.0, np.minimum(*ends)), np.minimum(length, np.maximum(*ends))
    good = (height > ROUNDING * length) & (height < most) & (high > low)
    low, high, one, height = low[good], high[good], one[good], height[good]
    spot = (low[:, None] + (high - low)[:, None] * SPOTS)[..., None]
    a = sides.start[one][:, None] + spot * sides.along[one][:, None]
    b = a + (height[:, None] * sides.inward[one])[:, None]
    return np.stack([a, b], axis=2).reshape(-1, 2, 2)
