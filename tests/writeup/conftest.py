"""The invented study, its executed notebook and its page, made once for all tests of the write-up."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from altair.utils import schemapi

from kit.writeup import page
from tests.writeup import notebook_of_tests


@pytest.fixture(autouse=True)
def charts_against_the_schema():
    """Every chart made in these tests is held against the Vega-Lite schema."""
    with schemapi.debug_mode(True):
        yield


@pytest.fixture(scope="session")
def executed(tmp_path_factory) -> Path:
    """The small notebook, run in this process."""
    path = tmp_path_factory.mktemp("writeup") / "report.ipynb"
    nbformat.write(notebook_of_tests.executed(), path)
    return path


@pytest.fixture(scope="session")
def built(executed) -> Path:
    """Its page."""
    return page.build(
        executed,
        executed.with_name("report.html"),
        **notebook_of_tests.SETTINGS,
        details={
            **notebook_of_tests.DETAILS,
            "figures": executed.with_name("figures"),
        },
    )


@pytest.fixture(scope="module")
def tab():
    """A tab of a headless browser without a network, for the tests of a module."""
    browser = pytest.importorskip("tests.writeup.browser")
    opened = browser.Browser()
    yield opened
    opened.close()
