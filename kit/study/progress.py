"""Progress of one stage: done of total, rate, time left, failures.

In a terminal one line is redrawn; in a log a plain line comes now and then; in a notebook one display is
updated in place and ends without times, so that executed notebooks of equal studies are equal. What a stage
counts in another process, such as a notebook's kernel, reaches the terminal through `kit.study.relay`.
"""

import math
import os
import shutil
import sys
import time
from collections.abc import Callable
from typing import Any, TextIO

from kit.study import relay

REDRAW_SECONDS = 0.1
LOG_SECONDS = 10.0
BAR = 24


class Progress:
    """Counts what is done and shows it.

    Parameters
    ----------
    stage : str
        What is counted, such as ``sections``.
    total : int or None
        How many there are; None where that is not known.
    stream : text stream, optional
        Standard error without it.
    clock : callable, optional
        Seconds, rising.
    show : callable, optional
        Takes a line in place of the stream (a notebook's display); found out by itself without it.
    failed_as : str
        Word for what went wrong, such as ``left out``.

    Examples
    --------
    >>> with Progress("sections", total=3) as progress:  # doctest: +SKIP
    ...     progress.advance(2, failed=1)
    """

    drawn = 0  # width of the line in the terminal, which stages shown in turn share

    def __init__(
        self,
        stage: str,
        total: int | None = None,
        *,
        stream: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
        show: Callable[[str], Any] | None = None,
        failed_as: str = "failed",
    ):
        self.stage, self.total, self.clock, self.failed_as = stage, total, clock, failed_as
        self.stream = sys.stderr if stream is None else stream
        self.show = show or (_notebook_display() if stream is None else None)
        self.terminal = self.show is None and _is_terminal(self.stream)
        self.done = self.failed = self.kept = 0
        self.start = self.shown_at = clock()
        self.send = relay.sender() if stream is None else None

    def __enter__(self) -> "Progress":
        self._draw()
        return self

    def __exit__(self, kind, error, trace) -> None:
        self._draw(stopped=kind is not None, final=True)

    def advance(self, count: int = 1, *, failed: int = 0, kept: int = 0) -> None:
        """Count some more as done.

        Parameters
        ----------
        count : int
            All that were done, the failed and the kept ones among them.
        failed : int
            How many of them failed.
        kept : int
            How many were there already from an earlier run; they do not count for the rate.
        """
        self.set(self.done + count, failed=self.failed + failed, kept=self.kept + kept)

    def set(self, done: int, *, failed: int = 0, kept: int = 0) -> None:
        """Say how many are done in all; see `advance`."""
        self.done, self.failed, self.kept = done, failed, kept
        pause = LOG_SECONDS if not (self.terminal or self.show) else REDRAW_SECONDS
        finished = self.total is not None and done >= self.total  # the last line follows at once
        if not finished and self.clock() - self.shown_at >= pause:
            self._draw()

    def line(self, *, stopped: bool = False, final: bool = False) -> str:
        """The state in words, such as ``sections 12 of 48, 25 %, 3.1 a second, 12 s left, 1 failed``."""
        elapsed, fresh = self.clock() - self.start, self.done - self.kept
        parts = [self._count()]
        if self.total:
            parts.append(f"{100 * self.done // self.total} %")
        if final:
            parts.append(("stopped after " if stopped else "in ") + duration(elapsed))
        elif fresh and elapsed > 0:
            slow = elapsed / fresh > 2
            parts.append(f"{duration(elapsed / fresh)} each" if slow else f"{fresh / elapsed:.3g} a second")
            left = self.seconds_left()
            parts += [f"{duration(left)} left"] if left is not None else []
        parts += self._remarks()
        return ", ".join(parts)

    def _count(self) -> str:
        return f"{self.stage} {self.done}" + ("" if self.total is None else f" of {self.total}")

    def _remarks(self) -> list[str]:
        kept = [f"{self.kept} kept from before"] if self.kept else []
        return kept + ([f"{self.failed} {self.failed_as}"] if self.failed else [])

    def seconds_left(self) -> float | None:
        """Estimate from the mean rate so far; None before anything was done or without a total."""
        elapsed, fresh = self.clock() - self.start, self.done - self.kept
        if self.total is None or fresh <= 0 or elapsed <= 0:
            return None
        return max(0, self.total - self.done) * elapsed / fresh

    def _draw(self, *, stopped: bool = False, final: bool = False) -> None:
        self.shown_at = self.clock()
        if self.send:
            self.send(self.state(final))
        if self.show:
            self.show(self._lasting() if final else self.line())
        elif self.terminal:
            self._redraw(self.line(stopped=stopped, final=final), final)
        else:
            self._write(self.line(stopped=stopped, final=final) + "\n")

    def state(self, final: bool = False) -> dict[str, Any]:
        """The counts, for another process to show."""
        names = ("stage", "total", "done", "failed", "kept", "failed_as")
        return {name: getattr(self, name) for name in names} | {"final": final}

    def _lasting(self) -> str:
        """What stays in a notebook: no times, they differ from run to run."""
        return ", ".join([self._count(), *([f"{self.failed} {self.failed_as}"] if self.failed else [])])

    def _redraw(self, line: str, final: bool) -> None:
        bar = "" if final or not self.total else f"[{_bar(self.done / self.total)}] "
        text = (bar + line)[: max(20, shutil.get_terminal_size().columns - 1)]
        self._write("\r" + text.ljust(Progress.drawn) + ("\n" if final else ""))
        Progress.drawn = 0 if final else len(text)

    def _write(self, text: str) -> None:
        try:
            self.stream.write(text)
            self.stream.flush()
        except (OSError, ValueError):
            # A closed pipe must not stop the study; its results do not depend on who is watching.
            self.terminal, self.show = False, lambda line: None


def duration(seconds: float) -> str:
    """A duration in the two units that matter: ``4.2 s``, ``3 min 20 s``, ``2 h 5 min``."""
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    whole = math.ceil(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def _bar(share: float) -> str:
    filled = round(BAR * min(1.0, max(0.0, share)))
    return "#" * filled + "." * (BAR - filled)


def _is_terminal(stream: TextIO) -> bool:
    try:
        return stream.isatty() and os.environ.get("TERM") != "dumb"
    except (AttributeError, ValueError):
        return False


def _notebook_display() -> Callable[[str], Any] | None:
    """A display of a running notebook that can be updated in place; None outside notebooks."""
    ipython = sys.modules.get("IPython")
    shell = ipython.get_ipython() if ipython else None
    if shell is None or not hasattr(shell, "kernel"):
        return None
    from IPython.display import display

    handle = display(_Line(""), display_id=True)
    return lambda line: handle.update(_Line(line))


class _Line:
    """Text that a notebook shows without quotes."""

    def __init__(self, text: str):
        self.text = text

    def __repr__(self) -> str:
        return self.text
