"""The sections stage: every outline of every preparation becomes a section, or a reason why not."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass

import pandas as pd
import shapely

from kit import sources
from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared, prepare, turn
from kit.sections.section import properties, turned
from kit.study import fanout
from kit.study.progress import Progress
from kit.study.store import Store, content_key, solver_version

ATONCE = 256  # records written to the store in one transaction


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
        )
        return content_key(self.outline.content, self.outline.cap_height, self.making, *rest, solver)


def solve(task: SectionTask) -> dict:
    """One section in full, as a record that JSON can hold; runs in a worker process.

    Returns
    -------
    dict
        ``{"left_out": reason}``, or ``polygon`` (WKB, base64, at 0°), ``made`` (how it was prepared),
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
        "drawn": _packed(prepared.drawn),
        "made": {
            "internal_radius_mm": prepared.internal_radius_mm,
            "flatten_mm": prepared.flatten_mm,
            "flattening_area_share": prepared.flattening_area_share,
            "repaired_area_share": prepared.repaired_area_share,
            "cut_area_share": prepared.cut_area_share,
            "least_wall_found_mm": prepared.least_wall_found_mm,
            "made_flags": " ".join(prepared.flags),
        },
        "turned": [row.row() for row in rows],
        "used": sorted(used),
    }


def _packed(polygon: shapely.Polygon) -> str:
    return base64.b64encode(polygon.wkb).decode()


def _unpacked(text: str) -> shapely.Polygon:
    return shapely.from_wkb(base64.b64decode(text))


class Marks(Mapping):
    """The polygon of every section as it stands in its load cases, turned only when asked for."""

    def __init__(self, table: pd.DataFrame, polygons: Mapping[tuple[int, str], shapely.Polygon]):
        columns = zip(table["preparation"], table["outline"], table["orientation_deg"], strict=True)
        self._rows = dict(zip(table["section_id"], columns, strict=True))
        self._polygons = polygons

    def __getitem__(self, section_id: str) -> shapely.Polygon:
        number, outline, angle = self._rows[section_id]
        return turn(self._polygons[number, outline], angle)

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
        The polygon at 0° by (preparation number, outline), mm.
    left_out : DataFrame
        ``source``, ``outline``, ``reason``.
    used : frozenset of str
        Functions of mechanics that the sections rest on.
    computed, kept : int
        How many were computed now and how many were kept from before.
    provisional : bool
        Whether some outline ran out of time, so that another run may give more rows.
    prepared : tuple of Prepared
        The outlines of the first preparation as drawn and as cut, for the outline sheet.
    """

    table: pd.DataFrame
    polygons: dict[tuple[int, str], shapely.Polygon]
    left_out: pd.DataFrame
    used: frozenset[str]
    computed: int
    kept: int
    provisional: bool
    prepared: tuple[Prepared, ...] = ()

    def marks(self) -> Marks:
        """Polygon of every section by ``section_id``, mm, turned, centroid at the origin."""
        return Marks(self.table, self.polygons)


def compute(
    tasks: Sequence[SectionTask],
    store: Store,
    where: tuple[Executor | None, int | None] = (None, None),
    *,
    limits: fanout.Limits | None = None,
    progress: Progress | None = None,
) -> tuple[list[dict], int]:
    """The record of every task, in order: kept ones from the store, the others computed and kept.

    Parameters
    ----------
    where : (Executor, int)
        Where batches run and how many at once; by default processes here, as many as there are processors.
    limits : Limits, optional
        What one section may cost.
    progress : Progress, optional
        Told what is done.

    Returns
    -------
    list of dict, int
        Records as :func:`solve` gives them (``timeout`` marks those that ran out of time), and how many
        had to be computed.
    """
    solver = solver_version()
    keys = [task.key(solver) for task in tasks]
    records = store.read(dict.fromkeys(keys))
    known = sum(key in records for key in keys)
    if progress:
        lost = sum("left_out" in records.get(key, ()) for key in keys)
        progress.advance(known, failed=lost, kept=known)
    missing = {key: task for key, task in zip(keys, tasks, strict=True) if key not in records}
    fresh: dict[str, dict] = {}
    names = list(missing)
    answers = fanout.each(
        "kit.study.sectioning:solve",
        list(missing.values()),
        executor=where[0],
        workers=where[1],
        limits=limits,
    )
    try:
        for answer in answers:
            record, keep = _record(answer)
            records[names[answer.index]] = record
            if keep:
                fresh[names[answer.index]] = record
            if progress:
                progress.advance(1, failed=int("left_out" in record))
            if len(fresh) >= ATONCE:
                store.write(fresh)
                fresh = {}
    finally:
        if fresh:
            store.write(fresh)
    return [records[key] for key in keys], len(missing)


def _record(answer: fanout.Answer) -> tuple[dict, bool]:
    """The record of an answer, and whether it is worth keeping (a time-out may go better next time)."""
    if answer.status == "done":
        return answer.result, True
    return {"left_out": f"{answer.status}: {answer.reason}", "timeout": answer.status == "timeout"}, False


def section_id(outline: str, orientation_deg: float, preparation: int) -> str:
    """A readable name for a section: outline, orientation and, from the second on, its preparation."""
    return f"{outline} @{orientation_deg:g}" + (f" #{preparation + 1}" if preparation else "")


def gather(
    preparations: Sequence[Sequence[SectionTask]],
    records: Iterable[dict],
    left_out: Sequence[LeftOut],
    computed: int,
) -> Sections:
    """Tables from records, in the order of the outlines as they were read."""
    rows, polygons, used, out, prepared = [], {}, set(), [asdict(one) for one in left_out], []
    timeouts = kept = 0
    pairs = ((number, task) for number, tasks in enumerate(preparations) for task in tasks)
    for (number, task), record in zip(pairs, records, strict=True):
        outline = task.outline
        kept += 1
        if "left_out" in record:
            timeouts += bool(record.get("timeout"))
            out.append({"source": outline.source, "outline": outline.name, "reason": record["left_out"]})
            continue
        polygons[number, outline.name] = _unpacked(record["polygon"])
        used.update(record["used"])
        if number == 0:
            prepared.append(_prepared(outline, record))
        for angle, properties_row in zip(task.orientations_deg, record["turned"], strict=True):
            rows.append(_row(outline, number, angle, record["made"], properties_row))
    return Sections(
        pd.DataFrame(rows),
        polygons,
        pd.DataFrame(out, columns=["source", "outline", "reason"]).drop_duplicates(ignore_index=True),
        frozenset(used),
        computed,
        kept - computed,
        timeouts > 0,
        tuple(prepared),
    )


def _prepared(outline: Outline, record: dict) -> Prepared:
    made = dict(record["made"])
    flags = tuple(made.pop("made_flags").split())
    return Prepared(outline, _unpacked(record["polygon"]), _unpacked(record["drawn"]), flags=flags, **made)


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
        "preparation": number,
        "orientation_deg": angle,
        **{key: value for key, value in made.items() if key != "made_flags"},
        **properties_row,
        "flags": flags,
    }
