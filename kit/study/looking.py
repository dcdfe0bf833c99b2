"""Look at a study before it runs: outlines, what is left out, variants, how long it will take."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.errors import InputError
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.study import readying, sheets, stages
from kit.study.differences import earlier_tables
from kit.study.fanout import usable_processors
from kit.study.inputs import input_files, outlines_of
from kit.study.progress import Progress, duration
from kit.study.resolving import Study, check_reference
from kit.study.results import Folder, as_written

MOST_LISTED = 12
WIDTH = 160

# Processor time measured on a two-core machine that others used too; only for the estimate that is shown.
SECONDS_A_SECTION = 0.035
SECONDS_AN_AUDIT, MOST_AUDITED = 2.5, 4
SECONDS_A_VARIANT = 3.0
SECONDS_A_REPORT = 14.0


@dataclass(frozen=True)
class Look:
    """What a study holds.

    Attributes
    ----------
    study : Study
    outlines : tuple of Outline
        All that could be read.
    prepared : tuple of Prepared
        Made ready as the first variant asks.
    left_out : tuple of LeftOut
    sections : int
        Distinct outline × preparation.
    seconds : float
        Estimate for a first run on this machine's workers.
    sheet : Path
        The outline sheet.
    """

    study: Study
    outlines: tuple[Outline, ...]
    prepared: tuple[Prepared, ...]
    left_out: tuple[LeftOut, ...]
    sections: int
    seconds: float
    sheet: Path


def look(study: Study, results: Path) -> Look:
    """Read the outlines of a study, make them ready and draw the outline sheet.

    Raises
    ------
    InputError
        No usable outline, or a reference that is not among them.
    """
    input_files(study)  # all that a run reads is there
    earlier_tables(study, Folder(study.results_folder(results)))
    outlines, unread, every = outlines_of(study, usable_processors())
    if outlines or not unread:
        check_reference(study, outlines)
    prepared, unusable = _prepared(study, outlines)
    left_out = (*unread, *unusable)
    _refuse_empty(study, prepared, left_out)
    usable = len(outlines) - len(unusable)
    sections = usable * len({variant.making for variant in study.variants})
    folder = _sheet_folder(study.results_folder(results))
    shown = sheets.Shown(prepared, left_out, every)
    sheet = sheets.keep(folder, shown, study.variants[0].making, stages.limits_of(study))
    seconds = estimate(sections, len(study.variants), usable_processors())
    return Look(study, tuple(outlines), tuple(prepared), left_out, sections, seconds, sheet)


def estimate(sections: int, variants: int, workers: int) -> float:
    """Seconds a first run is likely to take; sections and variants are shared by the workers."""
    audited = min(sections, MOST_AUDITED) * SECONDS_AN_AUDIT
    shared = (sections * SECONDS_A_SECTION + audited) / workers
    return SECONDS_A_REPORT + shared + math.ceil(variants / workers) * SECONDS_A_VARIANT


def summary(found: Look) -> str:
    """What `look` prints: one screen."""
    study = found.study
    rows = [f"{study.name}: {study.title}", *_outline_rows(found), *_variant_rows(study)]
    about = duration(found.seconds)
    rows.append(
        f"estimate: {found.sections} sections, about {about} on {usable_processors()} workers, first time"
    )
    rows.append(f"outline sheet: {found.sheet}")
    return "\n".join(rows)


def _prepared(study: Study, outlines: Sequence[Outline]) -> tuple[list[Prepared], list[LeftOut]]:
    making = study.variants[0].making
    with Progress("outlines", total=len(outlines), failed_as="left out") as progress:
        found = readying.ready(outlines, making, stages.limits_of(study), progress=progress)
    return [f for f in found if isinstance(f, Prepared)], [f for f in found if isinstance(f, LeftOut)]


def _refuse_empty(study: Study, prepared: Sequence[Prepared], left_out: Sequence[LeftOut]) -> None:
    if prepared:
        reference = study.model.reference.outline
        reason = next((out.reason for out in left_out if out.outline == reference), None)
        if reason and reference not in {ready.outline.name for ready in prepared}:
            where = study.document.place(("reference", "outline"))
            raise InputError(f"the reference {reference!r} is left out: {reason}", where, "another reference")
        return
    reasons = [f"{out.outline or out.source}: {out.reason}" for out in left_out[:5]]
    raise InputError(
        "\n".join(["no outline can be used", *reasons]),
        study.document.place(("outlines",)),
        "at least one usable outline",
    )


def _sheet_folder(folder: Path) -> Path:
    """Where the sheet goes: beside the results of an earlier run, never over its own sheet."""
    return folder / "look" if as_written(folder / "sections.csv").exists() else folder


def _outline_rows(found: Look) -> list[str]:
    left = {(out.source, out.outline) for out in found.left_out}
    used = [o for o in found.outlines if (o.source, o.name) not in left]
    rows = [f"outlines: {len(used)} used, {len(found.left_out)} left out"]
    rows += _some([_short(f"  {source}: {names}") for source, names in _listed(used).items()], "sources")
    reasons = [_short(f"  left out: {out.outline or out.source}: {out.reason}") for out in found.left_out]
    rows += _some(reasons, "left out")
    making = found.study.variants[0].making
    fit = f"{making.fit[0].replace('_', ' ')} {' × '.join(f'{n:g}' for n in making.fit[1])}"
    turned = ", ".join(f"{angle:g}" for angle in found.study.variants[0].orientations)
    rows.append(
        f"made: {making.process}, fit {fit}, cutter {making.cutter_radius_mm:g} mm, turned {turned} deg"
    )
    return rows


def _listed(outlines: Sequence[Outline]) -> dict[str, str]:
    """Names of the outlines by where they come from: a typeface its characters, all drawings together."""
    groups: dict[str, list[str]] = {}
    for outline in outlines:
        source = outline.source if outline.character else f"*{Path(outline.source).suffix}"
        source = "shapes" if source == "*" else source
        groups.setdefault(source, []).append(outline.character or outline.name)
    return {
        source: f"{len(names)}: {(' ' if max(map(len, names)) == 1 else ', ').join(names)}"
        for source, names in groups.items()
    }


def _variant_rows(study: Study) -> list[str]:
    cases = [f"{case.name} ({case.kind}, {case.length_mm:g} mm)" for case in study.variants[0].cases]
    rows = [f"reference: {study.reference[0]} at {study.reference[1]:g} deg"]
    rows.append(f"load cases: {', '.join(cases) or 'none; sections only'}")
    rows.append(f"variants: {len(study.variants)}")
    return rows + _some([f"  {v.name}: {v.material.name}" for v in study.variants], "variants")


def _short(row: str) -> str:
    return row if len(row) <= WIDTH else row[: WIDTH - 2] + " …"


def _some(rows: list[str], what: str) -> list[str]:
    """The first rows, and how many more there are, so that all fits on a screen."""
    more = len(rows) - MOST_LISTED
    return rows[:MOST_LISTED] + ([f"  … and {more} more {what}"] if more > 0 else [])
