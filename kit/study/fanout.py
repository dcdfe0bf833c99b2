"""Many tasks on many processes: a crash or a hang costs one task, never the batch, never the study.

Every route goes through one ``concurrent.futures`` executor that is given batches. A batch runs in a thread
(here) or on a cluster's worker (there); either way each task is answered by a watched process of its own
(``kit.study.worker``) that is killed and replaced when it crashes or overruns its time.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace

from kit.isolation import Child, Ended, Silent

FEW = 12  # tasks that one worker does before a second one pays


@dataclass(frozen=True)
class Limits:
    """What one task may cost: wall time (s) and address space (bytes; None: not limited)."""

    seconds: float = 20.0
    memory_bytes: int | None = None


@dataclass(frozen=True)
class Answer:
    """What became of one task.

    Attributes
    ----------
    index : int
        The task's place in the sequence given.
    status : str
        ``done``, ``failed`` (an exception, see ``reason``), ``crashed`` or ``timeout``.
    """

    index: int
    status: str
    result: object = None
    reason: str = ""


class Watched:
    """One worker process and the pipe to it; started again after every loss."""

    def __init__(self, function: str, limits: Limits):
        self.function, self.limits = function, limits
        self._child: Child | None = None
        self.closed = False

    def call(self, index: int, task: object) -> Answer:
        """Have one task answered within the limits.

        Raises
        ------
        InputError
            If the process cannot be started.
        """
        if self.closed:
            return Answer(index, "crashed", reason="the run was stopped")
        if self._child is None:
            self._child = Child("kit.study.worker", self.limits.memory_bytes, self.function)
        child = self._child  # `stop_workers` may take it away meanwhile
        try:
            child.send(task)
            status, result = child.receive(self.limits.seconds)
        except Silent:
            self.stop()
            return Answer(index, "timeout", reason=f"not done within {self.limits.seconds:g} s")
        except Ended as ended:
            self.stop()
            reason = f"the process that computed it ended (exit code {ended.code})"
            return Answer(index, "crashed", reason=reason)
        if status == "done":
            return Answer(index, status, result)
        return Answer(index, status, reason=str(result))

    def stop(self) -> None:
        """End the process, whatever it is doing."""
        child, self._child = self._child, None
        if child is not None:
            child.stop()


_here = threading.local()
_all: set[Watched] = set()


def own_worker(function: str, limits: Limits) -> Watched:
    """A worker for whoever keeps it; `stop_workers` ends it with the others."""
    worker = Watched(function, limits)
    _all.add(worker)
    return worker


def _watched(function: str, limits: Limits) -> Watched:
    """This thread's worker for the function; one worker a thread."""
    kept: Watched | None = getattr(_here, "worker", None)
    if (
        kept is None
        or kept.closed
        or (kept.function, kept.limits.memory_bytes) != (function, limits.memory_bytes)
    ):
        if kept is not None:
            kept.stop()
            _all.discard(kept)
        kept = _here.worker = own_worker(function, limits)
    kept.limits = limits
    return kept


def run_batch(function: str, tasks: list[tuple[int, object]], limits: Limits) -> list[Answer]:
    """Answer a batch one task after another on this thread's watched process."""
    worker = _watched(function, limits)
    return [worker.call(index, task) for index, task in tasks]


def stop_workers() -> None:
    """End all worker processes of this process; none of them starts again."""
    for worker in list(_all):
        worker.closed = True
        worker.stop()
        _all.discard(worker)


def usable_processors() -> int:
    """Processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def each(
    function: str,
    tasks: Sequence[object],
    *,
    workers: int | None = None,
    limits: Limits | None = None,
    batch: int = 8,
    executor: Executor | None = None,
) -> Iterator[Answer]:
    """Answer every task, in whatever order they finish.

    Parameters
    ----------
    function : str
        ``package.module:function``, called with one task; both it and the tasks can be pickled.
    tasks : sequence
        What to answer.
    workers : int, optional
        Processes at once; by default the processors this process may use.
    limits : Limits, optional
        What one task may cost. A task that ran out of time is tried once more at the end, alone.
    batch : int
        Tasks handed out at once.
    executor : concurrent.futures.Executor, optional
        Where batches run, such as a cluster's; by default threads here, each with its own process.

    Yields
    ------
    Answer
        One for each task, exactly once.
    """
    limits = limits or Limits()
    # A worker takes about a second to start: few tasks are done sooner by fewer.
    workers = min(workers or usable_processors(), max(1, len(tasks) // FEW))
    own = executor is None
    pool = ThreadPoolExecutor(workers) if own else executor
    late: list[Answer] = []
    try:
        for answer in _spread(pool, function, list(enumerate(tasks)), limits, (workers, batch)):
            if answer.status == "timeout":
                late.append(answer)
            else:
                yield answer
        for answer in sorted(late, key=lambda answer: answer.index):
            again = pool.submit(run_batch, function, [(answer.index, tasks[answer.index])], limits).result()[
                0
            ]
            yield replace(again, reason=again.reason and f"{again.reason}, tried twice")
    finally:
        if own:
            pool.shutdown(wait=False, cancel_futures=True)
            stop_workers()


def _spread(
    pool: Executor, function: str, tasks: list, limits: Limits, shape: tuple[int, int]
) -> Iterator[Answer]:
    """Keep a few batches under way for each worker; never queue everything at once."""
    workers, batch = shape
    size = max(1, min(batch, -(-len(tasks) // (4 * workers))))
    batches = (tasks[start : start + size] for start in range(0, len(tasks), size))
    under_way = set()
    while True:
        while len(under_way) < 2 * workers and (part := next(batches, None)) is not None:
            under_way.add(pool.submit(run_batch, function, part, limits))
        if not under_way:
            return
        finished, under_way = wait(under_way, return_when=FIRST_COMPLETED)
        for future in finished:
            yield from future.result()
