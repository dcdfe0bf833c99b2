"""Outlines of the published checks, by their dimensions."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

_ARC_DEG = 2.0


def rounded(corners: list[tuple], holes: list = ()) -> Polygon:
    """A polygon from corners (x, y) or (x, y, radius), whose radii become arcs of 2° chords."""
    points = np.array([corner[:2] for corner in corners], dtype=float)
    ring = []
    for k, corner in enumerate(corners):
        radius = corner[2] if len(corner) > 2 else 0.0
        ring.append(_arc(points[k - 1], points[k], points[(k + 1) % len(points)], radius))
    return Polygon(np.vstack(ring), holes)


def _arc(before: np.ndarray, at: np.ndarray, after: np.ndarray, radius: float) -> np.ndarray:
    """The corner ``at``, rounded by an arc that is tangent to both of its sides."""
    if radius == 0.0:
        return at[None]
    into, out = (at - before) / np.hypot(*(at - before)), (after - at) / np.hypot(*(after - at))
    turn = np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out)
    start = at - into * radius * np.tan(abs(turn) / 2.0)
    side = np.sign(turn) * np.array([-into[1], into[0]])
    centre = start + radius * side
    steps = int(np.ceil(abs(np.degrees(turn)) / _ARC_DEG))
    angle = turn * np.linspace(0.0, 1.0, steps + 1)
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    normal = np.array([-side[1], side[0]])
    return centre + radius * (-side * cos - normal * sin)


def rectangle(width: float, depth: float) -> Polygon:
    return Polygon([(0, 0), (width, 0), (width, depth), (0, depth)])


def regular(count: int, radius: float, start_deg: float = 0.0) -> Polygon:
    """Regular polygon by its circumscribed radius."""
    angle = np.radians(start_deg) + 2.0 * np.pi * np.arange(count) / count
    return Polygon(radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def ellipse(a: float, b: float, count: int = 360) -> Polygon:
    angle = 2.0 * np.pi * np.arange(count) / count
    return Polygon(np.column_stack([a * np.cos(angle), b * np.sin(angle)]))


def circle(diameter: float, count: int = 360) -> Polygon:
    return ellipse(diameter / 2.0, diameter / 2.0, count)


def tube(outer: float, inner: float, count: int = 360) -> Polygon:
    """Circular tube by its diameters."""
    return circle(outer, count).difference(circle(inner, count))


def elliptical_tube(a: float, b: float, thickness: float, count: int = 360) -> Polygon:
    """Wall of constant normal thickness about a mid-line ellipse."""
    angle = 2.0 * np.pi * np.arange(count) / count
    middle = np.column_stack([a * np.cos(angle), b * np.sin(angle)])
    normal = np.column_stack([b * np.cos(angle), a * np.sin(angle)])
    normal /= np.hypot(*normal.T)[:, None]
    half = thickness / 2.0 * normal
    return Polygon(middle + half, [middle - half])


def sector(radius: float, degrees: float, count: int = 360) -> Polygon:
    angle = np.radians(np.linspace(0.0, degrees, count + 1))
    arc = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return Polygon(np.vstack([arc] if degrees == 180.0 else [[0.0, 0.0], arc]))


def arc_strip(radius: float, thickness: float, degrees: float, count: int = 360) -> Polygon:
    """Strip along a circular arc, symmetrical about the y axis, open below."""
    angle = np.radians(90.0 + np.linspace(-degrees / 2.0, degrees / 2.0, count + 1))
    ray = np.column_stack([np.cos(angle), np.sin(angle)])
    return Polygon(np.vstack([(radius + thickness / 2.0) * ray, (radius - thickness / 2.0) * ray[::-1]]))


def slit_tube(radius: float, thickness: float) -> Polygon:
    """Tube slit along its lowest line; the slit is 0.01° wide."""
    return arc_strip(radius, thickness, 359.99, 360)


def i_section(h, b, tw, tf, r=0.0, b_bottom=None) -> Polygon:
    """Flange b wide above, ``b_bottom`` below where it differs; root radius r."""
    low = b if b_bottom is None else b_bottom
    right = [
        (low / 2, -h / 2), (low / 2, -h / 2 + tf), (tw / 2, -h / 2 + tf, r), (tw / 2, h / 2 - tf, r),
        (b / 2, h / 2 - tf), (b / 2, h / 2),
    ]  # fmt: skip
    return rounded(right + [(-p[0], *p[1:]) for p in right[::-1]])


def tee(b: float, depth: float, tf: float, tw: float, r: float = 0.0) -> Polygon:
    """Flange above."""
    right = [(tw / 2, -depth), (tw / 2, -tf, r), (b / 2, -tf), (b / 2, 0.0)]
    return rounded(right + [(-p[0], *p[1:]) for p in right[::-1]])


def channel(h: float, b: float, tw: float, tf: float, r: float = 0.0) -> Polygon:
    """Parallel flanges; the back of the web at x = 0."""
    lower = [(0, -h / 2), (b, -h / 2), (b, -h / 2 + tf), (tw, -h / 2 + tf, r)]
    return rounded(lower + [(p[0], -p[1], *p[2:]) for p in lower[::-1]])


def tapered_channel(h: float, b: float, tw: float, tf: float, r1: float, r2: float, slope: float) -> Polygon:
    """Flanges tf thick half-way out, sloping on the inside, r1 at the root, r2 at the toe."""
    tip, root = tf - slope * b / 2.0, tf + slope * (b / 2.0 - tw)
    lower = [(0, -h / 2), (b, -h / 2), (b, -h / 2 + tip, r2), (tw, -h / 2 + root, r1)]
    return rounded(lower + [(p[0], -p[1], *p[2:]) for p in lower[::-1]])


def angle_section(b: float, h: float, t: float) -> Polygon:
    """Sharp corners; the outer corner at the origin, legs along +x and +y."""
    return Polygon([(0, 0), (b, 0), (b, t), (t, t), (t, h), (0, h)])


def cruciform(size: float, t: float) -> Polygon:
    a, c = size / 2.0, t / 2.0
    arm = np.array([(a, -c), (a, c), (c, c)])
    quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
    return Polygon(np.vstack([arm @ np.linalg.matrix_power(quarter, k).T for k in range(4)]))


def box(outer: float, thickness: float) -> Polygon:
    """Square tube with sharp corners."""
    t, o = thickness, outer - thickness
    return Polygon(rectangle(outer, outer).exterior, [[(t, t), (o, t), (o, o), (t, o)]])
