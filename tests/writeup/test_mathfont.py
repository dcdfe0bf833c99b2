"""The signs that grow: a typeface that reads, in heights that rise, and that a browser stretches by."""

import io
import shutil

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont

from kit.writeup import mathfont
from kit.writeup.equations import mathml


@pytest.fixture(scope="module")
def face():
    return TTFont(io.BytesIO(mathfont.font()))


def test_it_is_small_and_the_same_twice():
    first = mathfont.font()
    mathfont.font.cache_clear()
    assert mathfont.font() == first and len(first) < 10_000


def test_every_height_is_drawn_as_high_as_it_says_about_the_axis(face):
    variants = face["MATH"].table.MathVariants
    assert len(variants.VertGlyphConstruction) == len(mathfont.SIGNS)
    for construction in variants.VertGlyphConstruction:
        told = [(v.VariantGlyph, v.AdvanceMeasurement) for v in construction.MathGlyphVariantRecord]
        assert len(told) >= 2 and [h for _, h in told] == sorted({h for _, h in told})
        for name, height in told:
            pen = BoundsPen(face.getGlyphSet())
            face.getGlyphSet()[name].draw(pen)
            _, low, _, high = pen.bounds
            assert high - low == pytest.approx(height, abs=5), name
            assert (high + low) / 2 == pytest.approx(mathfont.AXIS, abs=5), name


def test_left_and_right_are_mirror_images(face):
    glyphs = face.getGlyphSet()
    for sign in ("paren", "bracket", "brace"):
        boxes = []
        for side in ("left", "right"):
            pen = BoundsPen(glyphs)
            glyphs[f"{sign}{side}.3"].draw(pen)
            boxes.append(pen.bounds)
        assert boxes[0] == pytest.approx(boxes[1], abs=2)
        assert face["hmtx"][f"{sign}left"] == face["hmtx"][f"{sign}right"]


HEIGHT = "(s => document.querySelector(s).getBoundingClientRect().height)"


@pytest.mark.skipif(
    not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))),
    reason="no Chromium is installed here",
)
def test_a_browser_stretches_brackets_braces_and_roots(tab, tmp_path):
    formulas = {
        "bracket": r"\left( \frac{a}{b} \right)",
        "brace": r"\begin{cases} a & b \\ c & d \\ e & f \end{cases}",
        "root": r"\sqrt{\frac{a}{b}}",
        "line": "(a)",
    }
    shown = "".join(f'<p id="{name}">{mathml(latex, display=True)}</p>' for name, latex in formulas.items())
    style = f'{mathfont.rule()}math{{font-family:"{mathfont.FAMILY}",serif;font-size:20px}}'
    page = tmp_path / "formulas.html"
    page.write_text(f"<!DOCTYPE html><meta charset=utf-8><style>{style}</style>{shown}", encoding="utf-8")
    tab.open(page, wait="document.fonts.status === 'loaded'")
    tab.evaluate("document.fonts.ready.then(() => true)")
    line, fraction = (tab.evaluate(f"{HEIGHT}('{s}')") for s in ("#line mo", "#bracket mfrac"))
    assert tab.evaluate(f"{HEIGHT}('#bracket mo')") > 0.8 * fraction > 1.2 * line
    assert tab.evaluate(f"{HEIGHT}('#brace mo')") > 0.8 * tab.evaluate(f"{HEIGHT}('#brace mtable')")
    assert tab.evaluate(f"{HEIGHT}('#root msqrt')") > tab.evaluate(f"{HEIGHT}('#root mfrac')")
