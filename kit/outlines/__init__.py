"""Outlines: read them from fonts, drawings and standard shapes, and make them ready."""

from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared, prepare, turn
from kit.outlines.reading import excluded, read
from kit.outlines.sheet import repairs_svg, sheet_svg
from kit.outlines.sheet_page import sheet_html
from kit.outlines.specs import Choose, DxfFiles, FontFiles, PointFiles, Shape, SvgFiles

__all__ = [
    "Choose",
    "DxfFiles",
    "FontFiles",
    "LeftOut",
    "Making",
    "Outline",
    "PointFiles",
    "Prepared",
    "Shape",
    "SvgFiles",
    "excluded",
    "prepare",
    "read",
    "repairs_svg",
    "sheet_html",
    "sheet_svg",
    "turn",
]
