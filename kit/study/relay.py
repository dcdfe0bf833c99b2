"""Bring the progress that other processes count to the terminal of the one that started them.

The environment names a file to every process started from here; each appends a line of JSON now and then, and
a thread here reads them. Nothing depends on it: a line that is lost is a bar that stands still for a moment.
"""

import json
import os
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

VARIABLE = "SECTION_STUDY_PROGRESS"
POLL_SECONDS = 0.3

State = dict[str, Any]


def sender() -> Callable[[State], None] | None:
    """What sends states of progress to the process that shows them; None in that process or without one."""
    owner, _, file = os.environ.get(VARIABLE, "").partition(":")
    if not file or owner == str(os.getpid()):
        return None

    def send(state: State) -> None:
        with suppress(OSError), Path(file).open("a", encoding="utf-8") as opened:
            opened.write(json.dumps(state) + "\n")

    return send


@contextmanager
def shown_here(progress: Callable[..., Any] | None = None) -> Iterator[None]:
    """Show here what processes started inside this block count.

    Parameters
    ----------
    progress : callable, optional
        Makes what shows a stage; `kit.study.progress.Progress` without it.
    """
    if progress is None:
        from kit.study.progress import Progress as progress
    before = os.environ.get(VARIABLE)
    with tempfile.TemporaryDirectory(prefix="section-study-") as folder:
        file = Path(folder) / "progress"
        file.touch()
        os.environ[VARIABLE] = f"{os.getpid()}:{file}"
        end = threading.Event()
        thread = threading.Thread(target=_follow, args=(file, end, _Shown(progress)), daemon=True)
        thread.start()
        try:
            yield
        finally:
            end.set()
            thread.join(5)
            os.environ.pop(VARIABLE, None)
            if before is not None:
                os.environ[VARIABLE] = before


def _follow(file: Path, end: threading.Event, shown: "_Shown") -> None:
    """Read new lines until the end, and once more after it."""
    place = 0
    while True:
        last = end.wait(POLL_SECONDS)
        with suppress(OSError), file.open("rb") as opened:
            opened.seek(place)
            *lines, _ = opened.read().split(b"\n")  # what follows the last line end is not written whole yet
            place += sum(len(line) + 1 for line in lines)
            for line in lines:
                with suppress(ValueError, KeyError, TypeError):
                    shown.take(json.loads(line))
        if last:
            return


class _Shown:
    """One shown stage for each one counted elsewhere."""

    def __init__(self, progress: Callable[..., Any]):
        self.progress, self.stages = progress, {}

    def take(self, state: State) -> None:
        stage = state["stage"]
        if stage not in self.stages:
            made = self.progress(stage, total=state["total"], failed_as=state["failed_as"])
            self.stages[stage] = made.__enter__()
        self.stages[stage].set(state["done"], failed=state["failed"], kept=state["kept"])
        if state["final"]:
            self.stages.pop(stage).__exit__(None, None, None)
