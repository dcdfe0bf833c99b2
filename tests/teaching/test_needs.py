"""What a student's computer must have: each example and the bench in a JupyterLab of its own, memory and time."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.teaching.benchmark_examples import NOTEBOOKS, needs

MOST_MB = 600
TOP = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="read from /proc")
def test_memory_that_a_process_takes_is_counted():
    # In a process of its own: one that has run other tests fills holes in the memory it has already.
    taking = (
        "from tests.teaching.lab import share_MB\n"
        "before = share_MB(['self'])\n"
        "taken = bytearray(50_000_000)\n"
        "taken[::4096] = b'x' * len(taken[::4096])\n"
        "print(share_MB(['self']) - before)"
    )
    said = subprocess.run([sys.executable, "-c", taking], capture_output=True, text=True, check=True, cwd=TOP)
    assert 45 < float(said.stdout) < 60


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="read from /proc")
def test_every_notebook_runs_in_a_kernel_within_the_memory_of_one_student(capsys):
    found = list(needs())
    with capsys.disabled():
        print("", *found, sep="\n")
    assert [one.name for one in found] == [path.stem for path in NOTEBOOKS]
    assert not any(one.failed for one in found)
    assert max(one.most_MB for one in found) <= MOST_MB
