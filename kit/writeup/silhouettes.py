"""Outlines as marks: the section's own shape, small, in place of a dot."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely

DETAIL = 0.012  # of the half size: finer than a mark can show
DOT = "M-.5,-.5L.5,-.5L.5,.5L-.5,.5Z"


def mark_path(polygon: shapely.Polygon | shapely.MultiPolygon, detail: float = DETAIL) -> str:
    """SVG path of an outline, centred in the square ±1, y downward, holes wound against the outside.

    Parameters
    ----------
    polygon : shapely.Polygon
        Section outline [mm], y upward.
    detail : float
        Tolerance of the simplification, as a share of half the greater extent.

    Returns
    -------
    str
        A path that Vega's point mark takes as its shape.
    """
    if polygon.is_empty:
        return DOT
    left, bottom, right, top = polygon.bounds
    half = max(right - left, top - bottom) / 2
    shape = polygon.simplify(detail * half, preserve_topology=True)
    centre = np.array([(left + right) / 2, (bottom + top) / 2])
    parts = shape.geoms if isinstance(shape, shapely.MultiPolygon) else [shape]
    rings = [ring for part in parts for ring in _rings(part)]
    return "".join(_ring_path((np.asarray(ring.coords)[:-1, :2] - centre) / half) for ring in rings)


def _rings(part: shapely.Polygon) -> list:
    part = shapely.geometry.polygon.orient(part)
    return [part.exterior, *part.interiors]


def _ring_path(points: np.ndarray) -> str:
    """Path of one closed ring, two decimals (a hundredth of the half size), y turned downward."""
    pairs = [f"{_short(x)},{_short(-y)}" for x, y in points]
    return "M" + "L".join(pairs) + "Z"


def _short(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    text = text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text
    return "0" if text in ("-0", "", "-") else text


def mark_paths(section_ids: list[str], outlines: list[str], polygons: Mapping | None) -> list[str]:
    """The path for each row: by section, else by outline, else a plain square.

    Parameters
    ----------
    section_ids, outlines : list of str
        Of each row.
    polygons : mapping or None
        ``section_id`` (or outline name) → shapely polygon [mm].
    """
    polygons = polygons or {}
    known: dict[int, str] = {}

    def path(identifier: str, outline: str) -> str:
        polygon = polygons.get(identifier, polygons.get(outline))
        if polygon is None:
            return DOT
        if id(polygon) not in known:
            known[id(polygon)] = mark_path(polygon)
        return known[id(polygon)]

    return [path(identifier, outline) for identifier, outline in zip(section_ids, outlines, strict=True)]
