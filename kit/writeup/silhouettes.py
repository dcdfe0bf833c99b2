"""Outlines as marks: the section's own shape, small, in place of a dot."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
import shapely
import shapely.affinity
import shapely.geometry

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


def mark_paths(table: pd.DataFrame, polygons: Mapping | None) -> list[str]:
    """The mark of each row: its section's own polygon, else its outline's turned, else a square.

    Parameters
    ----------
    table : DataFrame
        ``section_id`` and ``outline`` (one of them may be missing), ``orientation_deg`` where turned.
    polygons : mapping or None
        ``section_id`` (as cut and turned), or outline name or (preparation, outline), both at 0°:
        a polygon [mm].
    """
    polygons = polygons or {}
    upright = {key[-1] if isinstance(key, tuple) else key: shape for key, shape in polygons.items()}
    nothing = [""] * len(table)
    angles = table.get("orientation_deg", pd.Series(0.0, index=table.index)).fillna(0.0)
    rows = zip(table.get("section_id", nothing), table.get("outline", nothing), angles, strict=True)
    return [_path(polygons.get(section), upright.get(outline), angle) for section, outline, angle in rows]


def _path(own: shapely.Polygon | None, upright: shapely.Polygon | None, angle: float) -> str:
    if own is not None:
        return mark_path(own)
    if upright is None:
        return DOT
    return mark_path(shapely.affinity.rotate(upright, angle, origin=(0, 0)) if angle else upright)
