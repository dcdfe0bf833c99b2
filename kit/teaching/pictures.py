"""Pictures of worked examples: a section with axes and points, stress over it, the membrane, curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

import altair as alt
import numpy as np
import pandas as pd
from shapely import Polygon, box

from kit.sections.mesh import Mesh

SIZE = 320  # px, the longer side of a picture
HALO = 'stroke="#fff" stroke-width="3" paint-order="stroke"'  # words stay legible on lines and fills
INK, FILL = "#1f2933", "#c9d6df"
COLOURS = ("#b5402a", "#1f6f8b", "#3d7a35", "#7a4fa3", "#8a6d00")
SHADES = 32  # steps of colour between nothing and the greatest value
# The four quarters of a quadratic triangle: corners 0 1 2, middles of the sides 01, 12, 20.
QUARTERS = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
TENSION, COMPRESSION = np.array([181, 64, 42]), np.array([31, 111, 139])


@dataclass(frozen=True)
class Svg:
    """A picture as SVG text, with words for a reader who cannot see it."""

    text: str
    alternative: str

    def _repr_svg_(self) -> str:
        return self.text

    def __repr__(self) -> str:
        return self.alternative


@dataclass(frozen=True)
class Frame:
    """From millimetres to pixels: y turned downward, a margin for labels.

    Attributes
    ----------
    left_mm, top_mm : float
    scale : float
        px per mm.
    width, height : float
        px.
    """

    left_mm: float
    top_mm: float
    scale: float
    width: float
    height: float

    def at(self, points) -> np.ndarray:
        """Points (n, 2) in mm as px."""
        points = np.atleast_2d(np.asarray(points, float))
        return np.column_stack(
            [(points[:, 0] - self.left_mm) * self.scale, (self.top_mm - points[:, 1]) * self.scale]
        )


def frame_of(bounds: Sequence[float], size: int = SIZE, margin: float = 0.18) -> Frame:
    """The frame around a box (left, bottom, right, top; mm)."""
    left, bottom, right, top = bounds
    room = margin * max(right - left, top - bottom)
    wide, high = right - left + 2 * room, top - bottom + 2 * room
    scale = size / max(wide, high)
    return Frame(left - room, top + room, scale, wide * scale, high * scale)


def path_of(polygon: Polygon, frame: Frame) -> str:
    """SVG path of a polygon with its holes, px."""
    rings = (polygon.exterior, *polygon.interiors)
    parts = []
    for ring in rings:
        ends = " ".join(f"{x:.1f},{y:.1f}" for x, y in frame.at(np.asarray(ring.coords)[:-1]))
        parts.append(f"M{ends}Z")
    return "".join(parts)


def _measure(frame: Frame) -> str:
    """A bar of a round number of millimetres in the lower left corner, at most a third as long as the picture is wide."""
    third = frame.width / frame.scale / 3.0
    step = 10.0 ** np.floor(np.log10(third))
    length = max(digit * step for digit in (1, 2, 5) if digit * step <= third)
    left, low, long = 8.0, frame.height - 8.0, length * frame.scale
    return (
        f'<path class="measure" d="M{left},{low - 4:.1f}v4h{long:.2f}v-4" fill="none" stroke="{INK}"/>'
        f'<text x="{left + long + 5:.1f}" y="{low:.1f}" fill="{INK}">{length:g} mm</text>'
    )


def whole(frame: Frame, body: str, alternative: str) -> Svg:
    """The SVG text around the body of a picture, and how long a millimetre is in it."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{frame.width:.0f}" height="{frame.height:.0f}" '
        f'viewBox="0 0 {frame.width:.1f} {frame.height:.1f}" role="img" font-family="sans-serif" '
        f'font-size="12"><title>{escape(alternative)}</title>'
        f'<rect width="100%" height="100%" fill="#ffffff"/>'
    )
    return Svg(f"{head}{body}{_measure(frame)}</svg>", alternative)


def _line(frame: Frame, point, angle_deg: float, label: str, colour: str) -> str:
    """A line through a point right across the picture, its label at its right end."""
    reach = 0.46 * min(frame.width, frame.height)
    (x, y) = frame.at([point])[0]
    dx, dy = reach * np.cos(np.deg2rad(angle_deg)), -reach * np.sin(np.deg2rad(angle_deg))
    return (
        f'<line x1="{x - dx:.1f}" y1="{y - dy:.1f}" x2="{x + dx:.1f}" y2="{y + dy:.1f}" stroke="{colour}" '
        f'stroke-width="1.5" stroke-dasharray="6 3"/><text x="{min(x + dx, frame.width - 8):.1f}" '
        f'y="{y + dy - 5:.1f}" text-anchor="end" fill="{colour}" {HALO}>{escape(label)}</text>'
    )


def _point(frame: Frame, point, label: str, colour: str) -> str:
    (x, y) = frame.at([point])[0]
    to_left = x + 7 + 6.5 * len(label) > frame.width  # about as wide as the label is
    place = f'x="{x - 7:.1f}" text-anchor="end"' if to_left else f'x="{x + 7:.1f}"'
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}" stroke="#fff"/>'
        f'<text {place} y="{y - 6:.1f}" fill="{colour}" {HALO}>{escape(label)}</text>'
    )


def _with_points(bounds: Sequence[float], points) -> tuple[float, float, float, float]:
    """The box that also holds these points."""
    if not len(points):
        return tuple(bounds)
    xy = np.array(list(points), float)
    low, high = np.minimum(bounds[:2], xy.min(axis=0)), np.maximum(bounds[2:], xy.max(axis=0))
    return (*low, *high)


def section_picture(
    polygon: Polygon,
    *,
    axes: Mapping[str, tuple[tuple[float, float], float]] | None = None,
    points: Mapping[str, tuple[float, float]] | None = None,
    behind: Polygon | None = None,
    name: str = "section",
) -> Svg:
    """A section with axes and points on it.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    axes : mapping
        Label to (a point on the axis in mm, angle from x in degrees).
    points : mapping
        Label to a point, mm.
    behind : shapely.Polygon
        Another outline under it, such as the section as drawn.
    name : str
        What it shows, for a reader who cannot see it.
    """
    axes, points = axes or {}, points or {}
    bounds = polygon.bounds if behind is None else polygon.union(behind).bounds
    frame = frame_of(_with_points(bounds, points.values()))
    body = f'<path d="{path_of(polygon, frame)}" fill="{FILL}" stroke="{INK}" fill-rule="evenodd"/>'
    if behind is not None:
        body += f'<path d="{path_of(behind, frame)}" fill="none" stroke="{COLOURS[0]}" stroke-width="1"/>'
    for (label, (point, angle)), colour in zip(axes.items(), COLOURS * len(axes), strict=False):
        body += _line(frame, point, angle, label, colour)
    for (label, point), colour in zip(points.items(), COLOURS[::-1] * len(points), strict=False):
        body += _point(frame, point, label, colour)
    said = "; ".join([name, *axes, *points])
    return whole(frame, body, said)


def _colour(share: float) -> str:
    """White at 0, red towards +1 (tension), blue towards −1 (compression)."""
    end = TENSION if share > 0 else COMPRESSION
    mixed = 255 + (end - 255) * min(abs(share), 1.0)
    return "#" + "".join(f"{round(v):02x}" for v in mixed)


def field_picture(mesh: Mesh, nodal: np.ndarray, name: str) -> Svg:
    """A quantity over a section: red where positive, blue where negative.

    Parameters
    ----------
    mesh : Mesh
    nodal : (n,) array
        Values at the nodes of the mesh, any unit.
    name : str
    """
    frame = frame_of((*mesh.points.min(axis=0), *mesh.points.max(axis=0)))
    level = np.asarray(nodal) / max(np.abs(nodal).max(), 1e-300)
    quarters = mesh.triangles[:, QUARTERS].reshape(-1, 3)
    shades = np.rint(level[quarters].mean(axis=1) * SHADES).astype(int)
    xy = frame.at(mesh.points)
    parts = []
    for shade in np.unique(shades):
        ends = "".join(
            f"M{a:.1f},{b:.1f}L{c:.1f},{d:.1f}L{e:.1f},{f:.1f}Z"
            for (a, b), (c, d), (e, f) in xy[quarters[shades == shade]]
        )
        colour = _colour(shade / SHADES)
        parts.append(f'<path class="shade" d="{ends}" fill="{colour}" stroke="{colour}" stroke-width=".6"/>')
    edge = "".join(f"M{a:.1f},{b:.1f}L{c:.1f},{d:.1f}" for (a, b), (c, d) in xy[mesh.boundary[:, :2]])
    return whole(frame, "".join(parts) + f'<path class="edge" d="{edge}" stroke="{INK}"/>', name)


def bending_picture(
    polygon: Polygon, moment_Nmm: float, name: str = "bending stress", bands: int = 24
) -> Svg:
    """Bending stress of a sagging moment about x, the neutral axis held horizontal, in bands of even stress.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        Centroid at the origin.
    moment_Nmm : float
    """
    left, bottom, right, top = polygon.bounds
    frame, greatest = frame_of(polygon.bounds), max(-bottom, top)
    levels = np.linspace(bottom, top, bands + 1)
    body = ""
    for low, high in pairwise(levels):
        share = -np.sign(moment_Nmm) * 0.5 * (low + high) / greatest
        cut = polygon.intersection(box(left - 1, low, right + 1, high))
        for part in getattr(cut, "geoms", [cut]):
            if isinstance(part, Polygon):
                body += f'<path d="{path_of(part, frame)}" fill="{_colour(float(share))}"/>'
    body += f'<path d="{path_of(polygon, frame)}" fill="none" stroke="{INK}"/>'
    body += _line(frame, (0.0, 0.0), 0.0, "neutral axis", INK)
    return whole(frame, body, f"{name}: red tension, blue compression")


def curves(lines: Mapping[str, tuple], x: str, y: str, *, log: bool = False, marks: Mapping | None = None):
    """Curves in one chart.

    Parameters
    ----------
    lines : mapping
        Name to (x values, y values).
    x, y : str
        Titles of the axes, with units.
    log : bool
        Both axes logarithmic.
    marks : mapping
        Name to a point (x, y) shown as a dot.

    Returns
    -------
    altair.LayerChart
    """
    from kit.writeup.figures import enable

    enable()
    room = 14 if marks else 0  # px: the words above a dot need it
    logarithmic = alt.Scale(type="log", nice=False, padding=max(room, 8))
    scale = logarithmic if log else alt.Scale(zero=False, padding=room)
    axis = alt.Axis(labelSeparation=6)  # px: else the numbers of a logarithmic axis run into each other
    across, up = alt.X("x:Q", title=x, scale=scale, axis=axis), alt.Y("y:Q", title=y, scale=scale)
    layers = []
    if lines:
        parts = [pd.DataFrame({"x": a, "y": b, "curve": name}) for name, (a, b) in lines.items()]
        drawn = alt.Chart(pd.concat(parts)).mark_line(clip=True)
        layers.append(drawn.encode(across, up, alt.Color("curve:N", sort=list(lines), title=None)))
    if marks:
        dots = pd.DataFrame([{"x": a, "y": b, "point": name} for name, (a, b) in marks.items()])
        base = alt.Chart(dots).encode(across, up)
        layers += [base.mark_point(filled=True, size=60), base.mark_text(dy=-10).encode(text="point:N")]
    words = f"{y} against {x}: {', '.join([*lines, *(marks or {})])}"
    return alt.layer(*layers).properties(width=420, height=260, description=words)
