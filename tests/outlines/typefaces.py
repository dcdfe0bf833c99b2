"""Small font files the tests draw themselves."""

from __future__ import annotations

from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib.tables._g_l_y_f import GlyphCoordinates
from fontTools.ttLib.tables.TupleVariation import TupleVariation
from fontTools.ttLib.ttCollection import TTCollection

CAP = 700


def box(pen, x, y, w, h, backwards=False):
    """A rectangle; TrueType draws clockwise, and either way must do."""
    corners = [(x, y), (x, y + h), (x + w, y + h), (x + w, y)]
    if backwards:
        corners.reverse()
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()


def drawn(pen, *boxes):
    """Boxes into a pen."""
    for one in boxes:
        box(pen, *one)
    return pen


# H of three overlapping bars, O with a counter drawn the other way, I of one bar, i in two parts.
GLYPHS = {
    "H": [(0, 0, 100, CAP), (400, 0, 100, CAP), (50, 300, 400, 100)],
    "O": [(0, 0, 500, CAP), (100, 100, 300, 500, True)],
    "I": [(0, 0, 100, CAP)],
    "i": [(0, 0, 100, 400), (0, 500, 100, 100)],
}
AREA = {"H": 2 * 100 * 700 + 300 * 100, "O": 500 * 700 - 300 * 500, "I": 70_000, "i": 50_000}


def font(path: Path, *, names=None, cff=False, fs_type=0, cap_height=CAP, extra=None, axes=False) -> Path:
    """A font of a few box letters, saved."""
    order = [".notdef", "space", *GLYPHS, "Hstroke", *(extra or {})]
    builder = FontBuilder(1000, isTTF=not cff)
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap({32: "space", 0x126: "Hstroke"} | {ord(c): c for c in GLYPHS})
    if cff:
        _cff(builder, order)
    else:
        _glyf(builder, extra or {})
    builder.setupHorizontalMetrics(dict.fromkeys(order, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Made Here", "styleName": "Regular"} | (names or {}))
    builder.setupOS2(sTypoAscender=800, fsType=fs_type, sCapHeight=cap_height, version=4)
    if axes:
        _variations(builder)
    builder.setupPost()
    builder.save(path)
    return path


def _cff(builder, order):
    charstrings = {}
    for name in order:
        pen = T2CharStringPen(600, None)
        charstrings[name] = drawn(pen, *GLYPHS.get(name, ())).getCharString()
    builder.setupCFF("Made-Regular", {}, charstrings, {})


def cff2_font(path: Path) -> Path:
    """A variable font with CFF2 outlines, whose I is 100 units wider at the end of its weight axis."""
    builder = FontBuilder(1000, isTTF=False)
    order = [".notdef", "I"]
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap({ord("I"): "I"})
    regions = [{"wght": (0.0, 1.0, 1.0)}]
    empty, bar = T2CharStringPen(None, None, CFF2=True), T2CharStringPen(None, None, CFF2=True)
    drawn(bar, *GLYPHS["I"])
    charstrings = {".notdef": empty.getCharString(), "I": bar.getCharString()}
    # x y rmoveto; up 700; right 100, by 100 more at the axis' end; down 700
    charstrings["I"].program = [
        0,
        0,
        "rmoveto",
        700,
        "vlineto",
        100,
        100,
        1,
        "blend",
        "hlineto",
        -700,
        "vlineto",
    ]
    builder.setupNameTable({"familyName": "Made Here", "styleName": "Regular"})
    builder.setupFvar([("wght", 400, 400, 900, "Weight")], [])
    builder.setupCFF2(charstrings, [{}], regions=regions)
    builder.setupHorizontalMetrics(dict.fromkeys(order, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupOS2(sCapHeight=CAP, version=4)
    builder.setupPost()
    builder.save(path)
    return path


def _glyf(builder, extra):
    glyphs = {name: drawn(TTGlyphPen(None), *boxes).glyph() for name, boxes in GLYPHS.items()}
    glyphs[".notdef"] = glyphs["space"] = TTGlyphPen(None).glyph()
    composite = TTGlyphPen(glyphs)
    composite.addComponent("H", (1, 0, 0, 1, 0, 0))
    composite.addComponent("I", (0, 1, -1, 0, 650, 550))  # turned by 90 degrees: a bar across the top
    glyphs["Hstroke"] = composite.glyph()
    builder.setupGlyf(glyphs | extra)


def _variations(builder):
    """A weight axis 400-900 at whose end the I is 100 units wider."""
    builder.setupFvar(
        [("wght", 400, 400, 900, "Weight")],
        [{"location": {"wght": 700}, "stylename": "Bold"}, {"location": {"wght": 900}, "stylename": "Black"}],
    )
    deltas = GlyphCoordinates([(0, 0), (0, 0), (100, 0), (100, 0), (0, 0), (0, 0), (0, 0), (0, 0)])
    builder.setupGvar({"I": [TupleVariation({"wght": (0, 1, 1)}, deltas)]})


def collection(path: Path, *members: Path) -> Path:
    """Several fonts in one file."""
    from fontTools.ttLib import TTFont

    made = TTCollection()
    made.fonts = [TTFont(member) for member in members]
    made.save(path)
    return path
