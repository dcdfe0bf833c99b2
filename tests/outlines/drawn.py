"""Small outlines the tests draw themselves, and mechanics written out again for comparison."""

from __future__ import annotations

import math

import numpy as np

from kit.outlines.arcs import arc, closed, line
from kit.outlines.outline import Outline


def straight(points) -> tuple[np.ndarray, ...]:
    """A contour of straight pieces."""
    points = np.asarray(points, float)
    return closed([line(a, b) for a, b in zip(points, np.roll(points, -1, axis=0), strict=True)])


def outline(*rings, rule: str = "nonzero", **more) -> Outline:
    """An outline of straight rings, 1 mm a unit."""
    contours = tuple(straight(r) for r in rings)
    return Outline("test", "test", contours, **({"fill_rule": rule, "unit_mm": 1.0} | more))


def square(side: float, x: float = 0.0, y: float = 0.0, turn: int = 1) -> np.ndarray:
    """A square with its lower left corner at x, y; turn −1 draws it clockwise."""
    return (np.array([(0, 0), (side, 0), (side, side), (0, side)], float) + (x, y))[::turn]


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> tuple[np.ndarray, ...]:
    """A circle as a contour."""
    return closed(arc((x, y), radius, 0.0, 2 * math.pi))


def second_moments(polygon) -> tuple[float, float, float]:
    """Ix, Iy and Ixy of a polygon about the origin, by Green's theorem ring by ring."""
    total = np.zeros(3)
    for ring, sign in [(polygon.exterior, 1.0)] + [(hole, -1.0) for hole in polygon.interiors]:
        x, y = np.asarray(ring.coords).T
        a = x[:-1] * y[1:] - x[1:] * y[:-1]
        parts = np.array(
            [
                np.sum(a * (y[:-1] ** 2 + y[:-1] * y[1:] + y[1:] ** 2)) / 12,
                np.sum(a * (x[:-1] ** 2 + x[:-1] * x[1:] + x[1:] ** 2)) / 12,
                np.sum(a * (x[:-1] * y[1:] + 2 * x[:-1] * y[:-1] + 2 * x[1:] * y[1:] + x[1:] * y[:-1])) / 24,
            ]
        )
        total += parts * sign * np.sign(a.sum())
    return tuple(total)


def windings_by_angles(points, ring) -> np.ndarray:
    """Winding numbers as the sums of the angles the sides subtend: a route that counts no crossings."""
    d = np.asarray(ring, float)[None] - np.asarray(points, float)[:, None]
    e = np.roll(d, -1, axis=1)
    angles = np.arctan2(d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0], np.sum(d * e, axis=2))
    return np.rint(angles.sum(axis=1) / (2 * math.pi)).astype(int)


def winding_by_angles(point, ring) -> int:
    """Winding number of one point."""
    return int(windings_by_angles([point], ring)[0])
