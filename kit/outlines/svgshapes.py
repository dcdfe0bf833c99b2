"""Basic shapes of an SVG drawing as pieces (SVG 2, "Basic shapes")."""

from __future__ import annotations

import math

import numpy as np

from kit.errors import Unusable
from kit.outlines.arcs import ellipse_arc, line, rounded
from kit.outlines.svglengths import Space, number
from kit.outlines.svgpath import Subpath, numbers_of, subpaths

SHAPES = ("path", "rect", "circle", "ellipse", "polygon", "polyline", "line")


def shape_subpaths(tag: str, element, space: Space) -> list[Subpath]:
    """Contours of a shape in its own units, y down.

    Raises
    ------
    Unusable
        If its numbers cannot be read.
    """
    if tag == "path":
        return subpaths(element.get("d", ""))
    if tag in ("polygon", "polyline"):
        return _polygon(element.get("points", ""), tag == "polygon")
    if tag == "line":
        ends = [(number(element, f"x{i}", space), number(element, f"y{i}", space)) for i in (1, 2)]
        return [Subpath([line(*ends)], is_closed=False)]
    return _rect(element, space) if tag == "rect" else _ellipse(tag, element, space)


def _ellipse(tag: str, element, space: Space) -> list[Subpath]:
    if tag == "circle":
        rx = ry = number(element, "r", space)
    else:
        rx, ry = _radii(element, space)
    if rx <= 0 or ry <= 0:
        return []
    centre = (number(element, "cx", space), number(element, "cy", space))
    return [Subpath(ellipse_arc(np.diag([rx, ry]), centre, 0.0, 2 * math.pi), is_closed=True)]


def _radii(element, space: Space) -> tuple[float, float]:
    """rx and ry; one that is missing or negative is as the other, and 0 where both are."""
    rx, ry = (number(element, key, space, missing="-1") for key in ("rx", "ry"))
    return max(ry if rx < 0 else rx, 0.0), max(rx if ry < 0 else ry, 0.0)


def _polygon(text: str, is_closed: bool) -> list[Subpath]:
    numbers = numbers_of(text.strip().removesuffix(","))
    if numbers is None or len(numbers) % 2:
        raise Unusable("the points of a polygon cannot be read; save the drawing again")
    points = np.array(numbers, float).reshape(-1, 2)
    pieces = list(np.stack([points[:-1], points[1:]], axis=1))
    return [Subpath(pieces, is_closed)] if pieces else []


def _rect(element, space: Space) -> list[Subpath]:
    x, y, w, h = (number(element, key, space) for key in ("x", "y", "width", "height"))
    if w <= 0 or h <= 0:
        return []
    rx, ry = _radii(element, space)
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        return [Subpath(list(rounded(corners, [0] * 4)), is_closed=True)]
    # Drawn with round corners of radius 1 and stretched, so that rx and ry may differ.
    w, h = w / rx, h / ry
    corners = rounded([(0, 0), (w, 0), (w, h), (0, h)], [1] * 4)
    return [Subpath([piece * (rx, ry) + (x, y) for piece in corners], is_closed=True)]
