"""From files to sections: outlines read, sections computed or taken from the store, both kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path

import pandas as pd

from kit.errors import InputError
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.places import DATA
from kit.study import fanout, inputs, sheets
from kit.study.packing import unpack
from kit.study.progress import Progress
from kit.study.resolving import Study, check_reference
from kit.study.results import Folder
from kit.study.sectioning import Sections, SectionTask, compute, gather
from kit.study.stages.opening import STORE, limits_of, preparations, reference_row, sections_of
from kit.study.store import Store

MADE = (
    "internal_radius_mm",
    "repaired_area_share",
    "cut_area_share",
    "flatten_mm",
    "least_wall_found_mm",
    "flattening_area_share",
)


def read_outlines(study: Study, workers: int | None = None) -> tuple[list[Outline], list[LeftOut]]:
    """Every outline the study names, and what could not be used.

    Parameters
    ----------
    workers : int, optional
        Files read at once; by default the processors this process may use.

    Raises
    ------
    InputError
        If no outline can be used, or the reference is not among them.
    """
    outlines, left_out, _ = inputs.outlines_of(study, workers or fanout.usable_processors())
    if not outlines:
        raise _none(study, left_out, "be used")
    check_reference(study, outlines)
    _labels_free(study, outlines)
    return outlines, left_out


def _none(study: Study, left_out: Sequence[LeftOut], what: str) -> InputError:
    """No outline is left: the first reasons, and what to do."""
    reasons = "\n".join(f"  {one.outline or one.source}: {one.reason}" for one in left_out[:5])
    return InputError(
        f"no outline can {what}{':' if reasons else ''}\n{reasons}".rstrip(),
        study.document.place(("outlines",)),
        "name files that hold outlines, or add a standard shape that can be made",
    )


def _labels_free(study: Study, outlines: Sequence[Outline]) -> None:
    """Refuse a label that has the name of a column the tables already have."""
    taken = set(pd.read_csv(DATA / "columns.csv", usecols=["column"])["column"])
    wrong = sorted({name for outline in outlines for name, _ in outline.labels} & taken)
    if wrong:
        raise InputError(
            f"the label {wrong[0]!r} is a column of the tables already",
            study.document.place(("outlines",)),
            "another name for it",
        )


def strength_ratios(study: Study) -> tuple[float, ...]:
    """Strength below ÷ strength above the neutral axis, for every material and either sense of bending."""
    ratios = set()
    for variant in study.variants:
        if variant.material.yield_tension_MPa is None:
            continue
        tension, compression = (
            variant.material.yield_tension_MPa.mean,
            variant.material.yield_compression_MPa.mean,
        )
        if tension != compression:
            ratios.update((tension / compression, compression / tension))
    return tuple(sorted(ratios))


def section_tasks(study: Study, outlines: Sequence[Outline]) -> list[list[SectionTask]]:
    """A task for every outline of every preparation."""
    limits, ratios = study.model.limits, strength_ratios(study)
    return [
        [
            SectionTask(outline, making, orientations, bounds, ratios, limits.points, limits.elements)
            for outline in outlines
        ]
        for making, orientations, bounds in preparations(study)
    ]


def make_sections(
    study: Study,
    outlines: Sequence[Outline],
    left_out: Sequence[LeftOut],
    *,
    results: str | Path,
    workers: int | None = None,
    cluster: str | None = None,
) -> Sections:
    """Compute, or take from the store, the section of every outline in every preparation.

    Parameters
    ----------
    results : path
        Folder of all studies' results, where the store lies.
    workers : int, optional
        Processes here; by default the processors this process may use.
    cluster : str, optional
        Address of a running scheduler that computes instead; see :mod:`kit.study.cluster`.

    Raises
    ------
    InputError
        If none of the outlines can be made into a section.
    """
    tasks = section_tasks(study, outlines)
    flat = [task for part in tasks for task in part]
    allowed = limits_of(study)
    counting = Progress("sections", total=len(flat), failed_as="left out")
    with Store(Path(results) / STORE) as store, counting as progress, _executor(cluster, workers) as where:
        computed = compute(flat, store, where, limits=allowed, progress=progress)
        found = gather(tasks, computed, left_out)
    if found.table.empty:
        raise _none(
            study, [LeftOut(*row) for row in found.left_out.itertuples(index=False)], "be made into a section"
        )
    return found


@contextmanager
def _executor(cluster: str | None, workers: int | None) -> Iterator[tuple[Executor | None, int | None]]:
    """Where batches run, and how many at once."""
    if cluster is None:
        yield None, workers
        return
    from kit.study.cluster import connected

    with connected(cluster) as found:
        yield found


def keep_sections(study: Study, folder: Folder, outlines: Sequence[Outline], sections: Sections) -> None:
    """Write the sections stage's files; refuse before anything is written if the reference was left out."""
    left = sections.left_out
    reasons = left.loc[left["outline"] == study.reference[0], "reason"]
    for variant in study.variants:
        because = f" in the variant {variant.name!r}: {'; '.join(reasons)}"
        reference_row(study, sections_of(study, variant, sections), because)
    folder.write_sections(sections)
    shown = sheets.Shown(prepared_of(outlines, sections), left_out_of(sections), outlines)
    sheets.keep(folder.path, shown, preparations(study)[0][0], limits_of(study))


def prepared_of(outlines: Sequence[Outline], sections: Sections) -> list[Prepared]:
    """The outlines of the first preparation as drawn and as cut, for the outline sheet."""
    rows = sections.table[sections.table["preparation"] == 0].drop_duplicates("outline").set_index("outline")
    return [
        Prepared(
            outline,
            unpack(sections.polygons[0, outline.name]),
            unpack(sections.drawn[outline.name]),
            flags=tuple(rows.at[outline.name, "flags"].split()),
            **{name: rows.at[outline.name, name] for name in MADE},
        )
        for outline in outlines
        if outline.name in sections.drawn
    ]


def left_out_of(sections: Sections) -> list[LeftOut]:
    """The rows of ``left-out.csv`` as objects."""
    return [LeftOut(*row) for row in sections.left_out.itertuples(index=False)]
