"""Outlines as path data of small pictures: few points, whole numbers, each from the one before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from kit.outlines.flattening import bounds, curves_of, flatten
from kit.outlines.outline import Outline

MOST_DRAWN = 20_000  # control points of a left-out outline; more are not drawn
COARSE = 2e-3  # of the envelope: a left-out outline's curves


def fitted(box: Sequence[float], size: float) -> tuple[float, np.ndarray]:
    """Scale that fits a box (least x, least y, greatest x, greatest y) into a square, and the box's middle."""
    return size / max(box[2] - box[0], box[3] - box[1]), np.array([box[0] + box[2], box[1] + box[3]]) / 2


def polygon_paths(
    polygons: Sequence[Polygon], scale: float, middle: np.ndarray, side: float, seen: float
) -> list[str]:
    """Path data of polygons in a square picture, y down.

    Parameters
    ----------
    polygons : sequence of Polygon, mm
    scale : float
        Steps of the picture in a mm.
    middle : (2,) array, mm
        What stands in the middle of the picture.
    side : float
        Side of the picture, steps.
    seen : float
        Least distance that is seen, steps.
    """
    parts, owner = shapely.get_rings(polygons, return_index=True)
    simple = shapely.simplify(parts, seen / scale, preserve_topology=False)
    data = [""] * len(polygons)
    for ring, at in zip(simple, owner.tolist(), strict=True):
        data[at] += ring_path(shapely.get_coordinates(ring)[:-1], scale, middle, side)
    return data


def ring_path(ring: np.ndarray, scale: float, middle: np.ndarray, side: float) -> str:
    """Path data of one closed ring; empty where it is too small to be seen."""
    points = np.rint((ring - middle) * (scale, -scale) + side / 2).astype(int)
    steps = [(x, y) for x, y in np.diff(points, axis=0).tolist() if x or y]
    if len(steps) < 2:
        return ""
    text = "".join(f"{x:d} {y:d} " for x, y in steps)
    return f"M{points[0, 0]} {points[0, 1]}l{text.replace(' -', '-').rstrip()}z"


def drawn_paths(outline: Outline, side: float, margin: float, seen: float) -> list[tuple[str, str]]:
    """An outline just as it was drawn: path data and fill rule of each shape; empty where it cannot be shown.

    Parameters
    ----------
    outline : Outline
    side, margin, seen : float
        Of the picture, and the least distance that is seen, steps.
    """
    if not outline.contours or outline.points > MOST_DRAWN:
        return []
    curves = curves_of(outline.contours)
    box = bounds(curves)
    size = float(max(box[2:] - box[:2]))
    if not 0.0 < size < np.inf:
        return []
    scale, middle = fitted(box, side - 2 * margin)
    rings = [shapely.linestrings(np.append(r, r[:1], axis=0)) for r in flatten(curves, COARSE * size)]
    simple = shapely.simplify(rings, seen / scale, preserve_topology=False)
    paths = [ring_path(shapely.get_coordinates(ring)[:-1], scale, middle, side) for ring in simple]
    found, start = [], 0
    for count, rule in outline.groups or ((len(paths), outline.fill_rule),):
        found.append(("".join(paths[start : start + count]), rule))
        start += count
    return [(path, rule) for path, rule in found if path]
