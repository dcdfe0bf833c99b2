"""Still pictures of charts: for print, for readers without scripts, and as files."""

from __future__ import annotations

import copy
import io
import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import vl_convert
from PIL import Image

PAGE_WIDTH = 720
"""Width a still is laid out for [px]; in print it is scaled to the page."""
GAP = 26
HEADING = 70
MOST_COLUMNS = 5
TALL = 1.3
COLOURS = 48
SCALE = 1.5


def fitted(spec: dict, layout: dict, room: int = PAGE_WIDTH) -> dict:
    """The chart laid out for a width: panels flow into as many columns as there is room for, and fill it.

    Parameters
    ----------
    spec : dict
        Vega-Lite; a concatenation of panels, or one view.
    layout : dict
        ``panel``: width of a panel [px]; ``margin``: of its axis; ``most``: columns; ``grow``: how many
        times its width a panel may take; ``width``: true for one view; ``shrink``: true where every view
        as wide as ``panel``, however deep, gives way on a narrow screen.
    room : int
        Width there is [px].
    """
    spec = copy.deepcopy(spec)
    if layout.get("width"):
        spec["width"] = max(150, min(layout["panel"], room) - layout.get("margin", 200))
    elif layout.get("shrink"):
        _shrink(spec, layout["panel"], max(200, room - layout.get("margin", 60)))
    elif "concat" in spec and "panel" in layout:
        taken = layout["panel"] + layout.get("margin", 60) + GAP
        columns = max(1, min(layout.get("most", 1), len(spec["concat"]), int((room + GAP) // taken)))
        spec["columns"] = columns
        there = (room - GAP * (columns - 1)) / columns - layout.get("margin", 60)
        width = min(layout["panel"] * layout.get("grow", 1), there)
        if width < layout["panel"] or "grow" in layout:
            for panel in spec["concat"]:
                panel["width"] = max(140, int(width))
    return spec


def _shrink(node: dict, panel: int, width: int) -> None:
    """Give every view as wide as ``panel`` this width, if it is less."""
    if node.get("width") == panel:
        node["width"] = min(panel, width)
    for way in ("vconcat", "hconcat"):
        for part in node.get(way, ()):
            _shrink(part, panel, width)


@dataclass(frozen=True)
class Still:
    """A chart as a picture.

    Attributes
    ----------
    svg : str
        Coordinates to a tenth of a pixel; every id begins with the chart's key, so that several stills can
        stand in one page.
    png : bytes
        The same, on white.
    """

    svg: str
    png: bytes


def still(chart: Mapping) -> Still:
    """Draw a chart.

    Parameters
    ----------
    chart : mapping
        ``key``, ``spec`` (Vega-Lite) and ``layout``, see :func:`fitted`.
    """
    drawn = vl_convert.vegalite_to_svg(for_paper(chart["spec"], chart["layout"]))
    return Still(_lean(drawn, chart["key"]), _raster(drawn))


def _raster(drawn: str, scale: float = SCALE) -> bytes:
    """SVG as PNG; the few colours of a chart fit a palette, a tenth of the bytes."""
    image = Image.open(io.BytesIO(vl_convert.svg_to_png(drawn, scale=scale)))
    small = io.BytesIO()
    white = Image.new("RGB", image.size, "white")
    white.paste(image, mask=image.getchannel("A") if "A" in image.getbands() else None)
    octree = white.quantize(COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    # The palette's lightest colour is the paper, which a few darker neighbours must not tint.
    octree.putpalette([255 if min(colour) > 246 else c for colour in _colours(octree) for c in colour])
    octree.save(small, "PNG", optimize=True)
    return small.getvalue()


def _colours(image: Image.Image) -> list[tuple[int, ...]]:
    values = image.getpalette()
    return [tuple(values[i : i + 3]) for i in range(0, len(values), 3)]


def for_paper(spec: dict, layout: dict) -> dict:
    """The chart laid out for one printed page: so many columns that it is not much taller than wide."""
    panels = spec.get("concat", ())
    if "panel" not in layout or len(panels) < 2:
        return fitted(spec, layout)
    taken = layout["panel"] + layout.get("margin", 60) + GAP
    height = max(_height(panel) for panel in panels) + HEADING
    for columns in range(1, MOST_COLUMNS + 1):
        width = max(PAGE_WIDTH, columns * taken)
        if math.ceil(len(panels) / columns) * height <= TALL * width:
            break
    return fitted(spec, layout | {"most": columns}, width)


def _height(panel: dict) -> float:
    """Height of a panel [px]; one that grows with its rows is taken at thirty of them."""
    height = panel.get("height", 200)
    return 30 * height.get("step", 16) if isinstance(height, dict) else height


def _lean(text: str, prefix: str) -> str:
    """Without digits nobody sees, and without the roles of single marks: a still is one picture."""
    text = re.sub(r' (?:d|transform)="[^"]*"', lambda m: re.sub(r"(\d+\.\d)\d+", r"\1", m.group(0)), text)
    text = re.sub(r' (?:aria-[a-z]+|role|class|pointer-events)="[^"]*"', "", text)
    for said_anyway in (' stroke-miterlimit="10"', ' opacity="1"', '<path d="" display="none"/>'):
        text = text.replace(said_anyway, "")
    return _renamed(_font_once(text), prefix)


def _font_once(text: str) -> str:
    """With the commonest typeface named once, for the whole picture, and not at every word."""
    named = Counter(re.findall(r' font-family="[^"]*"', text)).most_common(1)
    if not named:
        return text
    return text.replace(named[0][0], "").replace("<svg", f"<svg{named[0][0]}", 1)


def _renamed(text: str, prefix: str) -> str:
    """With ids of our own: those of the drawing program count on from picture to picture."""
    names = dict.fromkeys(re.findall(r' id="([^"]+)"', text))
    fresh = {name: f"{prefix}-{number}" for number, name in enumerate(names, 1)}
    text = re.sub(r' id="([^"]+)"', lambda m: f' id="{fresh[m[1]]}"', text)
    return re.sub(r"url\(#([^)]+)\)", lambda m: f"url(#{fresh.get(m[1], m[1])})", text)
