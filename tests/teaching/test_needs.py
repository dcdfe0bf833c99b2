"""What a student's computer must have: each example and the bench in a JupyterLab of its own, memory and time."""

import sys

import pytest

from tests.teaching.benchmark_examples import NOTEBOOKS, needs
from tests.teaching.lab import share_MB

MOST_MB = 600


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="read from /proc")
def test_memory_that_a_process_takes_is_counted():
    before = share_MB(["self"])
    taken = bytearray(50_000_000)
    taken[::4096] = b"x" * len(taken[::4096])
    assert 45 < share_MB(["self"]) - before < 60


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="read from /proc")
def test_every_notebook_runs_in_a_kernel_within_the_memory_of_one_student(capsys):
    found = list(needs())
    with capsys.disabled():
        print("", *found, sep="\n")
    assert [one.name for one in found] == [path.stem for path in NOTEBOOKS]
    assert not any(one.failed for one in found)
    assert max(one.most_MB for one in found) <= MOST_MB
