"""Pieces of the curves a DXF drawing knows: splines, bulges, edges of hatches."""

from __future__ import annotations

import itertools
import math

import numpy as np

from kit.errors import Unusable
from kit.outlines.arcs import arc, ellipse_arc, line

STEPS, MOST_KNOTS = 16, 5_000

Chain = list[np.ndarray]


def xy(vector) -> tuple[float, float]:
    """Plan of a point."""
    return float(vector[0]), float(vector[1])


def spline_pieces(spline) -> Chain:
    """Bézier pieces of a B-spline: exact up to the third degree, else `STEPS` cubics between two knots.

    Such cubics share ends and tangents with the curve (Hermite); what lies between is off by the fourth
    power of the step: under a millionth of the radius for a quarter circle between two knots.
    """
    if spline.degree <= 3 and not spline.is_rational and spline.is_clamped:
        return [np.array([xy(p) for p in points]) for points in spline.bezier_decomposition()]
    knots = np.array(spline.knots(), float)
    knots = np.unique(knots[spline.degree : len(knots) - spline.degree])
    if len(knots) > MOST_KNOTS:
        raise Unusable(f"a spline has more than {MOST_KNOTS} knots; simplify it")
    return [piece for a, b in itertools.pairwise(knots) for piece in _span(spline, a, b)]


def _span(spline, start: float, end: float) -> Chain:
    """Cubics between two knots; slopes are taken just inside, as they may jump at a knot."""
    t = np.linspace(start, end, STEPS + 1)
    inside = np.clip(t, start + 1e-9 * (end - start), end - 1e-9 * (end - start))
    points = np.array([xy(p) for p in spline.points(t)])
    slopes = np.array([xy(found[1]) for found in spline.derivatives(inside, n=1)])
    reach = slopes * (t[1] - t[0]) / 3.0
    ends = zip(points[:-1], points[:-1] + reach[:-1], points[1:] - reach[1:], points[1:], strict=True)
    return [np.array(four) for four in ends]


def bulged(points: list[tuple[float, float, float]], closed: bool) -> Chain:
    """Straight and circular pieces of a polyline: a bulge is tan(¼ of the angle of its arc)."""
    pieces: Chain = []
    ends = points[1:] + points[:1] if closed else points[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(points, ends, strict=False):
        if (x0, y0) == (x1, y1):
            continue
        pieces += [line((x0, y0), (x1, y1))] if abs(bulge) < 1e-12 else _bulge((x0, y0), (x1, y1), bulge)
    return pieces


def _bulge(start, end, bulge: float) -> Chain:
    a, b = complex(*start), complex(*end)
    centre = (a + b) / 2 + (b - a) * 1j * (1 - bulge * bulge) / (4 * bulge)
    first = a - centre
    angle = 4 * math.atan(bulge)
    return arc((centre.real, centre.imag), abs(first), math.atan2(first.imag, first.real), angle)


def hatch_chains(entity) -> list[Chain]:
    """Boundaries of a hatch; edges in pieces are still to be joined."""
    chains: list[Chain] = []
    for boundary in entity.paths:
        if hasattr(boundary, "vertices"):
            chains.append(bulged([tuple(v) for v in boundary.vertices], True))
        else:
            chains += [piece for edge in boundary.edges if (piece := _edge(edge))]
    return chains


def _edge(edge) -> Chain:
    kind = edge.EDGE_TYPE.removesuffix("Edge").upper()
    if kind == "LINE":
        return [line(xy(edge.start), xy(edge.end))]
    if kind == "ARC":
        sweep = (edge.end_angle - edge.start_angle) % 360.0 or 360.0
        return arc(xy(edge.center), edge.radius, math.radians(edge.start_angle), math.radians(sweep))
    if kind == "ELLIPSE":
        major = np.array(xy(edge.major_axis))
        axes = np.array([major, np.array([-major[1], major[0]]) * edge.ratio])
        sweep = (edge.end_param - edge.start_param) % (2 * math.pi) or 2 * math.pi
        return ellipse_arc(axes, xy(edge.center), edge.start_param, sweep)
    return spline_pieces(edge.construction_tool())
