"""Outlines made ready in watched processes: one that hangs or crashes costs itself and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared, prepare
from kit.study import fanout
from kit.study.progress import Progress

ONE = "kit.study.readying:one"


def one(task: tuple[Outline, Making]) -> Prepared | str:
    """An outline made ready, or the reason why not; runs in a worker process.

    The outline itself stays with whoever asked: it does not travel back.
    """
    outline, making = task
    try:
        return replace(prepare(outline, making), outline=None)
    except Unusable as reason:
        return str(reason)


def ready(
    outlines: Sequence[Outline],
    making: Making,
    limits: fanout.Limits,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
) -> list[Prepared | LeftOut]:
    """What became of every outline, in order.

    Parameters
    ----------
    outlines : sequence of Outline
    making : Making
    limits : Limits
        Time (s) and memory (bytes) that one outline may take.
    workers : int, optional
        Processes at once; by default as many as there are processors.
    progress : Progress, optional
        Told what is done.
    """
    found: list[Prepared | LeftOut] = [None] * len(outlines)
    tasks = [(outline, making) for outline in outlines]
    for answer in fanout.each(ONE, tasks, workers=workers, limits=limits, batch=64):
        made = _became(outlines[answer.index], answer)
        found[answer.index] = made
        if progress:
            progress.advance(1, failed=int(isinstance(made, LeftOut)))
    return found


def _became(outline: Outline, answer: fanout.Answer) -> Prepared | LeftOut:
    if isinstance(answer.result, Prepared):
        return replace(answer.result, outline=outline)
    return LeftOut(outline.source, outline.name, answer.result or f"{answer.status}: {answer.reason}")
