"""The demo's own page in a real browser, network off: drawn, silent, selectable, accessible, small, valid.

Runs the whole demo study, so it is marked slow.
"""

from __future__ import annotations

import html5lib
import pytest

from kit.places import carried
from kit.study.resolving import load_study
from kit.study.run import run_study

pytest.importorskip("websocket", reason="websocket-client (extra dev) drives the browser")

from tests.writeup import browser
from tests.writeup.test_browser import DRAWN, FAINT, MARKS, axe

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(browser.chromium() is None, reason="no Chromium is installed here"),
]
CLICK = "document.querySelector('#fig\\\\:load-against-mass .role-legend-entry .mark-symbol path')"
MOST_BYTES = 2_000_000


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    results = tmp_path_factory.mktemp("demo")
    run_study(load_study(carried("params") / "saltmere.yml"), results=results)
    return results / "saltmere" / "report.html"


@pytest.fixture
def page(tab, report):
    tab.size(1366)
    tab.ready = tab.open(report)
    return tab


def test_it_is_small_and_valid(report):
    text = report.read_text(encoding="utf-8")
    parser = html5lib.HTMLParser()
    parser.parse(text)
    assert parser.errors == []
    assert len(text.encode()) <= MOST_BYTES


def test_every_chart_is_drawn_without_complaint_or_request(page):
    drawn = dict(page.evaluate(DRAWN))
    assert len(drawn) >= 7 and min(drawn.values()) >= 20, drawn
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    assert page.complaints() == [] and page.requests() == []


def test_picking_a_limit_state_fades_the_others(page):
    assert page.evaluate(FAINT) == 0
    page.evaluate(f"{CLICK}.scrollIntoView({{block: 'center'}})")
    x, y = page.evaluate(
        f"(box => [box.x + box.width / 2, box.y + box.height / 2])({CLICK}.getBoundingClientRect())"
    )
    for kind in ("mousePressed", "mouseReleased"):
        page.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)
    page.evaluate("new Promise(done => setTimeout(done, 600))")
    assert page.evaluate(FAINT) > page.evaluate(f"{MARKS}.length") / 4


def test_it_fits_a_narrow_screen(tab, report):
    tab.size(390)
    tab.open(report)
    assert tab.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("width", [1366, 390])
def test_no_accessibility_violation(tab, report, width):
    script = axe()
    if script is None:
        pytest.skip("axe-core is not to be had here (extra dev brings it)")
    tab.size(width)
    tab.open(report)
    tab.call("Runtime.evaluate", expression=script)
    found = tab.evaluate(
        "axe.run().then(done => done.violations.map(v => `${v.impact} ${v.id}: ${v.nodes[0].html.slice(0, 300)}`))"
    )
    assert found == []
