"""Look at a study before it runs: outlines, what is left out, variants, how long it will take."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.errors import InputError
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.study import auditing, readying, sheets, stages, walls
from kit.study.differences import earlier_tables
from kit.study.fanout import usable_processors
from kit.study.inputs import input_files, outlines_of
from kit.study.progress import Progress, duration
from kit.study.resolving import Study, check_reference
from kit.study.results import Folder, as_written

MOST_LISTED = 12
WIDTH = 160

# Seconds of one core, measured on two quiet ones over runs of a second to eight minutes; only for the estimate
# that is shown. Of the last three, variants go side by side; the report tells of each in turn.
SECONDS_A_SECTION, SECONDS_A_CURVE, SECONDS_AN_AUDIT, SECONDS_A_CHECK = 0.036, 0.25, 2.0, 0.008
SECONDS_A_VARIANT, SECONDS_A_VARIANT_TOLD, SECONDS_AT_LEAST = 3.0, 2.0, 3.0


@dataclass(frozen=True)
class Work:
    """What a first run computes: numbers of each.

    Attributes
    ----------
    sections, variants : int
    audited, published : int
        Sections and published values computed again.
    curves : int
        Half-wavelength curves, no more than so many.
    """

    sections: int
    variants: int
    audited: int = 0
    published: int = 0
    curves: int = 0


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
    seconds = estimate(work_of(study, usable, sections), usable_processors())
    return Look(study, tuple(outlines), tuple(prepared), left_out, sections, seconds, sheet)


def work_of(study: Study, outlines: int, sections: int) -> Work:
    """What a study of so many usable outlines and distinct sections has to compute."""
    audited = min(outlines, auditing.sample_size(outlines, study.model.verification.audit))
    return Work(
        sections, len(study.variants), audited, stages.published_count(study), _curves(study, outlines)
    )


def _curves(study: Study, outlines: int) -> int:
    """Half-wavelength curves at most: of the shortlist, or of all, under each load case that has some."""
    report, found = study.model.report, 0
    listed = min(report.shortlist.best + report.shortlist.worst + 1, outlines)
    for variant in study.variants if report.local_buckling != "none" else ():
        each = outlines * len(variant.orientations) if report.local_buckling == "all" else listed
        found += each * sum(case.kind in walls.WALLED for case in variant.cases)
    return found


def estimate(work: Work, workers: int) -> float:
    """Seconds a first run is likely to take; what is computed apart from each other is shared by the workers."""
    shared = (
        work.sections * SECONDS_A_SECTION
        + work.curves * SECONDS_A_CURVE
        + work.audited * SECONDS_AN_AUDIT
        + work.published * SECONDS_A_CHECK
    )
    variants = math.ceil(work.variants / workers) * SECONDS_A_VARIANT + work.variants * SECONDS_A_VARIANT_TOLD
    return SECONDS_AT_LEAST + shared / workers + variants


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
