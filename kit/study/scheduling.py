"""The notebooks of a study in the order their inputs allow, side by side where they can."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass

from kit.errors import InputError
from kit.places import PACKAGE
from kit.study import fanout
from kit.study.notebooks import NotebookTask
from kit.study.progress import Progress
from kit.study.results import Folder, file_hash
from kit.study.store import content_key, solver_version

LIMITS = fanout.Limits(seconds=6 * 3600.0)
EXECUTE = "kit.study.notebooks:execute"
READ = {".py", ".json", ".csv", ".j2", ".css", ".js"}


class NotebookFailed(Exception):
    """A study notebook stopped with an error that is not the input's."""


@dataclass(frozen=True)
class Stage:
    """One notebook of the study.

    Attributes
    ----------
    name : str
    task : NotebookTask
    after : tuple of str
        Stages whose files it reads; it starts when they are done.
    reads : tuple
        Everything else it reads, by content.
    files_read, files : tuple of str
        Files of the results folder that it reads, and that it leaves.
    may_fail : bool
        Whether the study goes on without it; the write-up then says that it is missing, and why.
    """

    name: str
    task: NotebookTask
    after: tuple[str, ...]
    reads: tuple[object, ...]
    files_read: tuple[str, ...]
    files: tuple[str, ...]
    may_fail: bool = False

    def fingerprint(self, folder: Folder) -> str:
        """The content of everything this stage reads, the kit itself included."""
        hashes = [file_hash(folder.path / name) for name in self.files_read if (folder.path / name).exists()]
        return content_key(self.name, self.reads, hashes, file_hash(self.task.source), kit_version())


def kit_version() -> str:
    """Fingerprint of the kit's code and data."""
    files = sorted(
        path for path in PACKAGE.rglob("*") if path.suffix in READ and "_checkout" not in path.parts
    )
    return content_key(solver_version(), *(file_hash(path) for path in files))


def run_stages(
    stages: Sequence[Stage],
    folder: Folder,
    *,
    workers: int | None = None,
    force: bool = False,
    begin: Callable[[Stage], None] = lambda stage: None,
    finish: Callable[[Stage], None] = lambda stage: None,
) -> list[str]:
    """Run every stage whose inputs have changed since it last ran.

    Parameters
    ----------
    stages : sequence of Stage
        Each after those it names in ``after``.
    folder : Folder
    workers : int, optional
        Notebooks at once; by default the processors this process may use.
    force : bool
        Run them all.
    begin, finish : callable
        Told of a stage that is about to run;
        told of one that has just run, before it counts as done.

    Returns
    -------
    list of str
        Names of the stages that ran.

    Raises
    ------
    InputError
        If a notebook stopped because the input needs mending.
    NotebookFailed
        If it stopped for any other reason.
    """
    waiting, done, ran = list(stages), set(), []
    processes = _Processes(min(workers or fanout.usable_processors(), len(waiting)))
    try:
        with Progress("notebooks", total=len(waiting)) as progress:
            while waiting or processes.under_way:
                for stage in [stage for stage in waiting if done.issuperset(stage.after)]:
                    if not force and folder.holds(stage.name, stage.fingerprint(folder)):
                        waiting.remove(stage)
                        done.add(stage.name)
                        progress.advance(1, kept=1)
                    elif processes.free:
                        waiting.remove(stage)
                        begin(stage)
                        processes.begin(stage)
                for stage, answer in processes.ended(more=bool(waiting)):
                    failed = _failed(stage, answer, folder)
                    if not failed:
                        finish(stage)
                        folder.note_done(stage.name, stage.fingerprint(folder), stage.files)
                    done.add(stage.name)
                    ran.append(stage.name)
                    progress.advance(1, failed=int(failed))
    finally:
        processes.stop()
    return ran


class _Processes:
    """The processes that notebooks run in; each is used again for the next, and ended when none is left for it."""

    def __init__(self, most: int):
        self.most = most
        self.pool = ThreadPoolExecutor(most)
        self.idle: list[fanout.Watched] = []
        self.under_way: dict[Future, tuple[Stage, fanout.Watched]] = {}

    @property
    def free(self) -> bool:
        return len(self.under_way) < self.most

    def begin(self, stage: Stage) -> None:
        worker = self.idle.pop() if self.idle else fanout.own_worker(EXECUTE, LIMITS)
        self.under_way[self.pool.submit(worker.call, 0, stage.task)] = stage, worker

    def ended(self, *, more: bool) -> list[tuple[Stage, fanout.Answer]]:
        """Wait for the next notebook to end; without more to come, nothing idle keeps its memory."""
        if not self.under_way:
            return []
        if not more:
            self._end_idle()
        ended = []
        for future in wait(self.under_way, return_when=FIRST_COMPLETED).done:
            stage, worker = self.under_way.pop(future)
            self.idle.append(worker)
            ended.append((stage, future.result()))
        if not more:
            self._end_idle()
        return ended

    def _end_idle(self) -> None:
        while self.idle:
            self.idle.pop().stop()

    def stop(self) -> None:
        self.pool.shutdown(wait=False, cancel_futures=True)
        fanout.stop_workers()


def failure(folder: Folder, stage: str) -> str:
    """Why a stage that may fail failed; empty where it did not."""
    return folder.notes(f"failed-{stage}").get("reason", "")


def _failed(stage: Stage, answer: fanout.Answer, folder: Folder) -> bool:
    """Whether a stage failed that may; its earlier files go, so that nothing old is taken for new."""
    result = answer.result or {}
    error = answer.reason or result["error"]
    if not error:
        if failure(folder, stage.name):
            folder.write_notes(f"failed-{stage.name}", {})
        return False
    if result.get("ename") == "InputError":
        raise InputError(error.removeprefix("InputError: "))
    partial = result.get("partial")
    where = f"\nIts cells up to there are in {partial}." if partial else ""
    if not stage.may_fail:
        raise NotebookFailed(f"the notebook {stage.task.source.name} stopped: {error}{where}")
    for name in stage.files:
        (folder.path / name).unlink(missing_ok=True)
    folder.write_notes(f"failed-{stage.name}", {"reason": error})
    return True
