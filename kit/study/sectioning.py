"""The sections stage: every outline of every preparation becomes a section, or a reason why not."""

from __future__ import annotations

import base64
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field

import pandas as pd
import shapely

from kit import sources
from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import prepare, turn
from kit.sections.section import properties, turned
from kit.study import fanout
from kit.study.packing import EXACT, PICTURE, pack, unpack
from kit.study.progress import Progress
from kit.study.store import Store, content_key, solver_version

ATONCE = 256  # records written to the store in one transaction
FORMAT = 2  # of a record; another number makes all of them anew


@dataclass(frozen=True)
class SectionTask:
    """All that the computation of one section reads."""

    outline: Outline
    making: Making
    orientations_deg: tuple[float, ...] = (0.0,)
    bounds: float = 0.005
    strength_ratios: tuple[float, ...] = ()
    most_points: int = 20_000
    most_elements: int = 60_000

    def key(self, solver: str) -> str:
        """The content this section is kept by."""
        rest = (
            self.orientations_deg,
            self.bounds,
            self.strength_ratios,
            self.most_points,
            self.most_elements,
            FORMAT,
        )
        return content_key(self.outline.content, self.outline.cap_height, self.making, *rest, solver)


def solve(task: SectionTask) -> dict:
    """One section in full, as a record that JSON can hold; runs in a worker process.

    Returns
    -------
    dict
        ``{"left_out": reason}``, or ``polygon`` (packed, base64, at 0°), ``made`` (how it was prepared),
        ``turned`` (one dict of properties for each orientation) and ``used`` (functions of mechanics).
    """
    with sources.recording() as used:
        try:
            prepared = prepare(task.outline, task.making)
            points = shapely.get_num_coordinates(prepared.polygon)
            if points > task.most_points:
                raise Unusable(f"{points} points after flattening; limits.points allows {task.most_points}")
            upright = properties(
                prepared.polygon,
                bounds=task.bounds,
                internal_radius_mm=prepared.internal_radius_mm,
                strength_ratios=task.strength_ratios,
                most_elements=task.most_elements,
            )
            rows = [turned(upright, prepared.polygon, angle) for angle in task.orientations_deg]
        except Unusable as reason:
            return {"left_out": str(reason)}
    return {
        "polygon": _packed(prepared.polygon),
        "drawn": _packed(prepared.drawn, PICTURE),
        "made": {
            "internal_radius_mm": prepared.internal_radius_mm,
            "flatten_mm": prepared.flatten_mm,
            "flattening_area_share": prepared.flattening_area_share,
            "flattening_moments_share": prepared.flattening_moments_share,
            "repaired_area_share": prepared.repaired_area_share,
            "cut_area_share": prepared.cut_area_share,
            "least_wall_found_mm": prepared.least_wall_found_mm,
            "stock_width_mm": prepared.stock_mm and prepared.stock_mm[0],
            "stock_depth_mm": prepared.stock_mm and prepared.stock_mm[1],
            "chips_area_mm2": prepared.chips_area_mm2,
            "made_flags": " ".join(prepared.flags),
        },
        "turned": [row.row() for row in rows],
        "used": sorted(used),
    }


def _packed(polygon: shapely.Polygon, bits: int = EXACT) -> str:
    return base64.b64encode(pack(polygon, bits)).decode()


class Marks(Mapping):
    """The polygon of every section as it stands in its load cases, made only when asked for."""

    def __init__(self, table: pd.DataFrame, polygons: Mapping[tuple[int, str], bytes]):
        columns = zip(table["preparation"], table["outline"], table["orientation_deg"], strict=True)
        self._rows = dict(zip(table["section_id"], columns, strict=True))
        self._polygons = polygons

    def __getitem__(self, section_id: str) -> shapely.Polygon:
        number, outline, angle = self._rows[section_id]
        return turn(unpack(self._polygons[number, outline]), angle)

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)


@dataclass(frozen=True)
class Sections:
    """What the stage leaves.

    Attributes
    ----------
    table : DataFrame
        A row per section (outline × preparation × orientation); columns as in the data dictionary.
    polygons : dict
        The polygon at 0° by (preparation number, outline), mm, packed.
    left_out : DataFrame
        ``source``, ``outline``, ``reason``.
    used : frozenset of str
        Functions of mechanics that the sections rest on.
    computed, kept : int
        How many were computed now and how many were kept from before.
    provisional : bool
        Whether some outline ran out of time, so that another run may give more rows.
    drawn : dict
        Of the first preparation, the polygon before cutting by outline, packed.
    """

    table: pd.DataFrame
    polygons: Mapping[tuple[int, str], bytes]
    left_out: pd.DataFrame
    used: frozenset[str]
    computed: int
    kept: int
    provisional: bool
    drawn: Mapping[str, bytes] = field(default_factory=dict)

    def marks(self) -> Marks:
        """Polygon of every section by ``section_id``, mm, turned, centroid at the origin."""
        return Marks(self.table, self.polygons)


@dataclass(frozen=True)
class Computed:
    """Where the records of a list of tasks are: in the store by key, or here if not worth keeping."""

    keys: tuple[str, ...]
    store: Store
    unkept: Mapping[str, dict]
    computed: int

    def records(self) -> Iterator[dict]:
        """The record of every task, in order, read from the store a few at a time."""
        for start in range(0, len(self.keys), ATONCE):
            part = self.keys[start : start + ATONCE]
            found = self.store.read(dict.fromkeys(part)) | {
                key: self.unkept[key] for key in part if key in self.unkept
            }
            yield from (found[key] for key in part)


def compute(
    tasks: Sequence[SectionTask],
    store: Store,
    where: tuple[Executor | None, int | None] = (None, None),
    *,
    limits: fanout.Limits | None = None,
    progress: Progress | None = None,
) -> Computed:
    """Have the record of every task in the store: computed now where it is not kept from before.

    Parameters
    ----------
    tasks : sequence of SectionTask
    store : Store
    where : (Executor, int)
        Where batches run and how many at once; by default processes here, as many as there are processors.
    limits : Limits, optional
        What one section may cost.
    progress : Progress, optional
        Told what is done.
    """
    solver = solver_version()
    keys = tuple(task.key(solver) for task in tasks)
    known = _known(keys, store, progress)
    missing = {key: task for key, task in zip(keys, tasks, strict=True) if key not in known}
    alike = Counter(key for key in keys if key in missing)
    names, unkept, fresh = list(missing), {}, {}
    function, todo = "kit.study.sectioning:solve", list(missing.values())
    try:
        for answer in fanout.each(function, todo, executor=where[0], workers=where[1], limits=limits):
            record, keep = _record(answer)
            (fresh if keep else unkept)[names[answer.index]] = record
            if progress:
                count = alike[names[answer.index]]  # identical outlines are computed once
                progress.advance(count, failed=count * int("left_out" in record))
            if len(fresh) >= ATONCE:
                store.write(fresh)
                fresh = {}
    finally:
        if fresh:
            store.write(fresh)
    return Computed(keys, store, unkept, len(missing))


def _known(keys: Sequence[str], store: Store, progress: Progress | None) -> set[str]:
    """Which keys the store holds soundly."""
    known: set[str] = set()
    for start in range(0, len(keys), ATONCE):
        part = keys[start : start + ATONCE]
        found = store.read(dict.fromkeys(part))
        known.update(found)
        if progress:
            there = [found[key] for key in part if key in found]
            progress.advance(len(there), failed=sum("left_out" in one for one in there), kept=len(there))
    return known


def _record(answer: fanout.Answer) -> tuple[dict, bool]:
    """The record of an answer, and whether it is worth keeping (a time-out may go better next time)."""
    if answer.status == "done":
        return answer.result, True
    return {"left_out": f"{answer.status}: {answer.reason}", "timeout": answer.status == "timeout"}, False


def section_id(outline: str, orientation_deg: float, preparation: int) -> str:
    """A readable name for a section: outline, orientation and, from the second on, its preparation."""
    return f"{outline} @{orientation_deg:g}" + (f" #{preparation + 1}" if preparation else "")


def gather(
    preparations: Sequence[Sequence[SectionTask]], computed: Computed, left_out: Sequence[LeftOut]
) -> Sections:
    """Tables from records, in the order of the outlines as they were read."""
    parts, rows, polygons, drawn, used = [], [], {}, {}, set()
    out = [asdict(one) for one in left_out]
    timeouts = 0
    pairs = [(number, task) for number, tasks in enumerate(preparations) for task in tasks]
    for (number, task), record in zip(pairs, computed.records(), strict=True):
        outline = task.outline
        if "left_out" in record:
            timeouts += bool(record.get("timeout"))
            out.append({"source": outline.source, "outline": outline.name, "reason": record["left_out"]})
            continue
        polygons[number, outline.name] = base64.b64decode(record["polygon"])
        if number == 0:
            drawn[outline.name] = base64.b64decode(record["drawn"])
        used.update(record["used"])
        for angle, properties_row in zip(task.orientations_deg, record["turned"], strict=True):
            rows.append(_row(outline, number, angle, record["made"], properties_row))
        if len(rows) >= ATONCE:  # a table of numbers takes a tenth of the room of a list of dictionaries
            parts.append(pd.DataFrame(rows))
            rows = []
    parts.append(pd.DataFrame(rows))
    return Sections(
        pd.concat(parts, ignore_index=True),
        polygons,
        pd.DataFrame(out, columns=["source", "outline", "reason"]).drop_duplicates(ignore_index=True),
        frozenset(used),
        computed.computed,
        len(pairs) - computed.computed,
        timeouts > 0,
        drawn,
    )


def _row(outline: Outline, number: int, angle: float, made: dict, properties_row: dict) -> dict:
    flags = " ".join(filter(None, (made["made_flags"], properties_row.get("flags", ""))))
    return {
        "section_id": section_id(outline.name, angle, number),
        "outline": outline.name,
        "source": outline.source,
        "font": outline.font,
        "family": outline.family,
        "style": outline.style,
        "character": outline.character,
        "content": outline.content[:16],
        "licence": outline.licence,
        "embedding": outline.embedding,
        "preparation": number,
        "orientation_deg": angle,
        **dict(outline.labels),
        **{key: value for key, value in made.items() if key != "made_flags"},
        **properties_row,
        "flags": flags,
    }
