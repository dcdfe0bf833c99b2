"""What a member is cut from, and what falls away as chips."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon, affinity

from kit.errors import Unusable


@dataclass(frozen=True)
class Stock:
    """The bar or plate a section is cut from.

    Attributes
    ----------
    width_mm, depth_mm : float
        Of the rectangle, allowance included, at the orientation of the section.
    chips_area_mm2 : float
        What is cut away.
    """

    width_mm: float
    depth_mm: float
    chips_area_mm2: float


def stock_for(polygon: Polygon, allowance_mm: float = 0.0) -> Stock:
    """Smallest upright rectangle a section can be cut from.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As cut, turned as it lies in the stock.
    allowance_mm : float
        Left all round for holding and trimming.
    """
    x0, y0, x1, y1 = polygon.bounds
    width, depth = x1 - x0 + 2 * allowance_mm, y1 - y0 + 2 * allowance_mm
    return Stock(width, depth, width * depth - polygon.area)


def least_stock(polygon: Polygon) -> tuple[float, float]:
    """Sides of the rectangle of least area a section can be cut from, the longer one first, mm.

    It lies along a side of the hull (Freeman and Shapira, 1975), whichever way the section is turned.
    """
    hull = np.asarray(polygon.convex_hull.exterior.coords)
    along = np.diff(hull, axis=0)
    along /= np.hypot(*along.T)[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    sides = np.stack([np.ptp(hull @ along.T, axis=0), np.ptp(hull @ across.T, axis=0)])
    least = sides[:, np.argmin(sides.prod(axis=0))]
    return float(least.max()), float(least.min())


def check_stock(polygon: Polygon, width_mm: float, depth_mm: float, allowance_mm: float = 0.0) -> float:
    """Angle (degrees) to turn a section by so that it fits into the stock; 0 where it fits as it lies.

    The narrowest rectangle around a shape lies along one side of its hull, so the angles of the hull's
    sides are the ones to try.

    Raises
    ------
    Unusable
        If it does not fit at any of them.
    """
    hull = np.asarray(polygon.convex_hull.exterior.coords)
    sides = np.degrees(np.arctan2(*np.diff(hull, axis=0).T[::-1]))
    for angle in (0.0, 90.0, *-sides, *(90.0 - sides)):
        box = affinity.rotate(polygon.convex_hull, angle, origin=(0, 0)).bounds
        room = 1e-9 * (width_mm + depth_mm) - 2 * allowance_mm
        if box[2] - box[0] <= width_mm + room and box[3] - box[1] <= depth_mm + room:
            return float(angle)
    size = stock_for(polygon, allowance_mm)
    raise Unusable(
        f"it needs stock of {size.width_mm:.4g} × {size.depth_mm:.4g} mm, more than {width_mm:g} × "
        f"{depth_mm:g} mm; make it smaller, or take larger stock"
    )
