"""What a straight cutter running along a member cannot reach from any side."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Polygon, affinity, box

from kit.outlines.winding import parts_of

DIRECTIONS = 36
COARSE = 1e-3  # of the envelope: finer undercuts are not looked for


def undercut_area(polygon: Polygon, radius: float) -> float:
    """Area of the pockets that a round-nosed cutter with a straight shank of its own width cannot enter.

    The cutter comes in along a straight line, from any of 36 sides. Its middle can stand where the whole
    line back out stays clear of the outline by the radius: outside the outline grown by the radius and
    drawn out, away from where the cutter comes from, to a shadow.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As cut, so that corners already carry the cutter's radius.
    radius : float, mm

    Returns
    -------
    float
        mm2; pockets narrower than 1/250 of the envelope do not count.
    """
    x0, y0, x1, y1 = polygon.bounds
    size = max(x1 - x0, y1 - y0)
    solid = polygon.simplify(COARSE * size)
    # Grown by a hair less than the radius, or a slot as wide as the cutter would be closed by rounding.
    grown = solid.buffer(max(radius - COARSE * size, COARSE * size), quad_segs=8)
    around = box(x0, y0, x1, y1).buffer(2 * radius + 0.1 * size, join_style="mitre")
    reached = [
        around.difference(_shadow(grown, angle, 4 * size + 4 * radius)).buffer(radius, quad_segs=8)
        for angle in np.arange(DIRECTIONS) * (2 * math.pi / DIRECTIONS)
    ]
    left = box(x0, y0, x1, y1).difference(shapely.union_all([solid, *reached]))
    return sum(part.area for part in parts_of(left.buffer(-2 * COARSE * size)))


def _shadow(solid: Polygon, angle: float, length: float) -> shapely.Geometry:
    """The outline drawn out along a direction: itself, its copy at the far end, and what each side sweeps."""
    dx, dy = length * math.cos(angle), length * math.sin(angle)
    ring = np.asarray(solid.exterior.coords)
    start, end, away = ring[:-1], ring[1:], np.array([dx, dy])
    swept = shapely.polygons(np.stack([start, end, end + away, start + away, start], axis=1))
    swept = swept[shapely.area(swept) > 1e-9 * length * LineString(ring).length / len(ring)]
    return shapely.union_all([solid, affinity.translate(solid, dx, dy), *shapely.make_valid(swept)])
