"""JupyterLab in headless Chromium: an example and the bench run, pictures appear, controls respond."""

import os
import statistics
import tempfile
import time
from pathlib import Path

import pytest

from kit.places import carried
from tests.teaching.lab import serving, wait_for
from tests.writeup.browser import Browser, chromium

FOLDER = carried("notebooks/study").parent / "examples"
EXAMPLE = "04-bending.ipynb"  # it has pictures and charts

pytestmark = pytest.mark.skipif(chromium() is None, reason="no Chromium is installed")


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of a JupyterLab that serves copies of two notebooks to this machine alone."""
    names = (EXAMPLE, "bench.ipynb")
    with serving(tmp_path_factory.mktemp("lab"), [FOLDER / name for name in names]) as server:
        yield server.address


@pytest.fixture
def browser():
    one = Browser()
    one.call(
        "Network.emulateNetworkConditions",
        offline=False,
        latency=0,
        downloadThroughput=-1,
        uploadThroughput=-1,
    )
    one.size(1500, 1000)
    yield one
    one.close()


def run_all(browser: Browser, lab: str, name: str, done: str) -> None:
    """Open a notebook, run all its cells as the menu does, and wait until ``done`` is true in the page."""
    browser.call("Page.navigate", url=f"{lab}/lab/tree/{name}?reset")
    browser.call("Emulation.setFocusEmulationEnabled", enabled=True)
    book = "[...jupyterapp.shell.widgets('main')].find(w => w.sessionContext && w.content)"
    kernel = f"({book} || {{}}).sessionContext?.session?.kernel"
    ready = (
        f"Boolean(window.jupyterapp) && {kernel}?.connectionStatus === 'connected' "
        f"&& {kernel}?.status === 'idle'"
    )
    wait_for(lambda: browser.evaluate(ready), 60, f"{name} did not open")
    browser.evaluate(f"jupyterapp.shell.activateById({book}.id); 0")
    wait_for(
        lambda: browser.evaluate("Boolean(jupyterapp.shell.currentWidget)"), 20, f"{name} is not in front"
    )
    ask = "jupyterapp.commands.execute('notebook:run-all-cells'); 0"
    browser.evaluate(ask)
    try:
        wait_for(lambda: browser.evaluate(done), 45, f"{name} did not run")
    except TimeoutError:  # a kernel that was started again on the way has lost what it was asked
        browser.screenshot(Path(tempfile.gettempdir()) / f"{name}.png")
        browser.evaluate(ask)
        wait_for(lambda: browser.evaluate(done), 60, f"{name} did not run, asked twice")


def keep(browser: Browser, name: str) -> None:
    """A screenshot where KEEP_SCREENSHOTS says."""
    folder = os.environ.get("KEEP_SCREENSHOTS")
    if folder:
        browser.screenshot(Path(folder) / name)


def test_an_example_runs_and_its_pictures_charts_and_hand_checks_are_seen(lab, browser):
    browser.size(1500, 7000)  # JupyterLab draws only cells that are in the window
    asked = (FOLDER / EXAMPLE).read_text(encoding="utf-8").count("hand_check(")
    seen = (
        "document.querySelectorAll('.jp-OutputArea-output img[src*=svg], .jp-RenderedSVG').length >= 1 "
        "&& document.querySelectorAll('.vega-embed :is(canvas, svg)').length >= 1 "
        f"&& document.body.innerText.split('they differ by').length - 1 === {asked} "
        "&& document.body.innerText.split('No answer yet').length - 1 === 2"
    )
    run_all(browser, lab, EXAMPLE, seen)
    keep(browser, "example.png")
    assert "Traceback" not in browser.evaluate("document.body.innerText")


# Put a source into the cell that begins so, run it and give what it shows: somebody answers, or starts again.
RUN_CELL = """(async () => {
    const book = jupyterapp.shell.currentWidget.content;
    const at = book.widgets.findIndex(w => w.model.sharedModel.getSource().startsWith('BEGIN'));
    book.widgets[at].model.sharedModel.setSource(`SOURCE`);
    book.activeCellIndex = at;
    await jupyterapp.commands.execute('notebook:run-cell');
    return book.widgets[at].outputArea.node.innerText;
})()"""


def test_after_all_cells_have_run_an_answer_is_checked_and_one_may_start_again(lab, browser):
    browser.size(1500, 7000)
    run_all(browser, lab, EXAMPLE, "document.body.innerText.split('No answer yet').length - 1 === 2")

    def cell(begin: str, source: str) -> str:
        return browser.evaluate(RUN_CELL.replace("BEGIN", begin).replace("SOURCE", source))

    check = "first.check(answer_1)"
    assert "is no number" in cell("answer_1", f"answer_1 = '1,5'\n{check}")
    assert "Not yet" in cell("answer_1", f"answer_1 = 7\n{check}")
    cell("start_again", "start_again = True\nif start_again:\n    %reset -f")
    assert "NameError" in cell("answer_1", f"answer_1 = 7\n{check}")


# What a control must change at once.
VIEWS = (
    "['picture', 'numbers', 'members', 'position'].map(v => document.querySelector('.bench-' + v)?.innerHTML)"
)
CHOOSE = """(() => {
    const list = [...document.querySelectorAll('.bench .widget-dropdown select')];
    const one = list.find(s => [...s.options].some(o => o.value === 'NAME'));
    one.value = 'NAME'; one.dispatchEvent(new Event('change', {bubbles: true})); return one.value;
})()"""
# A step of a slider by its keys, as somebody does who has tabbed to it.
STEP = """(() => {
    const label = [...document.querySelectorAll('.bench .widget-label')].find(l => l.textContent.startsWith('NAME'));
    label.parentElement.querySelector('.noUi-handle').dispatchEvent(
        new KeyboardEvent('keydown', {key: 'ArrowRight', bubbles: true})); return 'NAME';
})()"""


def followed(browser: Browser, script: str, name: str, fewest: int) -> float:
    """Change a control and wait until so many views have followed; how long it took, ms."""
    before = browser.evaluate(VIEWS)
    began = time.perf_counter()
    assert browser.evaluate(script.replace("NAME", name)) == name

    def changed() -> bool:
        return sum(a != b for a, b in zip(before, browser.evaluate(VIEWS), strict=True)) >= fewest

    wait_for(changed, 20, f"the views did not follow {name}")
    return 1000 * (time.perf_counter() - began)


def test_the_bench_responds_to_its_controls(lab, browser, capsys):
    curve = "Boolean(document.querySelector('.bench-curve .fresh svg'))"
    run_all(browser, lab, "bench.ipynb", f"Boolean(document.querySelector('.bench-picture svg')) && {curve}")
    for width in (1280, 1500, 1900):
        browser.size(width, 1000)
        browser.evaluate("document.querySelector('.bench').scrollIntoView({block: 'start'}); 0")
        time.sleep(0.5)
        tops = browser.evaluate(
            "[...document.querySelectorAll('.bench > .widget-hbox > *')].map(c => c.getBoundingClientRect().top)"
        )
        assert len(tops) == 3 and max(tops) - min(tops) < 2, f"the columns wrap at {width} px"
        keep(browser, f"bench-{width}.png")
    browser.size(1500, 1000)
    took, curves = [], []
    chosen = ("heron", "crab", "S", "DejaVu Sans", "otter", "perch")
    asked = [*((CHOOSE, name, 4) for name in chosen), (STEP, "turn", 3), (STEP, "span", 2)]
    for script, name, fewest in asked:
        began = time.perf_counter()
        took.append(followed(browser, script, name, fewest))
        wait_for(lambda: browser.evaluate(curve), 30, "the curve did not follow")
        curves.append(time.perf_counter() - began)
    keep(browser, "bench-after.png")
    with capsys.disabled():
        print(
            f"\nbench: views after {statistics.median(took):.0f} ms (median, greatest {max(took):.0f}), "
            f"curve after {statistics.median(curves):.2f} s (greatest {max(curves):.2f})"
        )
    assert "Traceback" not in browser.evaluate("document.body.innerText")
