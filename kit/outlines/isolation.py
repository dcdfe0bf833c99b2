"""Work on strangers' files in a process of its own: a crash or a hang costs one item.

Parsers can hang or recurse without end on hostile files, so the time limit comes from outside them.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from kit.isolation import Child, Ended, Silent
from kit.outlines.outline import LeftOut, Outline, clean

MOST_FAILURES = 3
MEMORY = 3 * 1024**3  # bytes of address space

Task = tuple[Path, object]
Item = Outline | LeftOut


def read_isolated(tasks: list[Task], seconds: float = 20.0, workers: int = 1) -> list[list[Item]]:
    """Items of every task, in order, whatever becomes of the parsers.

    Parameters
    ----------
    tasks : list of (path, specification)
    seconds : float
        Longest silence while one item is worked on.
    workers : int
        Processes at a time.

    Returns
    -------
    list of lists of Outline or LeftOut
        One list for each task; a crash or a hang becomes one LeftOut.
    """
    if not tasks:
        return []
    workers = max(1, min(workers, len(tasks)))
    shares = [list(range(i, len(tasks), workers)) for i in range(workers)]
    with ThreadPoolExecutor(workers) as pool:
        done = pool.map(lambda share: _work([tasks[i] for i in share], seconds), shares)
        found = {
            i: items
            for share, results in zip(shares, done, strict=True)
            for i, items in zip(share, results, strict=True)
        }
    return [found[i] for i in range(len(tasks))]


class _Ledger:
    """What has arrived for each task, and what was begun last."""

    def __init__(self, tasks: list[Task]):
        self.tasks = tasks
        self.items: list[list[Item]] = [[] for _ in tasks]
        self.begun = [0] * len(tasks)
        self.failures = [0] * len(tasks)
        self.current, self.doing, self.opening = 0, "", True

    def remaining(self) -> list[tuple]:
        return [(i, *self.tasks[i], self.begun[i]) for i in range(self.current, len(self.tasks))]

    def note(self, kind: str, task: int, content) -> None:
        self.current = task
        if kind == "item":
            self.items[task].append(content)
        elif kind == "done":
            if not self.items[task]:  # whatever the reader is, no file goes without a word
                reason = "nothing was found in it; look whether it is the file you mean"
                self.items[task].append(LeftOut(clean(self.tasks[task][0].name), "", reason))
            self.current, self.doing, self.opening = task + 1, "", True
        else:
            self.doing, self.opening = content, kind == "opened"
            self.begun[task] += kind == "started"

    def fail(self, why: str) -> None:
        """Lay a crash or a hang to what was begun last, and go on after it."""
        task, source = self.current, clean(self.tasks[self.current][0].name)
        self.failures[task] += 1
        outline = "" if self.opening else self.doing
        self.items[task].append(
            LeftOut(source, outline, f"{why}; the file is damaged or hostile: get it again")
        )
        if self.opening or self.failures[task] >= MOST_FAILURES:
            if not self.opening:
                reason = (
                    f"{MOST_FAILURES} of its outlines stopped the reader; the rest of the file was not tried"
                )
                self.items[task].append(LeftOut(source, "", reason))
            self.current += 1
        self.doing, self.opening = "", True


def _work(tasks: list[Task], seconds: float) -> list[list[Item]]:
    ledger = _Ledger(tasks)
    while ledger.current < len(tasks):
        child = Child("kit.outlines.worker", MEMORY)
        try:
            _listen(ledger, child, seconds)
        except Silent:
            ledger.fail(f"reading it took longer than {seconds:g} s")
        except Ended:
            ledger.fail("reading it crashed, or took more memory than allowed")
        finally:
            child.stop()
    return ledger.items


def _listen(ledger: _Ledger, child: Child, seconds: float) -> None:
    child.send(ledger.remaining())
    while ledger.current < len(ledger.tasks):
        ledger.note(*child.receive(seconds))
