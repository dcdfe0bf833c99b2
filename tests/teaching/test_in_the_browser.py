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

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(chromium() is None, reason="no Chromium is installed"),
]


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of a JupyterLab that serves copies of two notebooks to this machine alone."""
    names = ("02-second-moments.ipynb", "bench.ipynb")
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
    browser.evaluate("jupyterapp.commands.execute('notebook:run-all-cells'); 0")
    try:
        wait_for(lambda: browser.evaluate(done), 60, f"{name} did not run")
    except TimeoutError:
        browser.screenshot(Path(tempfile.gettempdir()) / f"{name}.png")
        raise


def keep(browser: Browser, name: str) -> None:
    """A screenshot where KEEP_SCREENSHOTS says."""
    folder = os.environ.get("KEEP_SCREENSHOTS")
    if folder:
        browser.screenshot(Path(folder) / name)


def test_an_example_runs_and_its_pictures_and_hand_checks_are_seen(lab, browser):
    seen = (
        "document.querySelectorAll('.jp-OutputArea-output svg, .jp-OutputArea-output img').length >= 1 "
        "&& document.body.innerText.includes('they differ by')"
    )
    run_all(browser, lab, "02-second-moments.ipynb", seen)
    keep(browser, "example.png")
    assert "Traceback" not in browser.evaluate("document.body.innerText")


def test_the_bench_responds_to_its_controls(lab, browser, capsys):
    picture = "(document.querySelector('.bench-picture svg') || {outerHTML: ''}).outerHTML"
    curve = "Boolean(document.querySelector('.bench-curve .fresh svg'))"
    run_all(browser, lab, "bench.ipynb", f"{picture} !== '' && {curve}")
    for width in (1280, 1500, 1900):
        browser.size(width, 1000)
        browser.evaluate("document.querySelector('.bench').scrollIntoView({block: 'start'}); 0")
        time.sleep(0.5)
        keep(browser, f"bench-{width}.png")
    browser.size(1500, 1000)
    took, curves, before = [], [], browser.evaluate(picture)
    names = ["heron", "crab", "S", "otter", "perch"]
    for name in names:
        change = (
            "(() => { const s = document.querySelector('.widget-dropdown select');"
            f"s.value = '{name}'; s.dispatchEvent(new Event('change', {{bubbles: true}})); return s.value; }})()"
        )
        began = time.perf_counter()
        assert browser.evaluate(change) == name
        wait_for(lambda old=before: browser.evaluate(picture) != old, 20, "the picture did not follow")
        took.append(1000 * (time.perf_counter() - began))
        wait_for(lambda: browser.evaluate(curve), 30, "the curve did not follow")
        curves.append(time.perf_counter() - began)
        before = browser.evaluate(picture)
    keep(browser, "bench-after.png")
    with capsys.disabled():
        print(
            f"\nbench: picture after {statistics.median(took):.0f} ms (median, greatest {max(took):.0f}), "
            f"curve after {statistics.median(curves):.2f} s (greatest {max(curves):.2f})"
        )
    assert "Traceback" not in browser.evaluate("document.body.innerText")
