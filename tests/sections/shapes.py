"""Outlines the tests of sections share."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

RECTANGLE = Polygon([(0, 0), (60, 0), (60, 20), (0, 20)])
ANGLE = Polygon([(0, 0), (100, 0), (100, 10), (10, 10), (10, 60), (0, 60)])
TEE = Polygon([(-5, 0), (5, 0), (5, 90), (50, 90), (50, 100), (-50, 100), (-50, 90), (-5, 90)])
Z_SECTION = Polygon([(-5, 6), (-5, 4), (-1, 4), (-1, -6), (5, -6), (5, -4), (1, -4), (1, 6)])
TWO_HOLES = Polygon(
    [(0, 0), (120, 0), (120, 100), (0, 100)],
    [[(10, 35), (40, 35), (40, 65), (10, 65)], [(44, 35), (74, 35), (74, 65), (44, 65)]],
)
# A lopsided outline with no symmetry, a slot and an off-centre hole.
LOPSIDED = Polygon(
    [(0, 0), (70, -10), (95, 20), (60, 28), (62, 40), (110, 45), (90, 80), (20, 70), (-15, 35)],
    [[(15, 20), (40, 15), (45, 38), (22, 45)]],
)
ALL = {
    "rectangle": RECTANGLE, "angle": ANGLE, "tee": TEE, "Z": Z_SECTION, "two holes": TWO_HOLES,
    "lopsided": LOPSIDED,
}  # fmt: skip


def polygon_of(radius: float, count: int, x: float = 0.0, y: float = 0.0) -> np.ndarray:
    angle = 2.0 * np.pi * np.arange(count) / count
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def disc(radius: float, count: int = 256) -> Polygon:
    return Polygon(polygon_of(radius, count))


def tube(outer: float, inner: float, count: int = 256, eccentricity: float = 0.0) -> Polygon:
    return Polygon(polygon_of(outer, count), [polygon_of(inner, count, eccentricity)])
