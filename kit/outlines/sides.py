"""Straight sides of a polygon as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon
from shapely.geometry.polygon import orient

SAME = 1e-7  # of the outline's size


@dataclass(frozen=True)
class Sides:
    """The straight sides of all rings, the material on the left of each.

    Attributes
    ----------
    start, end : (n, 2) float arrays, mm
    along, inward : (n, 2) float arrays
        Unit vectors.
    before : (n,) int array
        The side that ends where each one starts.
    ring : (n,) int array
        Which ring each is of; the outer one is 0.
    """

    start: np.ndarray
    end: np.ndarray
    along: np.ndarray
    inward: np.ndarray
    before: np.ndarray
    ring: np.ndarray


def sides_of(polygon: Polygon) -> Sides:
    """Sides of all rings of a polygon, without those of no length.

    Raises
    ------
    ValueError
        If nothing is left of the polygon.
    """
    oriented = orient(polygon)
    nearest = SAME * np.ptp(np.asarray(oriented.exterior.coords), axis=0).max()
    rings = [
        _distinct(np.asarray(ring.coords)[:-1, :2], nearest)
        for ring in (oriented.exterior, *oriented.interiors)
    ]
    rings = [ring for ring in rings if len(ring) > 2]
    counts = np.array([len(ring) for ring in rings])
    first = np.cumsum(counts) - counts
    start, end = np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    before = np.arange(len(start)) - 1
    before[first] = first + counts - 1
    along = (end - start) / np.hypot(*(end - start).T)[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    return Sides(start, end, along, inward, before, np.repeat(np.arange(len(rings)), counts))


def _distinct(ring: np.ndarray, nearest: float) -> np.ndarray:
    """Without points that all but repeat the one before: the direction of such a side is rounding."""
    return ring[np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > nearest]


def dot(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Products of vectors in the last axis."""
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
