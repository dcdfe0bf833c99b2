"""The outline of a painted stroke, where it is asked for."""

from __future__ import annotations

import itertools

import numpy as np
from shapely import LinearRing, LineString

from kit.errors import Unusable
from kit.outlines.arcs import closed, line
from kit.outlines.flattening import flatten
from kit.outlines.outline import Contour
from kit.outlines.svgstyle import paint
from kit.outlines.winding import parts_of

CAPS = {"butt": "flat", "round": "round", "square": "square"}
JOINS = {"miter": "mitre", "round": "round", "bevel": "bevel"}


def stroked(pieces: list[list[np.ndarray]], is_closed: bool, style: dict[str, str], matrix) -> list[Contour]:
    """Closed contours around strokes, in page units, each a shape of its own.

    Parameters
    ----------
    pieces : list of contours, the shape's own units
    is_closed : bool
        Whether the stroke has no ends.
    style : dict
        Computed properties (stroke-width, joins, caps).
    matrix : (3, 3) float array
        From the shape's own units to page units.
    """
    if style.get("stroke-dasharray", "none") != "none" or not paint(style, "stroke"):
        raise Unusable("it is drawn in dashes; turn strokes into paths")
    width = float(style.get("stroke-width", "1"))
    cap, join = style.get("stroke-linecap", "butt"), style.get("stroke-linejoin", "miter")
    shapes = []
    for contour in pieces:
        size = float(np.ptp(np.concatenate(contour), axis=0).max()) + width
        points = [p for piece in contour for p in _points(piece, 1e-4 * size)] + [contour[-1][-1]]
        thread = LinearRing(points) if is_closed else LineString(points)
        around = thread.buffer(
            width / 2, quad_segs=32, cap_style=CAPS.get(cap, "flat"), join_style=JOINS.get(join, "mitre"),
            mitre_limit=float(style.get("stroke-miterlimit", "4")),
        )  # fmt: skip
        shapes += [
            _contour(ring, matrix) for part in parts_of(around) for ring in (part.exterior, *part.interiors)
        ]
    return shapes


def _points(piece: np.ndarray, tolerance: float) -> np.ndarray:
    """Points along one piece, its end left to the next."""
    there_and_back = (piece, line(piece[-1], piece[0]))
    return flatten((there_and_back,), tolerance)[0][:-1]


def _contour(ring, matrix: np.ndarray) -> Contour:
    points = np.asarray(ring.coords) @ matrix[:2, :2].T + matrix[:2, 2]
    return closed([line(a, b) for a, b in itertools.pairwise(points)])
