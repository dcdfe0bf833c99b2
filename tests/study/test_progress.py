"""Progress: what a person can trust to read in a terminal, a log and a notebook."""

import io
import itertools
import json
import os
import subprocess
import sys

import pytest

from kit.study.progress import Progress, duration
from kit.study.relay import VARIABLE, shown_here


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self):
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def clock():
    return Clock()


def test_a_log_gets_a_plain_line_now_and_then(clock):
    log = io.StringIO()
    with Progress("sections", total=100, stream=log, clock=clock) as progress:
        for _ in range(100):
            clock.now += 0.5
            progress.advance()
    lines = log.getvalue().splitlines()
    assert lines[0] == "sections 0 of 100, 0 %"
    assert lines[-1] == "sections 100 of 100, 100 %, in 50 s"
    assert 4 <= len(lines) <= 8
    assert "\r" not in log.getvalue() and "\x1b" not in log.getvalue()


def test_done_total_rate_time_left_and_failures_are_shown(clock):
    progress = Progress("sections", total=400, stream=io.StringIO(), clock=clock)
    clock.now = 10.0
    progress.advance(100, failed=3)
    assert progress.line() == "sections 100 of 400, 25 %, 10 a second, 30 s left, 3 failed"


def test_a_slow_rate_is_said_as_time_for_each(clock):
    progress = Progress("notebooks", total=4, stream=io.StringIO(), clock=clock)
    clock.now = 15.0
    progress.advance()
    assert progress.line() == "notebooks 1 of 4, 25 %, 15 s each, 45 s left"


def test_what_was_kept_from_before_does_not_count_for_the_rate(clock):
    progress = Progress("sections", total=400, stream=io.StringIO(), clock=clock)
    progress.advance(300, kept=300)
    clock.now = 10.0
    progress.advance(50)
    assert progress.line() == "sections 350 of 400, 87 %, 5 a second, 10 s left, 300 kept from before"


def test_no_time_left_is_promised_before_anything_is_done(clock):
    progress = Progress("sections", total=400, stream=io.StringIO(), clock=clock)
    clock.now = 60.0
    assert progress.seconds_left() is None
    assert "left" not in progress.line()


def test_without_a_total_the_count_and_rate_remain(clock):
    progress = Progress("outlines", stream=io.StringIO(), clock=clock, failed_as="left out")
    clock.now = 2.0
    progress.advance(5, failed=1)
    assert progress.line() == "outlines 5, 2.5 a second, 1 left out"


def test_a_terminal_has_one_line_that_is_redrawn_without_remains(clock, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setenv("TERM", "xterm")
    terminal = Terminal()
    with Progress("sections", total=4, stream=terminal, clock=clock) as progress:
        for _ in range(4):
            clock.now += 1.0
            progress.advance()
    text = terminal.getvalue()
    assert text.count("\n") == 1 and text.endswith("\n")
    drawn = text.rstrip("\n").split("\r")[1:]
    assert all(len(new) >= len(old.rstrip()) for old, new in itertools.pairwise(drawn))
    assert drawn[1].startswith("[######..................] sections 1 of 4, 25 %")
    assert drawn[-1].rstrip() == "sections 4 of 4, 100 %, in 4.0 s"


def test_a_narrow_terminal_is_not_overrun(clock, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("TERM", "xterm")
    terminal = Terminal()
    with Progress("sections of a long name", total=1000, stream=terminal, clock=clock) as progress:
        clock.now = 5.0
        progress.advance(10, failed=2)
    assert max(len(part.strip("\n")) for part in terminal.getvalue().split("\r")) < 40 + len("sections")


def test_a_notebook_has_one_display_that_ends_without_times(clock):
    shown = []
    with Progress("sections", total=2, show=shown.append, clock=clock) as progress:
        clock.now += 1.0
        progress.advance()
        clock.now += 1.0
        progress.advance(failed=1)
    assert shown[1] == "sections 1 of 2, 50 %, 1 a second, 1.0 s left"
    assert shown[-1] == "sections 2 of 2, 1 failed"


def test_a_stage_that_breaks_off_says_so(clock):
    log = io.StringIO()
    with pytest.raises(KeyboardInterrupt), Progress("sections", total=9, stream=log, clock=clock) as progress:
        clock.now = 3.0
        progress.advance(2)
        raise KeyboardInterrupt
    assert log.getvalue().splitlines()[-1] == "sections 2 of 9, 22 %, stopped after 3.0 s"


def test_a_closed_pipe_does_not_stop_the_study(clock):
    stream = io.StringIO()
    with Progress("sections", total=2, stream=stream, clock=clock) as progress:
        stream.close()
        clock.now = 20.0
        progress.advance()
        clock.now = 40.0
        progress.advance()
    assert progress.done == 2


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0.0 s"),
        (9.94, "9.9 s"),
        (9.96, "10 s"),
        (59.2, "1 min 0 s"),
        (200, "3 min 20 s"),
        (7500, "2 h 5 min"),
    ],
)
def test_durations_are_written_in_the_units_that_matter(seconds, text):
    assert duration(seconds) == text


def test_what_another_process_counts_is_shown_here():
    log = io.StringIO()

    def progress(stage, **options):
        return Progress(stage, stream=log, **options)

    counting = """
from kit.study.progress import Progress
with Progress("sections", total=3, failed_as="left out") as progress:
    progress.advance(3, failed=1)
"""
    with shown_here(progress):
        subprocess.run([sys.executable, "-c", counting], check=True, stderr=subprocess.DEVNULL)
    assert VARIABLE not in os.environ
    lines = log.getvalue().splitlines()
    assert lines[0] == "sections 0 of 3, 0 %"
    assert lines[-1].startswith("sections 3 of 3, 100 %, in ")
    assert lines[-1].endswith("1 left out")


def test_damaged_lines_from_another_process_are_passed_over():
    log = io.StringIO()
    with shown_here(lambda stage, **options: Progress(stage, stream=log, **options)):
        file = os.environ[VARIABLE].split(":", 1)[1]
        good = {
            "stage": "a",
            "total": 1,
            "done": 1,
            "failed": 0,
            "kept": 0,
            "failed_as": "failed",
            "final": True,
        }
        with open(file, "a", encoding="utf-8") as opened:  # noqa: PTH123
            opened.write("{half\n[]\n{}\n" + json.dumps(good) + "\n{unfinished")
    assert [line.split(",")[0] for line in log.getvalue().splitlines()] == ["a 0 of 1", "a 1 of 1"]
