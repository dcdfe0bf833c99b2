"""Still pictures of charts: for print, for readers without scripts, and as files."""

from __future__ import annotations

import copy
import re

import vl_convert

PAGE_WIDTH = 680
"""Width a still is laid out for [px]: the print area of an A4 page at 96 px an inch, slightly reduced."""


def fitted(spec: dict, layout: dict, room: int = PAGE_WIDTH) -> dict:
    """The chart laid out for a width: panels flow into as many columns as there is room for."""
    spec = copy.deepcopy(spec)
    margin = layout.get("margin", 60)
    if layout.get("width"):
        spec["width"] = max(150, min(layout["panel"], room) - layout.get("margin", 200))
    elif "concat" in spec:
        spec["columns"] = max(1, min(layout.get("most", 1), (room + 26) // (layout["panel"] + margin + 26)))
    return spec


def svg(spec: dict, layout: dict, prefix: str = "") -> str:
    """A still of a chart as SVG, coordinates to a tenth of a pixel.

    Parameters
    ----------
    prefix : str
        Put before every id, so that several stills can stand in one page.
    """
    return _lean(vl_convert.vegalite_to_svg(fitted(spec, layout)), prefix)


def png(spec: dict, layout: dict, scale: float = 2.0) -> bytes:
    """A still of a chart as PNG."""
    return vl_convert.vegalite_to_png(fitted(spec, layout), scale=scale)


def _lean(text: str, prefix: str) -> str:
    """Without digits nobody sees, and without the roles of single marks: a still is one picture."""
    text = re.sub(r' (?:d|transform)="[^"]*"', lambda m: re.sub(r"(\d+\.\d)\d+", r"\1", m.group(0)), text)
    text = re.sub(r' (?:aria-[a-z]+|role|class|pointer-events)="[^"]*"', "", text)
    text = text.replace(' stroke-miterlimit="10"', "")
    if not prefix:
        return text
    text = re.sub(r' id="([^"]+)"', rf' id="{prefix}-\1"', text)
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{prefix}-\1)", text)
