"""The page in a real browser with the network off: it draws, stays silent, selects, prints, is accessible."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
from pathlib import Path

import pytest

pytest.importorskip("websocket", reason="websocket-client (extra dev) drives the browser")

from tests.writeup import browser

pytestmark = pytest.mark.skipif(browser.chromium() is None, reason="no Chromium is installed here")

DRAWN = """[...document.querySelectorAll('figure[data-chart]')].map(figure => [figure.dataset.chart,
    figure.querySelectorAll('.live .role-mark path, .live .role-mark rect').length])"""
MARKS = "[...document.querySelectorAll('#fig\\\\:load-against-mass .mark-symbol path')]"
FAINT = f"{MARKS}.filter(mark => Number(mark.getAttribute('opacity')) < 0.2).length"
SQUARE = f"""(mark => {{
    mark.scrollIntoView({{block: 'center'}});
    const box = mark.getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
}})({MARKS}.find(mark => (mark.getAttribute('aria-label') || '').startsWith('square')))"""
CHOOSE = """(select => {
    select.selectedIndex = 1;
    for (const kind of ['input', 'change']) select.dispatchEvent(new Event(kind, {bubbles: true}));
})(document.querySelector('.vega-bindings select'))"""
PAUSE = "new Promise(done => setTimeout(done, 300))"


@pytest.fixture
def page(tab, built):
    """The page, open on a wide screen and ready."""
    tab.size(1366)
    tab.ready = tab.open(built)
    return tab


def test_every_chart_draws_marks(page):
    drawn = dict(page.evaluate(DRAWN))
    assert len(drawn) == 6
    assert min(drawn.values()) >= 30, drawn


def test_no_complaint_and_no_request(page):
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    assert page.complaints() == []
    assert page.requests() == []


def test_it_says_when_it_is_ready(page, capsys):
    """How long that takes is printed, not judged: tests share their machine."""
    took = [page.ready, page.open_again(), page.open_again()]
    assert all(took)
    with capsys.disabled():
        print(f"\nwrite-up: ready after {min(took):.0f} ms (best of {len(took)})")


def test_outlines_are_the_marks(page):
    assert max(page.evaluate(f"{MARKS}.map(mark => mark.getAttribute('d').length)")) > 200


def test_screen_readers_hear_words_not_paths(page):
    labels = page.evaluate(f"{MARKS}.map(mark => mark.getAttribute('aria-label') || '')")
    spoken = [label for label in labels if "kg carries" in label]
    assert len(spoken) == 134
    assert not [label for label in labels if "M-" in label or "path" in label]


def test_picking_a_group_fades_the_others(page):
    assert page.evaluate(FAINT) == 0
    page.evaluate(CHOOSE)
    page.evaluate(PAUSE)
    assert page.evaluate(FAINT) > 60


def test_a_tooltip_shows_outline_and_units(page):
    x, y = page.evaluate(SQUARE)
    for shift in (1, 0):
        page.call("Input.dispatchMouseEvent", type="mouseMoved", x=x + shift, y=y)
        page.evaluate(PAUSE)
    display, words = page.evaluate("[getComputedStyle(tip).display, tip.innerText]")
    assert display == "flex"
    assert "square" in words and "mass [kg]" in words and "resistance [kN]" in words
    assert page.evaluate("tip.querySelectorAll('svg path').length") == 1


def test_narrow_screens_do_not_scroll_sideways(tab, built):
    tab.size(360, 760)
    tab.open(built)
    assert tab.evaluate("document.documentElement.scrollWidth") <= 360
    assert min(count for _, count in tab.evaluate(DRAWN)) >= 30


def test_without_scripts_the_stills_are_seen(tab, built):
    tab.size(1366)
    tab.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        tab.open(built, wait="true")
        stills = "[...document.querySelectorAll('.still svg, .still img')]"
        heights = tab.evaluate(f"{stills}.map(still => still.getBoundingClientRect().height)")
    finally:
        tab.call("Emulation.setScriptExecutionDisabled", value=False)
    assert len(heights) == 6 and min(heights) > 80


def test_it_prints_on_a_few_tagged_pages(page, tmp_path):
    printed = page.pdf(tmp_path / "page.pdf").read_bytes()
    assert printed.startswith(b"%PDF") and b"/StructTreeRoot" in printed
    assert (
        5
        <= printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") + printed.count(b"/Type/Page")
        <= 16
    )


def axe() -> str | None:
    """The script of axe-core, from a package that ships it or from npm; None where neither is to be had."""
    for package in ("axe_core_python", "axe_selenium_python", "axe_playwright_python"):
        found = importlib.util.find_spec(package)
        for folder in (found.submodule_search_locations or []) if found else []:
            for script in sorted(Path(folder).rglob("axe.min.js")):
                return script.read_text(encoding="utf-8")
    return None


def axe_from_npm(folder: Path) -> str | None:
    """The script of axe-core, fetched with npm into a folder."""
    if shutil.which("npm") is None:
        return None
    command = ["npm", "install", "--prefix", str(folder), "--no-save", "--silent", "axe-core@4"]
    done = subprocess.run(command, capture_output=True, timeout=90, check=False)
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    return script.read_text(encoding="utf-8") if done.returncode == 0 and script.exists() else None


@pytest.mark.parametrize("width", [1366, 390])
def test_no_accessibility_violation(tab, built, width, tmp_path_factory):
    script = axe() or axe_from_npm(tmp_path_factory.getbasetemp())
    if script is None:
        pytest.skip("axe-core is not to be had here (neither a package that ships it nor npm)")
    tab.size(width)
    tab.open(built)
    tab.call("Runtime.evaluate", expression=script)
    found = tab.evaluate(
        "axe.run().then(done => done.violations.map(v => `${v.impact} ${v.id}: ${v.nodes[0].html}`))"
    )
    assert found == []
    passed = tab.evaluate("axe.run().then(done => done.passes.map(v => v.id))")
    assert {"color-contrast", "html-has-lang", "document-title", "svg-img-alt"} <= set(passed)
