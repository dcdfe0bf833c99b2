"""Work on strangers' files in a process of its own: a crash or a hang costs one item.

Parsers can hang or recurse without end on hostile files, so the time limit comes from outside them.
The process is a fresh interpreter on every system, so it behaves the same where processes are forked
and where they are not, and asks nothing of the script or notebook that calls it.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from kit.outlines.outline import LeftOut, Outline, clean

MOST_FAILURES = 3
PACKAGE_FOLDER = Path(__file__).resolve().parents[2]

Task = tuple[Path, object]
Item = Outline | LeftOut


class Stopped(Exception):
    """The process ended or said nothing for too long; the message says which."""


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
        try:
            _listen(ledger, seconds)
        except Stopped as stopped:
            ledger.fail(str(stopped))
    return ledger.items


def _listen(ledger: _Ledger, seconds: float) -> None:
    child = _start()
    try:
        messages = _messages(child)
        threading.Thread(target=_ask, args=(child, ledger.remaining()), daemon=True).start()
        while ledger.current < len(ledger.tasks):
            try:
                message = messages.get(timeout=seconds)
            except queue.Empty:
                raise Stopped(f"reading it took longer than {seconds:g} s") from None
            if message is None:
                raise Stopped("reading it crashed, or took more memory than allowed")
            ledger.note(*message)
    finally:
        child.kill()
        child.wait()
        for pipe in (child.stdin, child.stdout):
            with contextlib.suppress(OSError):
                pipe.close()


def _start() -> subprocess.Popen:
    paths = [str(PACKAGE_FOLDER), os.environ.get("PYTHONPATH", "")]
    settings = {
        "PYTHONPATH": os.pathsep.join(filter(None, paths)),
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    return subprocess.Popen(
        # -P: a module lying in the working folder, which may be a stranger's, is not imported.
        [sys.executable, "-P", "-m", "kit.outlines.worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **settings},
    )


def _ask(child: subprocess.Popen, tasks: list[tuple]) -> None:
    with contextlib.suppress(OSError, ValueError):  # it may have ended already
        child.stdin.write(pickle.dumps(tasks, protocol=5))
        child.stdin.close()


def _messages(child: subprocess.Popen) -> queue.Queue:
    """Messages of the process as they come; None after the last."""
    messages: queue.Queue = queue.Queue(maxsize=10_000)

    def listen() -> None:
        with contextlib.suppress(OSError, ValueError, EOFError, pickle.UnpicklingError):
            while head := child.stdout.read(8):
                messages.put(pickle.loads(child.stdout.read(int.from_bytes(head, "little"))))
        messages.put(None)

    threading.Thread(target=listen, daemon=True).start()
    return messages
