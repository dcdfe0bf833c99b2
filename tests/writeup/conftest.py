"""The invented study, its executed notebook and its page, made once for all tests of the write-up."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest

from kit.writeup import page
from tests.writeup import notebook_of_tests


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
