"""A small typeface of the signs that grow with what they hold: brackets, braces, bars, roots, sums, integrals.

A browser stretches such signs only by a typeface with a MATH table. Where a reader has none, a root covers the
numerator of the fraction under it and a brace stands one line high before three rows. So every page carries this
one, drawn here: each sign in several heights, thousandths of an em, the axis of formulas at 250. Letters are left
to the reader's own typefaces.
"""

from __future__ import annotations

import base64
import functools
import io
from collections.abc import Callable

import numpy as np
import shapely
from fontTools.fontBuilder import FontBuilder
from fontTools.otlLib.builder import buildMathTable
from fontTools.pens.ttGlyphPen import TTGlyphPen
from shapely.affinity import scale

FAMILY = "Section Study Signs"
EM, AXIS, RULE = 1000, 250, 50
HEIGHTS = (1000, 1300, 1650, 2050, 2500, 3050, 3700, 4500)
SIDE = 50
STAMP = 3_800_000_000  # seconds since 1904: one date, so that one font is one file
# Proportions of formulas, thousandths of an em, as text faces for mathematics have them: common practice, no source.
CONSTANTS = {
    "ScriptPercentScaleDown": 70, "ScriptScriptPercentScaleDown": 55, "DelimitedSubFormulaMinHeight": 1300,
    "DisplayOperatorMinHeight": 1300, "MathLeading": 150, "AxisHeight": AXIS, "AccentBaseHeight": 450,
    "FlattenedAccentBaseHeight": 660, "SubscriptShiftDown": 210, "SubscriptTopMax": 370,
    "SubscriptBaselineDropMin": 160, "SuperscriptShiftUp": 360, "SuperscriptShiftUpCramped": 250,
    "SuperscriptBottomMin": 120, "SuperscriptBaselineDropMax": 230, "SubSuperscriptGapMin": 150,
    "SuperscriptBottomMaxWithSubscript": 380, "SpaceAfterScript": 40, "UpperLimitGapMin": 130,
    "UpperLimitBaselineRiseMin": 300, "LowerLimitGapMin": 130, "LowerLimitBaselineDropMin": 650,
    "StackTopShiftUp": 470, "StackTopDisplayStyleShiftUp": 780, "StackBottomShiftDown": 390,
    "StackBottomDisplayStyleShiftDown": 690, "StackGapMin": 150, "StackDisplayStyleGapMin": 300,
    "FractionNumeratorShiftUp": 480, "FractionNumeratorDisplayStyleShiftUp": 640,
    "FractionDenominatorShiftDown": 480, "FractionDenominatorDisplayStyleShiftDown": 640,
    "FractionNumeratorGapMin": 50, "FractionNumDisplayStyleGapMin": 120, "FractionRuleThickness": RULE,
    "FractionDenominatorGapMin": 50, "FractionDenomDisplayStyleGapMin": 120, "OverbarVerticalGap": 150,
    "OverbarRuleThickness": RULE, "OverbarExtraAscender": RULE, "UnderbarVerticalGap": 150,
    "UnderbarRuleThickness": RULE, "UnderbarExtraDescender": RULE, "RadicalVerticalGap": 60,
    "RadicalDisplayStyleVerticalGap": 120, "RadicalRuleThickness": RULE, "RadicalExtraAscender": RULE,
    "RadicalKernBeforeDegree": 65, "RadicalKernAfterDegree": -335, "RadicalDegreeBottomRaisePercent": 55,
}  # fmt: skip


def _bezier(*points: tuple[float, float], steps: int = 14) -> np.ndarray:
    """Points along a cubic Bézier piece, (steps + 1, 2)."""
    t = np.linspace(0.0, 1.0, steps + 1)[:, None]
    a, b, c, d = (np.array(point, dtype=float) for point in points)
    return (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d


def _stroke(points, thickness: float) -> shapely.Polygon:
    return shapely.LineString(points).buffer(thickness / 2, cap_style="flat", join_style="mitre")


# Each sign stands on y = 0 and is as high as it is asked to be.
def _paren(height: float) -> shapely.Polygon:
    t = np.linspace(-1.0, 1.0, 25)
    bow = 0.65 * height**0.75
    left, y = bow * t**2, (1 + t) * height / 2
    right = left + 22 + 62 * (1 - t**2)
    return shapely.Polygon(np.vstack([np.c_[left, y], np.c_[right, y][::-1]]))


def _bracket(height: float) -> shapely.Polygon:
    return shapely.union_all(
        [
            shapely.box(0, 0, 60, height),
            shapely.box(0, 0, 220, 45),
            shapely.box(0, height - 45, 220, height),
        ]
    )


def _brace(height: float) -> shapely.Polygon:
    half, width = height / 2, 260 + 0.03 * height
    curl = min(0.24 * height, 380)
    upper = np.vstack(
        [
            _bezier((0, half), (0.42 * width, half), (width / 2, half + 0.3 * curl), (width / 2, half + curl)),
            _bezier((width / 2, height - curl), (width / 2, height - 0.3 * curl), (0.6 * width, height - 25),
                    (width, height - 25)),
        ]
    )  # fmt: skip
    lower = np.c_[upper[:, 0], height - upper[:, 1]][::-1]
    return shapely.LineString(np.vstack([lower, upper[1:]])).buffer(25, cap_style="flat")


def _bar(height: float) -> shapely.Polygon:
    return shapely.box(0, 0, 50, height)


def _root(height: float) -> shapely.Polygon:
    width, foot, knee = 760.0, 330.0, min(0.58 * height, 900.0)
    rise = _stroke([(0, knee - 70), (120, knee), (foot, 60)], 40)
    fall = _stroke([(125, knee + 5), (foot + 10, 10)], 85)
    stem = _stroke([(foot, 0), (width - 30, height - RULE / 2), (width, height - RULE / 2)], RULE)
    return shapely.union_all([rise, fall, stem]).intersection(shapely.box(-100, 0, width, height))


def _sum(height: float) -> shapely.Polygon:
    wide, thin, thick = 0.88 * height, 0.045 * height, 0.09 * height
    middle = (0.46 * wide, height / 2)
    arms = [shapely.box(0, 0, wide, thin), shapely.box(0, height - thin, wide, height)]
    ends = [shapely.box(wide - thin, y, wide, y + 0.17 * height) for y in (0, 0.83 * height)]
    fall = _stroke([(thick / 2, height), middle], thick)
    rise = _stroke([middle, (thin, 0)], thin)
    inside = shapely.box(0, 0, wide, height)
    return shapely.union_all([*arms, *ends, fall, rise]).intersection(inside)


def _integral(height: float) -> shapely.Polygon:
    width, curl = 0.36 * height + 120, 0.13 * height
    upper = np.vstack(
        [
            _bezier((width / 2, height / 2), (0.56 * width, 0.82 * height), (0.62 * width, height - 30),
                    (0.82 * width, height - 30)),
            _bezier((0.82 * width, height - 30), (0.92 * width, height - 30), (width, height - 0.5 * curl),
                    (0.97 * width, height - curl)),
        ]
    )  # fmt: skip
    lower = np.c_[width - upper[:, 0], height - upper[:, 1]][::-1]
    line = shapely.LineString(np.vstack([lower, upper[1:]])).buffer(30)
    return line.intersection(shapely.box(-100, 0, width + 100, height))


def _mirrored(sign: Callable[[float], shapely.Polygon]) -> Callable[[float], shapely.Polygon]:
    return lambda height: scale(sign(height), xfact=-1, yfact=1)


SIGNS: dict[str, tuple[str, Callable[[float], shapely.Polygon], tuple[int, ...]]] = {
    "parenleft": ("(", _paren, HEIGHTS),
    "parenright": (")", _mirrored(_paren), HEIGHTS),
    "bracketleft": ("[", _bracket, HEIGHTS),
    "bracketright": ("]", _mirrored(_bracket), HEIGHTS),
    "braceleft": ("{", _brace, HEIGHTS),
    "braceright": ("}", _mirrored(_brace), HEIGHTS),
    "bar": ("|", _bar, HEIGHTS),
    "radical": ("√", _root, HEIGHTS),
    "summation": ("∑", _sum, (1000, 1450)),
    "integral": ("∫", _integral, (1100, 1900)),
}
"""Name → its character, how it is drawn at a height, and the heights there are."""


def _glyph(shape: shapely.Polygon, height: float) -> tuple[object, int]:
    """A sign as a glyph centred on the axis, and its advance."""
    pen, (left, _, right, _) = TTGlyphPen(None), shape.bounds
    for part in getattr(shape, "geoms", [shape]):
        part = shapely.geometry.polygon.orient(part.simplify(1.5), -1)
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:-1] + [SIDE - left, AXIS - height / 2]
            corners = [tuple(map(int, np.rint(point))) for point in points]
            pen.moveTo(corners[0])
            for corner in corners[1:]:
                pen.lineTo(corner)
            pen.closePath()
    return pen.glyph(), round(right - left + 2 * SIDE)


@functools.cache
def font() -> bytes:
    """The typeface as WOFF2: the same bytes every time."""
    glyphs, metrics, variants = {".notdef": TTGlyphPen(None).glyph()}, {".notdef": (500, 0)}, {}
    glyphs["space"], metrics["space"] = TTGlyphPen(None).glyph(), (250, 0)
    for name, (_, draw, heights) in SIGNS.items():
        variants[name] = []
        for place, height in enumerate(heights):
            own = f"{name}.{place}" if place else name
            glyphs[own], advance = _glyph(draw(float(height)), height)
            metrics[own] = (advance, SIDE)
            variants[name].append((own, height))
    builder = FontBuilder(EM, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap({32: "space"} | {ord(letter): name for name, (letter, *_) in SIGNS.items()})
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(metrics)
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": FAMILY, "styleName": "Regular"})
    builder.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200)
    builder.setupPost(underlineThickness=RULE, underlinePosition=-100)
    builder.updateHead(created=STAMP, modified=STAMP)
    # Browsers drop a MATH table that says nothing of single glyphs: the lean of integrals is what there is to say.
    lean = {own: round(0.12 * height) for own, height in variants["integral"]}
    buildMathTable(
        builder.font, constants=CONSTANTS, italicsCorrections=lean, vertGlyphVariants=variants,
        minConnectorOverlap=20,
    )  # fmt: skip
    builder.font.recalcTimestamp = False
    builder.font.flavor = "woff2"
    stream = io.BytesIO()
    builder.font.save(stream)
    return stream.getvalue()


def rule() -> str:
    """The rule of a style sheet that carries the typeface."""
    coded = base64.b64encode(font()).decode("ascii")
    return f'@font-face{{font-family:"{FAMILY}";src:url(data:font/woff2;base64,{coded}) format("woff2")}}'
