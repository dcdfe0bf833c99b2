"""Lengths of an SVG drawing, and the user space they are written in."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import clean
from kit.outlines.svgpath import NUMBER

MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "q": 0.25}
LENGTH = re.compile(rf"\s*({NUMBER})([A-Za-z]*|%)\s*")
ACROSS, DOWN = ("x", "cx", "x1", "x2", "rx", "width"), ("y", "cy", "y1", "y2", "ry", "height")


@dataclass(frozen=True)
class Space:
    """User space at some place of a drawing.

    Attributes
    ----------
    matrix : (3, 3) float array
        From it to page units, acting on columns; y down.
    size : (width, height), user units
        Of the page, nested drawing or symbol it belongs to: what percentages are of. NaN where nobody says.
    opacity : float
        Of all that holds it, together.
    """

    matrix: np.ndarray
    size: tuple[float, float]
    opacity: float = 1.0

    def moved(self, matrix: np.ndarray) -> Space:
        """The space inside an element that is transformed."""
        return replace(self, matrix=self.matrix @ matrix)

    def faded(self, opacity: float) -> Space:
        """The space inside an element that is not quite opaque."""
        return replace(self, opacity=self.opacity * opacity)


def number(element, key: str, space: Space, missing: str = "0") -> float:
    """A length attribute in user units."""
    return length(element.get(key, missing), key, space)


def length(text: str, key: str, space: Space) -> float:
    """A length in user units (px).

    Raises
    ------
    Unusable
        If it is none, is no finite number, or is a share of a size nobody states.
    """
    found = LENGTH.fullmatch(text)
    unit = found[2].lower() if found else ""
    if not found or (unit not in ("", "%") and unit not in MM):
        raise Unusable(f"{key} {clean(text, 20)!r} cannot be used here; write a plain number")
    value = float(found[1])
    if unit == "%":
        value *= _whole(key, space) / 100.0
    elif unit:
        value *= MM[unit] / MM["px"]
    if not math.isfinite(value):
        raise Unusable(
            f"{key} {clean(text, 20)!r} is no finite number, or a share of a page without size; write a number"
        )
    return value


def _whole(key: str, space: Space) -> float:
    width, height = space.size
    if key in ACROSS:
        return width
    return height if key in DOWN else math.hypot(width, height) / math.sqrt(2.0)


def moved(x: float, y: float) -> np.ndarray:
    """Matrix of a translation."""
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
