"""Everything a study found, joined and ranked for the write-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

import pandas as pd

from kit.study import interacting, walls
from kit.study.ranking import Resampling, by_complete_faces, by_group, by_outline, overall
from kit.study.resolving import Study
from kit.study.results import Folder, write_csv, write_table
from kit.study.scheduling import failure
from kit.study.sectioning import Sections
from kit.study.stages.members import curves_kept, evaluated
from kit.study.stages.opening import seed_of


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
    resampling = Resampling(seed=seed_of(study), unit=ranking.resample)
    ranks = [by_outline(joined)]
    ranks += [overall(joined, ranking.weights)] if ranking.weights else []
    groups = [group for group in ranking.group_by if group in joined]
    ranks += [by_group(joined, group, resampling) for group in groups]
    ranks += [by_complete_faces(joined, group, resampling) for group in groups]
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


def keep_report(folder: Folder, found: Assembled, doubts: Sequence[str]) -> None:
    """Write the tables that join all variants, and what the run must say about itself."""
    write_table(found.members[list(found.columns)], folder.path, "members")
    write_csv(found.ranks, folder.path / "ranks.csv")
    interacting.keep(folder.path, found.interactions)
    folder.write_notes("report", {"doubts": list(doubts), "used": sorted(found.used)})
