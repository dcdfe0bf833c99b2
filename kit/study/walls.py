"""Local and distortional buckling in a study: which outlines are analysed, and what becomes of their rows.

The half-wavelength curve of an outline takes a hundred times as long as its closed forms, so that by
default only the shortlist gets one: the best, the worst and the reference of each variant. Their resistances
are lowered where the walls give way first. Merits and ranks stay without the walls for every row, or rows
that were looked at more closely would stand behind others that merely were not; ``merit_with_walls`` says
what the closer look does to the shortlist. With ``local_buckling: all`` every row has its walls in everything.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import shapely

from kit import sources
from kit.members import free_limit
from kit.members.cases import LoadCase
from kit.members.materials import Material
from kit.members.merit import load_at
from kit.members.service import at_service
from kit.members.walls import KINDS, column
from kit.sections.halfwave_record import CurveRecord, from_plain
from kit.sections.halfwave_strength import stress_of_case
from kit.sections.halfwave_stress import LinearStress
from kit.study import fanout
from kit.study.measured import with_curve_moments
from kit.study.progress import Progress
from kit.study.ranking import by_outline, once
from kit.study.resolving import Study, Variant
from kit.study.sectioning import Marks, Sections
from kit.study.store import Store, content_key, solver_version
from kit.study.wall_curve import WallTask

WALLED = ("bending", "compression")
WITH_WALLS = "merit_with_walls"
OUTSIDE_MERIT = "walls-outside-merit"
NOT_APPLICABLE = "no stress of this load case buckles walls"


def key_of(task: WallTask, solver: str) -> str:
    """The content a curve is kept by."""
    return content_key("walls", task.polygon, task.poissons_ratio, task.stress, solver)


def wall_task(polygon: shapely.Polygon, case: LoadCase, material: Material) -> WallTask | str:
    """What to compute for an outline, a load case and a material, or why nothing can be."""
    if case.kind not in WALLED:
        return NOT_APPLICABLE
    if getattr(case, "eccentricity_x_mm", 0.0) or getattr(case, "eccentricity_y_mm", 0.0):
        return "not assessed: under an eccentric load"
    if not material.isotropic:
        return "not available: the material's elastic constants across it are not given"
    # Only the distribution counts; rounded, so that one per span or loading serves all.
    stress = stress_of_case(polygon, case)
    stress = stress * (1.0 / max(stress.extremes(polygon)))
    parts = (float(f"{value:.9g}") for value in (stress.axial_MPa, stress.per_x_MPa, stress.per_y_MPa))
    return WallTask(polygon.wkb, material.poissons_ratio, LinearStress(*parts))


@dataclass(frozen=True)
class Curves:
    """Curves, or reasons why there is none, in the order they were asked for; and what they rest on."""

    found: tuple[CurveRecord | str, ...]
    used: frozenset[str]

    def strains(self, index: pd.Index) -> pd.DataFrame:
        """Critical strains of each kind and of the whole curve: inf where one does not apply, NaN unknown."""
        names = [*(column(kind) for kind in KINDS), *free_limit.NAMES]
        rows = [_strains(one) if isinstance(one, CurveRecord) else {} for one in self.found]
        return pd.DataFrame(rows, index=index, columns=names, dtype=float)


def _strains(curve: CurveRecord) -> dict[str, float]:
    """Columns of one curve: critical strains of its minima, and the whole of it."""
    lowest = {column(kind): curve.lowest(kind) for kind in KINDS}
    whole = free_limit.curve_columns(curve.depth_mm, curve.half_wavelengths_mm, curve.lowest_mode)
    return lowest | whole


def of_one(
    polygon: shapely.Polygon, case: LoadCase, material: Material, limits: fanout.Limits
) -> pd.DataFrame:
    """Columns of critical strains of one outline under one load case, one row, computed now and not kept."""
    task = wall_task(polygon, case, material)
    found: CurveRecord | str = task if isinstance(task, str) else "not assessed"
    if isinstance(task, WallTask):
        answer = next(iter(fanout.each("kit.study.wall_curve:solve", [task], workers=1, limits=limits)))
        record = answer.result if answer.status == "done" else {"reason": str(answer.reason)}
        found = from_plain(record["curve"]) if "curve" in record else record["reason"]
    return Curves((found,), frozenset()).strains(pd.RangeIndex(1))


@dataclass(frozen=True)
class Where:
    """Where curves are kept and computed."""

    store: Path
    workers: int | None
    limits: fanout.Limits


def compute(tasks: Sequence[WallTask | str], where: Where) -> Curves:
    """The curve of every task, taken from the store or computed now on processes of their own."""
    with Store(where.store) as store:
        return _computed(tasks, store, where)


def _computed(tasks: Sequence[WallTask | str], store: Store, where: Where) -> Curves:
    solver = solver_version()
    keys = [task if isinstance(task, str) else key_of(task, solver) for task in tasks]
    todo = {key: task for key, task in zip(keys, tasks, strict=True) if isinstance(task, WallTask)}
    records = store.read(todo)
    missing = {key: task for key, task in todo.items() if key not in records}
    names, fresh = list(missing), {}
    if missing:
        with Progress("half-wavelength curves", total=len(missing)) as progress:
            answers = fanout.each(
                "kit.study.wall_curve:solve",
                list(missing.values()),
                workers=where.workers,
                limits=where.limits,
                batch=2,
            )
            for answer in answers:
                done = answer.status == "done"
                record = answer.result if done else {"reason": f"not assessed: {answer.reason}"}
                (fresh if done else records)[names[answer.index]] = record
                progress.advance(1, failed=int("reason" in record))
        store.write(fresh)
    records |= fresh
    found = [records.get(key, {"reason": key}) for key in keys]
    used = frozenset().union(*(one.get("used", ()) for one in found))
    return Curves(tuple(from_plain(o["curve"]) if "curve" in o else o["reason"] for o in found), used)


def strained(
    table: pd.DataFrame, marks: Marks, variant: Variant, case: LoadCase, where: Where
) -> tuple[pd.DataFrame, Curves]:
    """The sections with their critical strains under one load case, and the curves themselves."""
    table = with_curve_moments(table, marks, [case], variant.material)
    tasks = [wall_task(marks[name], case, variant.material) for name in table["section_id"]]
    curves = compute(tasks, where)
    return table.assign(**curves.strains(table.index)), curves


def evaluated_variants(study: Study, members: pd.DataFrame) -> list[Variant]:
    """The variants that have members."""
    there = set(members["variant"])
    return [variant for variant in study.variants if variant.name in there]


def shortlisted(study: Study, members: pd.DataFrame) -> pd.DataFrame:
    """The shortlist of each variant: ``variant``, ``section_id``.

    Best and worst by the merit of the load case ``report.shortlist.by`` (the first without it), identical
    outlines once; and the reference, with which all of them are compared.
    """
    keys = study.model.report.shortlist
    outline, orientation = study.reference
    parts = []
    for variant in evaluated_variants(study, members):
        rows = members[members["variant"] == variant.name]
        by = keys.by or variant.cases[0].name
        ranked = once(rows[(rows["load_case"] == by) & np.isfinite(rows["merit"])])
        ranked = ranked.sort_values(["merit", "section_id"], ascending=[False, True])["section_id"]
        number = np.arange(1, len(ranked) + 1)
        chosen = (number <= keys.best) | (number > len(ranked) - keys.worst)
        is_reference = (rows["outline"] == outline) & ((rows["orientation_deg"] - orientation) % 360 == 0)
        names = dict.fromkeys([*ranked[chosen], *rows.loc[is_reference, "section_id"].iloc[:1]])
        parts.append(pd.DataFrame({"section_id": list(names), "variant": variant.name}))
    return pd.concat(parts, ignore_index=True)


def places(members: pd.DataFrame, contents: Mapping[str, str]) -> dict[tuple[str, str, str], str]:
    """Place of every member by merit, as in ranks.csv: among the members of its own load case and variant.

    Parameters
    ----------
    members : DataFrame
    contents : mapping of section_id to content
        Identical outlines count once and share their place.

    Returns
    -------
    dict
        (variant, load case, section_id) → "3 of 98"; members without a merit are not in it.
    """
    group, twin = ["variant", "load_case"], ["content", "orientation_deg"]
    rows = members.assign(content=members["section_id"].map(contents))
    ranks = by_outline(rows).rename(columns={"item": "outline"})
    known = rows[[*group, "section_id", "outline", *twin]]
    ranked = ranks.merge(known, on=[*group, "outline", "orientation_deg"])
    told = known.merge(ranked[[*group, *twin, "rank", "of"]].drop_duplicates(), on=[*group, *twin])
    keys = zip(told["variant"], told["load_case"], told["section_id"], strict=True)
    return {key: f"{rank} of {of}" for key, rank, of in zip(keys, told["rank"], told["of"], strict=True)}


@dataclass(frozen=True)
class Walls:
    """What the closer look at the shortlist found.

    Attributes
    ----------
    members : DataFrame
        All of them, with the rows of the shortlist lowered where walls give way first, and the column
        ``merit_with_walls`` (NaN for all others).
    table : DataFrame
        A row for each member of the shortlist: ``variant``, ``load_case``, ``section_id``, ``place`` (by merit
        in its own load case), ``resistance_without_walls``, ``why`` (why there is no curve, else empty).
    curves : mapping of (variant, load case, section_id) to CurveRecord
        In stresses of the variant's material in service.
    used : frozenset of str
    """

    members: pd.DataFrame
    table: pd.DataFrame
    curves: Mapping[tuple[str, str, str], CurveRecord]
    used: frozenset[str]


Evaluate = Callable[[Variant, LoadCase, pd.DataFrame], pd.DataFrame]


def look_closer(
    study: Study, sections: Sections, members: pd.DataFrame, evaluate: Evaluate, where: Where
) -> Walls:
    """Analyse the walls of the shortlist and lower its rows.

    Parameters
    ----------
    members : DataFrame
        Of all variants, evaluated without walls.
    evaluate : callable
        From variant, load case and sections (with critical strains) to their rows of the table of members.
    """
    chosen = shortlisted(study, members)
    marks, table = sections.marks(), sections.table.set_index("section_id", drop=False)
    todo = [
        (variant, case, table.loc[chosen.loc[chosen["variant"] == variant.name, "section_id"]])
        for variant in evaluated_variants(study, members)
        for case in variant.cases
        if case.kind in WALLED
    ]
    # All curves at once, so that processes start once; below they are read from the store.
    every = [
        wall_task(marks[name], case, v.material) for v, case, part in todo for name in part["section_id"]
    ]
    used = set(compute(every, where).used)
    place = places(members, dict(zip(table["section_id"], table["content"], strict=True)))
    members = members.assign(**{WITH_WALLS: np.nan})
    parts, curves = [], {}
    with sources.recording() as run:
        for variant, case, part in todo:
            known, found = strained(part, marks, variant, case, where)
            rows = evaluate(variant, case, known)
            here = (members["variant"] == variant.name) & (members["load_case"] == case.name)
            before = members[here].set_index("section_id").loc[part["section_id"]]
            rows = rows.assign(**{WITH_WALLS: _merit(study, variant, case, known)}).set_index("section_id")
            members = _replaced(members, here, _marked(rows, before["merit"]))
            parts.append(_told(study, place, before, found))
            stiff = at_service(variant.material, variant.service).column_modulus
            for name, curve in zip(part["section_id"], found.found, strict=True):
                if isinstance(curve, CurveRecord):
                    curves[variant.name, case.name, name] = curve.times(stiff)
    told = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
    return Walls(members, told, curves, frozenset(used | run))


def _merit(study: Study, variant: Variant, case: LoadCase, known: pd.DataFrame) -> np.ndarray:
    """Merit with the walls of both sections; NaN where those of either are not known or the reference carries nothing."""
    outline, orientation = study.reference
    is_reference = (known["outline"] == outline) & ((known["orientation_deg"] - orientation) % 360 == 0)
    reference = known[is_reference].iloc[0]
    strains = known[[column(kind) for kind in KINDS]]
    sure = strains.notna().all(axis=1) & strains.loc[reference["section_id"]].notna().all()
    state = at_service(variant.material, variant.service)
    table = known.select_dtypes("number")
    equal_mass = np.sqrt(reference["area_mm2"] / table["area_mm2"])
    own = load_at(table[is_reference.to_numpy()].iloc[:1], 1.0, case, state)
    if not own[0] > 0:
        return np.full(len(table), np.nan)
    return np.where(sure, load_at(table, equal_mass, case, state) / own, np.nan)


def _marked(rows: pd.DataFrame, ranked_by: pd.Series) -> pd.DataFrame:
    """With the caveat that merit and rank leave the walls out, where those would change them."""
    differs = (rows[WITH_WALLS] - ranked_by).abs() > 1e-6 * ranked_by
    return rows.assign(caveats=rows["caveats"] + np.where(differs, f" {OUTSIDE_MERIT}", ""))


def _replaced(members: pd.DataFrame, here: pd.Series, rows: pd.DataFrame) -> pd.DataFrame:
    """The members with these rows' values in place of those they had; all other columns stay."""
    place = members.index[here & members["section_id"].isin(rows.index)]
    fresh = rows.loc[members.loc[place, "section_id"]].set_axis(place)
    columns = [name for name in fresh if name in members]
    changed = members.copy()
    changed.loc[place, columns] = fresh[columns]
    return changed


def _told(study: Study, place: Mapping[tuple, str], before: pd.DataFrame, found: Curves) -> pd.DataFrame:
    """What is told of the rows of one load case and variant; the reference says that it is one."""
    outline, orientation = study.reference
    where = list(zip(before["variant"], before["load_case"], before.index, strict=True))
    reference = (before["outline"] == outline) & ((before["orientation_deg"] - orientation) % 360 == 0)
    ranked = [place.get(key, "not ranked") for key in where]
    return pd.DataFrame(
        {
            "variant": before["variant"].to_numpy(),
            "load_case": before["load_case"].to_numpy(),
            "section_id": before.index,
            "place": [f"{n} (reference)" if own else n for n, own in zip(ranked, reference, strict=True)],
            "resistance_without_walls": before["resistance_N"].to_numpy(),
            "why": [one if isinstance(one, str) else "" for one in found.found],
        }
    )
