"""A seeded sample of a study's sections computed again, by two other routes and from a finer outline."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from queue import SimpleQueue

import numpy as np
import pandas as pd

from kit.outlines.preparing import Prepared, prepare
from kit.sections import audit
from kit.sections.area import area_moments
from kit.sections.section import SectionProperties, properties
from kit.study import fanout, readying
from kit.study.progress import Progress
from kit.study.sectioning import SectionTask, section_id

LEAST, MOST = 1, 4
ONE_IN = 20  # sections; a large study stops at the most, a small one does not go below the least
THIRD_ROUTE = 1
SECONDS = 300.0
FINER = 10.0
# What flattening at the default tolerance may cost in area and second moments.
FLATTENING = 6e-4
RECOMPUTE = "kit.study.auditing:recompute"


@dataclass(frozen=True)
class AuditTask:
    """One section to compute again, and whether by the third route too."""

    task: SectionTask
    section_id: str
    third: bool


def sample(tasks: Sequence[SectionTask], seed: int, size: int | None = None) -> list[AuditTask]:
    """A seeded sample of outlines whose sections are computed again.

    Parameters
    ----------
    tasks : sequence of SectionTask
        The outlines of one preparation; an outline that cannot be made gives its place to the next.
    seed : int
        Same outlines and seed, same sample.
    size : int, optional
        How many; without it one in twenty, 1 to 4.
    """
    size = sample_size(len(tasks), size)
    usable: list[SectionTask] = []
    places = np.random.default_rng(seed).permutation(len(tasks))
    for start in range(0, len(places), size):
        if len(usable) < size:
            usable += can_be_made([tasks[place] for place in places[start : start + size]])
    usable = usable[:size]
    return [
        AuditTask(task, section_id(task.outline.name, 0.0, 0), rank < THIRD_ROUTE)
        for rank, task in enumerate(usable)
    ]


def sample_size(outlines: int, asked: int | None = None) -> int:
    """How many are computed again: as many as asked for, else one in twenty, 1 to 4."""
    return asked or min(MOST, max(LEAST, outlines // ONE_IN + 1))


def can_be_made(tasks: Sequence[SectionTask]) -> list[SectionTask]:
    """Those of one preparation whose outline can be prepared, found out in processes of their own."""
    outlines = [task.outline for task in tasks]
    made = readying.ready(outlines, tasks[0].making, fanout.Limits(SECONDS))
    return [task for task, one in zip(tasks, made, strict=True) if isinstance(one, Prepared)]


def recompute(item: AuditTask) -> list[dict]:
    """Rows of ``audit.csv`` for one section; runs in a worker process."""
    prepared = prepare(item.task.outline, item.task.making)
    ours = properties(
        prepared.polygon,
        bounds=item.task.bounds,
        internal_radius_mm=prepared.internal_radius_mm,
        most_elements=item.task.most_elements,
    )
    rows = audit.second_implementation(item.section_id, prepared.polygon, ours)
    if item.third:
        rows += audit.third_route(item.section_id, prepared.polygon, ours)
    return rows + finer_outline(item, prepared.flatten_mm, ours)


def finer_outline(item: AuditTask, flatten_mm: float, ours: SectionProperties) -> list[dict]:
    """Rows comparing area and second moments with the drawn curve flattened ten times more finely."""
    finer = prepare(item.task.outline, replace(item.task.making, flatten_mm=flatten_mm / FINER))
    moments = area_moments(finer.polygon)
    return [
        audit.compared(
            item.section_id, column, audit.FINER, value, getattr(ours, column), threshold=FLATTENING
        )
        for column, value in {
            "area_mm2": moments.area_mm2,
            "Ix_mm4": moments.Ix,
            "Iy_mm4": moments.Iy,
        }.items()
    ]


@dataclass(frozen=True)
class Audit:
    """A sample being computed again in processes of its own, while something else is done here."""

    items: tuple[AuditTask, ...]
    answers: SimpleQueue

    def table(self) -> pd.DataFrame:
        """Rows of ``audit.csv``, when all are there; one whose audit itself failed is a row that did not pass."""
        rows: dict[int, list[dict]] = {}
        with Progress("audit", total=len(self.items)) as progress:
            while len(rows) < len(self.items):
                answer = self.answers.get()
                if isinstance(answer, BaseException):
                    raise answer
                name = self.items[answer.index].section_id
                done = answer.status == "done"
                rows[answer.index] = answer.result if done else [_undone(name, answer.reason)]
                progress.advance(1, failed=int(not done))
        table = [row for place in sorted(rows) for row in rows[place]]
        return pd.DataFrame(table, columns=list(audit.COLUMNS))


def start(items: Sequence[AuditTask], workers: int | None = None) -> Audit:
    """Begin to compute a sample again; `Audit.table` waits for the answers."""
    begun = Audit(tuple(items), SimpleQueue())
    threading.Thread(target=_answer, args=(begun, workers), daemon=True).start()
    return begun


def _answer(begun: Audit, workers: int | None) -> None:
    limits = fanout.Limits(SECONDS)
    try:
        for answer in fanout.each(RECOMPUTE, begun.items, workers=workers, limits=limits, batch=1):
            begun.answers.put(answer)
    except BaseException as error:  # whoever waits must hear of it
        begun.answers.put(error)


def _undone(name: str, reason: str) -> dict:
    empty = dict.fromkeys(audit.COLUMNS, np.nan)
    return empty | {"section_id": name, "quantity": "all", "route": f"not done: {reason}", "passed": False}
