"""The drawing to cut: full size in mm, as cut, with holes, as SVG and DXF."""

from __future__ import annotations

import html
import io

import numpy as np
from shapely import Polygon

MARGIN_MM = 12.0
BAR_MM = 50.0


def outline_svg(polygon: Polygon, title: str, note: str = "") -> str:
    """The polygon at full size: one user unit is one millimetre, and the page says so in millimetres.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
        As cut (the cutter's radius is in it), turned as tested.
    title, note : str
        Written beside it, outside the contour to cut.
    """
    left, bottom, right, top = polygon.bounds
    wide, high = max(right - left, BAR_MM) + 2 * MARGIN_MM, top - bottom + 3 * MARGIN_MM
    x, y = MARGIN_MM - left, MARGIN_MM + top
    path = " ".join(_ring(ring, x, y) for ring in (polygon.exterior, *polygon.interiors))
    under = high - 1.4 * MARGIN_MM
    bar = f"M{MARGIN_MM:g} {under:.3f}h{BAR_MM:g}m0 -2v4M{MARGIN_MM:g} {under - 2:.3f}v4"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.3f}mm" height="{high:.3f}mm" '
        f'viewBox="0 0 {wide:.3f} {high:.3f}"><title>{html.escape(title)}</title>'
        f'<g id="cut"><path d="{path}" fill="#dfe5ea" fill-rule="evenodd"/></g>'
        f'<g id="notes" font-family="sans-serif" font-size="3" fill="#1c2430"><path d="{bar}" fill="none" '
        f'stroke="#1c2430" stroke-width="0.2"/><text x="{MARGIN_MM:g}" y="{under + 5:.3f}">50 mm: measure after '
        f'printing</text><text x="{MARGIN_MM:g}" y="{under + 10:.3f}">{html.escape(title)} {html.escape(note)}</text>'
        "</g></svg>\n"
    )


def _ring(ring, x: float, y: float) -> str:
    points = np.asarray(ring.coords)[:-1]
    return "M" + "L".join(f"{px + x:.4f} {y - py:.4f}" for px, py in points) + "Z"


def outline_dxf(polygon: Polygon, title: str) -> str:
    """The polygon at full size in mm: closed polylines on the layer ``cut``, the title on ``notes``.

    Parameters
    ----------
    polygon : shapely.Polygon, mm
    title : str
    """
    import ezdxf
    from ezdxf import units

    drawing = ezdxf.new("R2010")
    drawing.units = units.MM
    drawing.layers.add("cut", color=7)
    drawing.layers.add("notes", color=8)
    space = drawing.modelspace()
    for ring in (polygon.exterior, *polygon.interiors):
        space.add_lwpolyline(np.asarray(ring.coords)[:-1].tolist(), close=True, dxfattribs={"layer": "cut"})
    left, bottom, *_ = polygon.bounds
    text = space.add_text(
        title.encode("ascii", "replace").decode(), height=3.0, dxfattribs={"layer": "notes"}
    )
    text.set_placement((left, bottom - MARGIN_MM))
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue()
