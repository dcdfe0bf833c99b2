"""Who dropped out of a study, and whether that could mislead a reader of its ranks."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.study.ranking import COMPLETE, complete
from kit.study.resolving import Study
from kit.study.stages import Assembled
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

NO_LETTERS = "drawings and shapes"


def left_out(found: Assembled) -> pd.DataFrame:
    """Outlines that were left out of some variant or of all, each once."""
    return found.sections.left_out.drop_duplicates(["source", "outline"])


def partly(found: Assembled) -> str:
    """How many of the outlines left out were left out of some variants only."""
    some = len(set(found.sections.left_out["outline"]) & set(found.sections.table["outline"]))
    return f", {some} of them in some variants only" if some else ""


def attrition(found: Assembled) -> Table | Prose:
    """Who dropped out: outlines left out and outlines without a merit, by family and character."""
    rows = [row for group in ("family", "character", NO_LETTERS) for row in _lost_by(found, group)]
    lost = [row for row in rows if row[3] or row[4]]
    if not lost:
        return Prose(
            "No outline was left out, and every member could be compared: nothing dropped out that a rank could hide."
        )
    columns = ["group", "item", "outlines", "left out", "without a merit in some load case", "share lost"]
    caption = "Attrition: what each family and character lost. Those that lost nothing are not shown."
    return table(pd.DataFrame(lost, columns=columns), "attrition", caption, most=80)


def complete_faces(study: Study, found: Assembled) -> Prose | None:
    """What becomes of the ranks of groups among the faces that lost no character; None where none lost any."""
    ranks, told = found.ranks, []
    key = ["variant", "load_case", "item", "orientation_deg", "limit_states_checked"]
    for group in study.model.ranking.group_by:
        again = ranks[ranks["level"] == group + COMPLETE]
        if len(again):
            both = ranks[ranks["level"] == group].merge(again, on=key, suffixes=("", "_again"))
            # Those that only stand closer because others are gone have not moved.
            left = both.groupby(["variant", "load_case", "limit_states_checked"])["rank"].rank(method="min")
            moved = (left - both["rank_again"]).abs()
            told.append(
                prose(
                    "of {n} ranks by {group} {k} change, by {most} at most",
                    n=len(both),
                    group=group,
                    k=int((moved > 0).sum()),
                    most=count(int(moved.max()) if len(both) else 0, "place"),
                ).text
            )
    if told:
        faces = len(complete(found.members)[["family", "style"]].drop_duplicates())
        return Prose(
            f"Repeated on the {count(faces, 'face')} complete in every character (level “…{COMPLETE}” in ranks.csv): "
            f"{'; '.join(told)}."
        )
    letters = found.members[found.members["character"].astype(str) != ""]
    if len(letters) and len(study.model.ranking.group_by) and complete(found.members).empty:
        return Prose(
            "No face is complete in every character and load case: ranks of groups could not be repeated on such faces."
        )
    return None


def _lost_by(found: Assembled, group: str) -> list[tuple]:
    about = found.sections.table.drop_duplicates("outline")[["outline", "family", "character"]].copy()
    # A letterform's name is its face and its character; faces that gave any section name the family.
    faces = {
        str(name).rpartition("/")[0]: family
        for name, family in zip(about["outline"], about["family"], strict=True)
    }
    names = [str(name).rpartition("/") for name in found.sections.left_out["outline"]]
    left = pd.DataFrame(names, columns=[0, 1, 2], dtype=object)
    gone = pd.DataFrame(
        {"family": left[0].map(faces).fillna(left[0]), "character": left[2].where(left[1] != "", "")}
    )
    gone["outline"] = found.sections.left_out["outline"].to_numpy()
    gone.loc[left[1] == "", "family"] = ""
    for one in (about, gone):
        one[NO_LETTERS] = np.where(one["family"].astype(str) == "", "all", "")
    missing = found.members[~np.isfinite(found.members["merit"].astype(float))]["outline"].unique()
    rows = []
    for item in sorted({*about[group].astype(str), *gone[group].astype(str)} - {""}):
        used = about[about[group].astype(str) == item]
        lost = set(gone.loc[gone[group] == item, "outline"])
        silent = set(used.loc[used["outline"].isin(missing), "outline"])
        out, unknown, both = len(lost), len(silent), len(lost | silent)
        total = len(lost | set(used["outline"]))
        rows.append((group, item, total, out, unknown, share(both / total)))
    return rows


def bias(found: Assembled) -> Prose:
    """Whether what was left out or not assessed differs from the rest, as far as this study can tell."""
    gone = left_out(found)
    left, used = len(gone), len(set(found.sections.table["outline"]) - set(gone["outline"]))
    if not left:
        opening = "Nothing was left out."
    else:
        reasons = (
            found.sections.left_out["reason"].astype(str).str.replace(r"\d+(?:[.,]\d+)*", "…", regex=True)
        )
        most = reasons.value_counts()
        opening = prose(
            "{left} of {all} ({part}) were left out{partly}; the commonest reason, {times}: “{reason}”. "
            "The ranks hold for outlines that can be made this way and for no others ([Table](#tab:attrition)).",
            left=left, all=count(left + used, "outline"), part=share(left / (left + used)),
            partly=partly(found),
            times=f"{int(most.iloc[0])}×", reason=most.index[0],
        ).text  # fmt: skip
    return Prose(f"{opening} {_unlike(found.members)}")


def _unlike(members: pd.DataFrame) -> str:
    """Whether members without a merit are heavier or lighter than the others of their variant and load case."""
    known = np.isfinite(members["merit"].astype(float))
    if known.all():
        return "Every member could be compared."
    if not known.any():
        return "No member could be compared."
    text = prose(
        "{lost} of {all} could not be assessed or compared",
        lost=int((~known).sum()),
        all=count(len(known), "member"),
    ).text
    groups = known.groupby([members["variant"], members["load_case"]])
    whole, mixed = ~groups.transform("any"), groups.transform("any") & ~groups.transform("all")
    if whole.any():
        text += f", {int(whole.sum())} of them in load cases in which none could"
    if mixed.any():
        rows = members[mixed]
        relative = rows["mass_kg"] / rows.groupby(["variant", "load_case"])["mass_kg"].transform("median")
        ratio = relative[~known[mixed]].median() / relative[known[mixed]].median()
        text += prose(
            "; where some could and others not, the median mass of those that could not is {ratio} times that of the others",
            ratio=number(float(ratio), digits=2),
        ).text
    return f"{text}."
