"""What the study notebooks call, one function a step: read, compute, evaluate, assemble.

Each step is a plain function of the study and of the tables before it, so a notebook tells the story and a
reader can enter at any door.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pandas as pd

from kit import checks, sources
from kit.errors import InputError
from kit.members.cases import LoadCase
from kit.members.merit import merit
from kit.members.resistance import resistance
from kit.members.sizing import Factors, design_load
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.outlines.reading import excluded, read
from kit.places import DATA
from kit.study import auditing, chances, fanout, interacting, sheets, walls
from kit.study.measured import with_curve_moments
from kit.study.packing import unpack
from kit.study.progress import Progress
from kit.study.ranking import Resampling, by_group, by_outline, overall
from kit.study.resolving import Study, Variant, check_reference, load_study
from kit.study.results import Folder, write_csv, write_table
from kit.study.scheduling import failure
from kit.study.sectioning import Sections, SectionTask, compute, gather
from kit.study.store import Store

STORE = ".store.sqlite"
MADE = (
    "internal_radius_mm",
    "repaired_area_share",
    "cut_area_share",
    "flatten_mm",
    "least_wall_found_mm",
    "flattening_area_share",
)


def open_study(file: str | Path) -> Study:
    """Read and validate a parameter file."""
    return load_study(Path(file))


def folder_of(study: Study, results: str | Path) -> Folder:
    """The study's results folder."""
    return Folder(study.results_folder(Path(results)))


def limits_of(study: Study) -> fanout.Limits:
    """What one outline may cost in one process: time and memory."""
    limits = study.model.limits
    return fanout.Limits(limits.time_per_outline, int(limits.memory_per_worker * 1e6))


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
    seconds = study.model.limits.time_per_outline
    outlines, left_out = read(
        study.specs, study.base, seconds=seconds, workers=workers or fanout.usable_processors()
    )
    outlines, excepted = excluded(outlines, study.model.exclude or "", study.base)
    left_out = [*left_out, *excepted]
    if not outlines:
        reasons = "\n".join(f"  {one.source}: {one.reason}" for one in left_out[:5])
        raise InputError(
            f"no outline can be used{':' if reasons else ''}\n{reasons}".rstrip(),
            study.document.place(("outlines",)),
            "name files that hold outlines, or add a standard shape",
        )
    check_reference(study, outlines)
    _labels_free(study, outlines)
    return outlines, left_out


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


def preparations(study: Study) -> list[tuple]:
    """The distinct ways this study prepares its outlines, in the order its variants first need them."""
    return list(dict.fromkeys(_preparation(variant) for variant in study.variants))


def _preparation(variant: Variant) -> tuple:
    return variant.making, variant.orientations, variant.torsion_bounds


def strength_ratios(study: Study) -> tuple[float, ...]:
    """Strength below ÷ strength above the neutral axis, for every material and either sense of bending."""
    ratios = set()
    for variant in study.variants:
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
    """
    tasks = section_tasks(study, outlines)
    flat = [task for part in tasks for task in part]
    allowed = limits_of(study)
    counting = Progress("sections", total=len(flat), failed_as="left out")
    with Store(Path(results) / STORE) as store, counting as progress, _executor(cluster, workers) as where:
        computed = compute(flat, store, where, limits=allowed, progress=progress)
        return gather(tasks, computed, left_out)


@contextmanager
def _executor(cluster: str | None, workers: int | None) -> Iterator[tuple[Executor | None, int | None]]:
    """Where batches run, and how many at once."""
    if cluster is None:
        yield None, workers
        return
    from kit.study.cluster import connected

    with connected(cluster) as found:
        yield found


def recompute_published(study: Study) -> pd.DataFrame:
    """Published values of every area of mechanics that the study can touch, recomputed now."""
    areas = ["sections", "members", *(["trials"] if study.model.trials else [])]
    return checks.recompute(areas, study.model.verification.published, _seed(study))


def keep_verification(folder: Folder, published: pd.DataFrame, audited: pd.DataFrame) -> None:
    """Write ``checks.csv`` and ``audit.csv``."""
    write_csv(published.reset_index(), folder.path / "checks.csv")
    write_csv(audited, folder.path / "audit.csv")


def start_audit(study: Study, outlines: Sequence[Outline], workers: int | None = None) -> auditing.Audit:
    """Have a seeded sample of the sections of the first preparation computed again by other routes."""
    tasks, size = section_tasks(study, outlines)[0], study.model.verification.audit
    return auditing.start(auditing.sample(tasks, _seed(study), size), workers)


def _seed(study: Study) -> int:
    return study.model.uncertainty.seed if study.model.uncertainty else 1


def sections_of(study: Study, variant: Variant, sections: Sections) -> pd.DataFrame:
    """The rows of the sections table that a variant reads."""
    number = preparations(study).index(_preparation(variant))
    table = sections.table[sections.table["preparation"] == number]
    return table.reset_index(drop=True)


def reference_row(study: Study, table: pd.DataFrame) -> pd.Series:
    """The row of the reference section.

    Raises
    ------
    InputError
        If the reference outline was left out, so that nothing can be compared.
    """
    outline, orientation = study.reference
    chosen = (table["outline"] == outline) & ((table["orientation_deg"] - orientation) % 360 == 0)
    if not chosen.any():
        raise InputError(
            f"the reference {outline!r} could not be made into a section (see left-out.csv)",
            study.document.place(("reference", "outline")),
            "choose another reference, or change what keeps it from being made",
        )
    return table[chosen].iloc[0]


def with_factors(study: Study, variant: Variant, case: LoadCase, table: pd.DataFrame) -> pd.DataFrame:
    """Column ``design_load`` where the study states partial factors, else no column."""
    if not study.factored:
        return pd.DataFrame(index=table.index)
    factors = Factors(variant.material_factor, variant.load_factor)
    found = design_load(table, case, variant.material, variant.service, factors)
    return pd.DataFrame({"design_load": found}, index=table.index)


@dataclass(frozen=True)
class Members:
    """The members of one variant and the functions of mechanics they rest on."""

    table: pd.DataFrame
    used: frozenset[str]


def curves_kept(study: Study, folder: Folder, workers: int | None = None) -> walls.Where:
    """Where half-wavelength curves are kept, and what one may cost."""
    return walls.Where(folder.path.parent / STORE, workers, limits_of(study))


def evaluated(study: Study, variant: Variant, case: LoadCase, table: pd.DataFrame) -> pd.DataFrame:
    """Resistances of every section of a table, with partial factors and intervals where they are stated."""
    rows = resistance(table, case, variant.material, variant.service)
    designed = with_factors(study, variant, case, table)
    return pd.concat([rows, designed, chances.intervals(variant, case, table)], axis=1)


def make_members(study: Study, variant: Variant, sections: Sections, folder: Folder | None = None) -> Members:
    """Resistance and merit of every section of a variant under every load case.

    Parameters
    ----------
    folder : Folder, optional
        The study's results, where the store lies beside; needed where all outlines' walls are checked.
    """
    upright = sections_of(study, variant, sections)
    marks = sections.marks()
    every_wall = study.model.report.local_buckling == "all" and folder is not None
    parts = []
    with (
        sources.recording() as used,
        Progress(f"members, {variant.name}", total=len(variant.cases)) as progress,
    ):
        upright = with_curve_moments(upright, marks, variant.cases, variant.material)
        for case in variant.cases:
            table = upright
            if every_wall and case.kind in walls.WALLED:
                table, _ = walls.strained(
                    upright, marks, variant, case, curves_kept(study, folder, workers=1)
                )
            reference = reference_row(study, table)
            rows = evaluated(study, variant, case, table)
            compared = merit(table, reference, case, variant.material, variant.service)
            judged = compared.assign(limit_states_checked=rows["limit_states_checked"])
            surely = chances.of_merit(variant, case, table, reference, judged)
            parts.append(pd.concat([rows, compared, surely], axis=1))
            progress.advance(1)
    members = pd.concat(parts, ignore_index=True)
    members.insert(0, "variant", variant.name)
    return Members(members, frozenset(used))


@dataclass(frozen=True)
class Assembled:
    """Everything a study found, ready for the write-up.

    Attributes
    ----------
    sections : Sections
    members : DataFrame
        Of all variants, with what the sections say of family, style, content and labels.
    ranks, audit, checks : DataFrame
        As in ``ranks.csv``, ``audit.csv`` and ``checks.csv``.
    used : frozenset of str
        Functions of mechanics that all of it rests on.
    columns : tuple of str
        Those of ``members`` that belong to members alone.
    failed : tuple of (str, str)
        Variants that could not be evaluated, and why.
    closer : Walls or None
        What the closer look at the walls of the shortlist found, where the study has one.
    interactions : DataFrame
        Members under loads that act at once, as in ``interactions.csv``; empty where none are stated.
    """

    sections: Sections
    members: pd.DataFrame
    ranks: pd.DataFrame
    audit: pd.DataFrame
    checks: pd.DataFrame
    used: frozenset[str]
    columns: tuple[str, ...]
    failed: tuple[tuple[str, str], ...] = ()
    closer: walls.Walls | None = None
    interactions: pd.DataFrame = field(default_factory=pd.DataFrame)


def assemble(study: Study, folder: Folder) -> Assembled:
    """Join the variants' members, rank them, and collect what they rest on."""
    sections = folder.sections()
    reasons = {v.name: failure(folder, f"variant-{v.slug}") for v in study.variants}
    failed = tuple((name, reason) for name, reason in reasons.items() if reason)
    if len(failed) == len(study.variants):
        raise RuntimeError(f"no variant could be evaluated; {failed[0][0]}: {failed[0][1]}")
    members, used = folder.members(v.slug for v in study.variants if not reasons[v.name])
    closer = None
    if study.model.report.local_buckling == "shortlist":
        closer = walls.look_closer(
            study, sections, members, partial(evaluated, study), curves_kept(study, folder)
        )
        members, used = closer.members, used | closer.used
    acting = interacting.evaluate(study, sections, members)
    labels = [
        group for group in study.model.ranking.group_by if group in sections.table and group not in members
    ]
    about = list(dict.fromkeys(["section_id", "family", "style", "content", *labels]))
    joined = members.merge(sections.table[about], on="section_id", how="left", validate="many_to_one")
    ranking = study.model.ranking
    resampling = Resampling(seed=_seed(study), unit=ranking.resample)
    ranks = [by_outline(joined)]
    ranks += [overall(joined, ranking.weights)] if ranking.weights else []
    ranks += [by_group(joined, group, resampling) for group in ranking.group_by if group in joined]
    audited = pd.read_csv(folder.path / "audit.csv")
    published = pd.read_csv(folder.path / "checks.csv", keep_default_na=False)
    ranked = pd.concat(ranks, ignore_index=True)
    used |= frozenset(folder.notes("trials").get("used", ())) if study.model.trials else frozenset()
    return Assembled(
        sections,
        joined,
        ranked,
        audited,
        published,
        used | sections.used | acting.used,
        tuple(members.columns),
        failed,
        closer,
        acting.table,
    )


def variant_named(study: Study, name: str) -> Variant:
    """The variant with this name.

    Raises
    ------
    InputError
        With the names there are.
    """
    for variant in study.variants:
        if variant.name == name:
            return variant
    known = ", ".join(variant.name for variant in study.variants)
    raise InputError(f"{name!r} is no variant of this study", str(study.file), f"one of: {known}")


def keep_sections(study: Study, folder: Folder, outlines: Sequence[Outline], sections: Sections) -> None:
    """Write the sections stage's files; refuse before anything is written if the reference was left out."""
    for variant in study.variants:
        reference_row(study, sections_of(study, variant, sections))
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


def keep_report(folder: Folder, found: Assembled, doubts: Sequence[str]) -> None:
    """Write the tables that join all variants, and what the run must say about itself."""
    write_table(found.members[list(found.columns)], folder.path, "members")
    write_csv(found.ranks, folder.path / "ranks.csv")
    interacting.keep(folder.path, found.interactions)
    folder.write_notes("report", {"doubts": list(doubts), "used": sorted(found.used)})
