"""Colours and opacities of an SVG drawing (CSS Color 4): what is painted, and what is too clear to be seen."""

from __future__ import annotations

import colorsys
import re
from typing import NamedTuple

from PIL.ImageColor import colormap

from kit.errors import Unusable
from kit.outlines.outline import clean
from kit.outlines.svgpath import NUMBER

SEEN = 1.0 / 510.0  # less than half a step of the 255 of a screen shows nothing
PART = rf"({NUMBER}%?)"
ANGLE = rf"({NUMBER}%?(?:deg)?)"
FUNCTIONS = [
    re.compile(rf"(rgb|hsl)a?\(\s*{ANGLE}{by}{PART}{by}{PART}\s*(?:{slash}\s*{PART}\s*)?\)")
    for by, slash in ((r"\s*,\s*", ","), (r"\s+", "/"))
]
SHARE = re.compile(rf"\s*({NUMBER})(%?)\s*")
SERVER = re.compile(r"url\(\s*([\"']?)\s*#([^\"')]+?)\s*\1\s*\)(.*)", re.IGNORECASE | re.DOTALL)


class Paint(NamedTuple):
    """What a shape is painted with: ``#rrggbb`` or ``url(#name)``, and how opaque it is, 0 to 1."""

    colour: str
    opacity: float

    @property
    def shade(self) -> str:
        """The colour, with its opacity where that shows.

        >>> Paint("#000000", 1.0).shade, Paint("#000000", 0.3).shade
        ('#000000', '#000000 at 30%')
        """
        share = f"{self.opacity:.0%}"
        return self.colour if share == "100%" else f"{self.colour} at {share}"


def paint(style: dict[str, str], which: str, through: float = 1.0) -> Paint | None:
    """What the fill or the stroke is painted with; None where nothing is seen.

    Parameters
    ----------
    style : dict
        Computed properties.
    which : {"fill", "stroke"}
    through : float
        Opacity of all that holds it.

    Raises
    ------
    Unusable
        If the colour or its opacity cannot be read.
    """
    text = style.get(which, "none").strip()
    if text.lower() == "none":
        return None
    share = through * opacity(style.get(f"{which}-opacity", "1"), f"{which}-opacity")
    if share < SEEN:
        return None
    if text.lower().startswith("url("):
        return Paint(f"url(#{server(text)})", share)
    if text.lower() == "currentcolor":
        text = style.get("color", "black")
    colour, own = colour_of(text, which)
    return Paint(colour, own * share) if own * share >= SEEN else None


def server(text: str) -> str:
    """Name of the gradient or pattern that a ``url(#name)`` paints with."""
    found = SERVER.fullmatch(text.strip())
    if not found:
        raise Unusable(f"it is painted with {clean(text, 30)!r}, which is not in it; paint it plainly")
    return found[2]


def opacity(text: str, key: str) -> float:
    """An opacity, 0 to 1.

    >>> opacity("40%", "opacity"), opacity("-1", "opacity")
    (0.4, 0.0)
    """
    found = SHARE.fullmatch(text)
    if not found:
        raise Unusable(f"its {key} {clean(text, 20)!r} cannot be read; write a number from 0 to 1")
    return min(max(float(found[1]) / (100.0 if found[2] else 1.0), 0.0), 1.0)


def colour_of(text: str, key: str) -> tuple[str, float]:
    """A colour in one spelling, for drawing programs have several, and its opacity.

    >>> colour_of("#f00", "fill"), colour_of("rgb(100% 0% 0% / 0)", "fill"), colour_of("hsl(0,100%,50%)", "fill")
    (('#ff0000', 1.0), ('#ff0000', 0.0), ('#ff0000', 1.0))
    """
    low = text.strip().lower()
    if low == "transparent":
        return "#000000", 0.0
    if re.fullmatch("#(?:[0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})", low):
        digits = low[1:] if len(low) > 5 else "".join(2 * digit for digit in low[1:])
        return "#" + digits[:6], int(digits[6:] or "ff", 16) / 255.0
    if isinstance(colormap.get(low), str):
        return colormap[low], 1.0
    found = next(filter(None, (form.fullmatch(low) for form in FUNCTIONS)), None)
    if not found or (found[1] == "rgb" and "deg" in found[2]):
        raise Unusable(f"its {key} {clean(text, 30)!r} is no colour that can be read; write it as #rrggbb")
    parts = _rgb(found.group(2, 3, 4)) if found[1] == "rgb" else _hsl(found.group(2, 3, 4))
    shown = "".join(f"{round(255.0 * min(max(part, 0.0), 1.0)):02x}" for part in parts)
    return f"#{shown}", opacity(found[5] or "1", key)


def _rgb(parts: tuple[str, ...]) -> list[float]:
    return [float(p.rstrip("%")) / (100.0 if p.endswith("%") else 255.0) for p in parts]


def _hsl(parts: tuple[str, ...]) -> tuple[float, ...]:
    hue, saturation, light = (float(part.rstrip("deg%")) for part in parts)
    saturation, light = (min(max(part / 100.0, 0.0), 1.0) for part in (saturation, light))
    return colorsys.hls_to_rgb(hue / 360.0 % 1.0, light, saturation)
