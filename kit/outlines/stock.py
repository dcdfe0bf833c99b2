"""What a member is cut from, and what falls away as chips."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

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

    While a section turns, the two corners it touches each side of an upright box with stay the same until a
    side of its hull lies along the box. In between, width and depth of the box are sinusoids. It fits at some
    angle if it fits at one where a side lies along the box, or where a sinusoid is just as wide as the stock.

    Raises
    ------
    Unusable
        If it fits at none.
    """
    hull = np.asarray(polygon.convex_hull.exterior.coords)[:-1]
    room = np.array([width_mm, depth_mm]) - 2 * allowance_mm + 1e-9 * (width_mm + depth_mm)
    angles = np.array([0.0, math.pi / 2, *_angles_to_try(hull, room)])
    fits = (_box(hull, angles) <= room[:, None]).all(axis=0)
    if fits.any():
        return float(np.degrees(angles[fits.argmax()]))
    size = stock_for(polygon, allowance_mm)
    raise Unusable(
        f"it needs stock of {size.width_mm:.4g} × {size.depth_mm:.4g} mm as it lies, and fits into "
        f"{width_mm:g} × {depth_mm:g} mm at no angle; make it smaller, or take larger stock"
    )


def _box(points: np.ndarray, angles: np.ndarray) -> np.ndarray:
    """Width and depth of the upright box around points turned by each angle (rad), (2, angles)."""
    x, y = points.T
    cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
    return np.stack([np.ptp(x * cos - y * sin, axis=1), np.ptp(x * sin + y * cos, axis=1)])


def _angles_to_try(hull: np.ndarray, room: np.ndarray) -> np.ndarray:
    """Angles (0 to π) at which a side of the hull is upright or level, and at which, between two of these,
    the box is as wide or as deep as there is room."""
    x, y = (np.roll(hull, -1, axis=0) - hull).T
    level = np.unique(np.concatenate([[0.0], (-np.arctan2(y, x)) % (math.pi / 2)]))
    level = np.concatenate([level, level + math.pi / 2, [math.pi]])
    middle = (level[:-1] + level[1:]) / 2
    found = [level]
    for across, most in zip((0.0, -math.pi / 2), room, strict=True):  # depth is the width a quarter turn on
        along = np.outer(np.cos(middle + across), hull[:, 0]) - np.outer(np.sin(middle + across), hull[:, 1])
        span = hull[along.argmax(axis=1)] - hull[along.argmin(axis=1)]
        # span · (cos θ, −sin θ) = |span| cos(θ + φ)
        reach = np.arccos(np.clip(most / np.hypot(*span.T), -1.0, 1.0))
        phase = np.arctan2(span[:, 1], span[:, 0])
        for angle in (reach - phase - across, -reach - phase - across):
            angle = angle % (2 * math.pi)
            found.append(angle[(angle >= level[:-1]) & (angle <= level[1:])])
    return np.concatenate(found)
