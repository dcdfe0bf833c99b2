"""What a study found, in numbers: who leads where, who dropped out, and what could change the order."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.study.measured import row_with_curve_moments
from kit.study.ranking import once
from kit.study.resolving import Study
from kit.study.stages import Assembled, preparations, reference_row, sections_of
from kit.writeup.charts.lines import reference_line
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

ALIKE = 1e-6
"""Merits closer than this (relative) are equal: the same number by another rounding."""
FEW_TO_COMPARE = 4


def reference_lines(study: Study, found: Assembled) -> pd.DataFrame:
    """The line of merit 1 of every panel: the reference at other masses, evaluated again."""
    there = set(found.members["variant"])
    lines = [
        reference_line(row, case, variant.material, variant.service, variant=variant.name)
        for variant in study.variants
        if variant.name in there
        for row in [
            row_with_curve_moments(
                reference_row(study, sections_of(study, variant, found.sections)),
                found.sections.marks(),
                variant.cases,
                variant.material,
            )
        ]
        for case in variant.cases
    ]
    return pd.concat(lines, ignore_index=True)


def summary(study: Study, found: Assembled) -> Prose:
    """The main findings in numbers: what was compared, and who leads in each load case."""
    sections = found.sections.table
    opening = prose(
        "{outlines} were made into {sections}; {left} left out. {members} were evaluated in {variants} and "
        "compared with the reference, {reference}, at equal mass.",
        outlines=count(sections["outline"].nunique(), "outline"),
        sections=count(len(sections), "section"),
        left=count(len(found.sections.left_out), "outline was", "outlines were"),
        members=count(len(found.members), "member"),
        variants=count(found.members["variant"].nunique(), "variant"),
        reference=study.reference[0],
    ).text
    lines = [
        _leaders(case, part, study.reference[0])
        for case, part in once(found.members).groupby("load_case", sort=False)
    ]
    return Prose("\n".join([opening, "", *(f"- {line}" for line in lines)]))


def _leaders(case: str, part: pd.DataFrame, reference: str) -> str:
    """One load case: who leads in which variants, by how much, and how many could be assessed."""
    known = part[np.isfinite(part["merit"].astype(float))]
    if known.empty:
        return prose(
            "**{case}**: none of {all} could be assessed.", case=case, all=count(len(part), "member")
        ).text
    groups = [group for _, group in known.groupby("variant", sort=False)]
    lost = len(part) - len(known)
    missing = f" {count(lost, 'member')} of {len(part)} could not be assessed." if lost else ""
    head = prose("**{case}**: ", case=case).text
    if all(_equal(group["merit"]) for group in groups):
        if len(known) == len(groups):
            return head + f"only one outline could be assessed.{missing}"
        return head + f"all outlines carry the same load at equal mass; none leads.{missing}"
    return f"{head}{_named(groups)}. {_beating(groups, reference)}{missing}"


def _equal(merit: pd.Series) -> bool:
    return float(merit.max() - merit.min()) <= ALIKE * abs(float(merit.max()))


def _named(groups: list[pd.DataFrame]) -> str:
    """Leaders with the variants they lead in, variants of one leader together."""
    led: dict[str, list[tuple[str, float]]] = {}
    for group in groups:
        best = float(group["merit"].max())
        names = group.loc[group["merit"] >= best * (1 - ALIKE), "outline"]
        shown = " and ".join(sorted(set(names))[:3]) + (" and others" if names.nunique() > 3 else "")
        led.setdefault(shown, []).append((group["variant"].iloc[0], best))
    words = []
    for leader, places in led.items():
        merits = sorted(merit for _, merit in places)
        low, high = number(merits[0]), number(merits[-1])
        reach = low if low == high else f"{low} to {high}"
        where = ", ".join(name for name, _ in places)
        if len(groups) == 1:
            where = ""
        elif len(places) == len(groups):
            where = f" in all {len(groups)} variants"
        else:
            where = f" in {where}"
        text = (
            "{leader}{where}, {reach} times the reference" if not words else "{leader}{where}, {reach} times"
        )
        words.append(prose(text, leader=leader, where=f"\x00{where}", reach=reach).text.replace("\x00", ""))
    return "; ".join(words)


def _beating(groups: list[pd.DataFrame], reference: str) -> str:
    """How many outlines carry more than the reference."""
    shares = [int((group["merit"] > 1 + ALIKE).sum()) for group in groups]
    sizes = [len(group) for group in groups]
    least, most = min(shares), max(shares)
    reach = str(least) if least == most else f"{least} to {most}"
    return prose(
        "{reach} of {size} carry more than {reference}.", reach=reach, size=max(sizes), reference=reference
    ).text


def comparisons(found: Assembled) -> Prose:
    """How many comparisons were made, and how close the first and the second are."""
    ranked = found.ranks[(found.ranks["level"] == "outline")]
    sizes = ranked.groupby(["variant", "load_case", "limit_states_checked"], sort=False).size()
    pairs = int((sizes * (sizes - 1) // 2).sum())
    close = _close(found)
    words = prose(
        "{compared} with the reference and ranked in {panels}: {pairs} implied. No test of significance "
        "is made and nothing is corrected for their number; the merits are computed, not sampled.",
        compared=count(
            int(np.isfinite(found.members["merit"].astype(float)).sum()),
            "member was compared",
            "members were compared",
        ),
        panels=count(len(sizes), "group"),
        pairs=count(pairs, "comparison of a pair is", "comparisons of pairs are"),
    ).text
    if len(close):
        words += prose(
            " Where merits differ at all, the first leads the second by {low} to {high} ([Table](#tab:leads)).",
            low=share(float(close["lead"].min())),
            high=share(float(close["lead"].max())),
        ).text
    return Prose(words)


def _close(found: Assembled) -> pd.DataFrame:
    """First and second of every variant and load case, and the share by which the first leads."""
    rows = []
    for (variant, case), part in once(found.members).groupby(["variant", "load_case"], sort=False):
        known = part[np.isfinite(part["merit"].astype(float))].sort_values(
            "merit", ascending=False, kind="stable"
        )
        if len(known) < 2 or _equal(known["merit"]):
            continue
        first, second = known.iloc[0], known.iloc[1]
        rows.append(
            (case, variant, first["outline"], second["outline"], float(first["merit"] / second["merit"] - 1))
        )
    return pd.DataFrame(rows, columns=["load case", "variant", "first", "second", "lead"])


def leads(found: Assembled) -> Table | Prose:
    """By how much the first leads the second, in every variant and load case."""
    close = _close(found)
    if close.empty:
        return Prose("No load case has a first and a second to tell apart.")
    close["lead"] = [share(value) for value in close["lead"]]
    return table(close, "leads", "By how much the first leads the second (merit). Ties of all are left out.")


def agreement(found: Assembled) -> Table | Prose:
    """Whether the order of the outlines is the same between variants (Kendall's τ, load case by load case)."""
    rows = [
        row
        for case, part in once(found.members).groupby("load_case", sort=False)
        for row in _pairs(case, part)
    ]
    if not rows:
        return Prose("There are no two variants whose order could be compared.")
    frame = pd.DataFrame(rows, columns=["load case", "variants", "outlines", "Kendall’s τ", "same leader"])
    caption = (
        "Agreement of the order of merit between variants: τ = 1 the same order, 0 none, −1 the reverse "
        "(ties counted as such, τ-b)."
    )
    return table(frame, "agreement", caption, digits=2, most=60)


def _pairs(case: str, part: pd.DataFrame) -> list[tuple]:
    wide = part.pivot_table(
        index=["outline", "orientation_deg"], columns="variant", values="merit", sort=False
    )
    names, rows = list(wide.columns), []
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            both = wide[[one, other]].dropna()
            tau = tau_b(both[one], both[other])
            if np.isfinite(tau):
                rows.append(
                    (
                        case,
                        f"{one} – {other}",
                        len(both),
                        tau,
                        bool(both[one].idxmax() == both[other].idxmax()),
                    )
                )
    return rows


def tau_b(one: pd.Series, other: pd.Series) -> float:
    """Kendall's τ-b; NaN where all of either are equal, or too few are left."""
    if len(one) < FEW_TO_COMPARE or _equal(one) or _equal(other):
        return float("nan")
    from scipy.stats import kendalltau  # loads for half a second; few studies compare so many

    # Equal merits must stay ties whatever their last digits say.
    return float(kendalltau(np.round(np.log(one), 8), np.round(np.log(other), 8)).statistic)


NORMALISATIONS = "load at equal mass (the merit), load of the fitted size, load ÷ mass of the fitted size"


def normalisations(found: Assembled) -> Table | Prose:
    """Whether the way of comparing decides the order: merit against other ways of counting."""
    rows = []
    for (case, variant), part in once(found.members).groupby(["load_case", "variant"], sort=False):
        load = part.get("resistance_N", pd.Series(np.nan, index=part.index)).fillna(
            part.get("resistance_Nmm", np.nan)
        )
        known = pd.DataFrame({"merit": part["merit"], "load": load, "mass": part["mass_kg"]}, dtype=float)
        known = known[np.isfinite(known).all(axis=1) & (known > 0).all(axis=1)]
        ways = [tau_b(known["merit"], known["load"]), tau_b(known["merit"], known["load"] / known["mass"])]
        if np.isfinite(ways).any():
            rows.append((case, variant, len(known), *ways))
    if not rows:
        return Prose("There is no load case in which the way of comparing could change the order.")
    columns = ["load case", "variant", "outlines", "τ with load as fitted", "τ with load ÷ mass as fitted"]
    caption = (
        f"Does the normalisation decide the order? Kendall’s τ-b between three of them: {NORMALISATIONS}."
    )
    return table(pd.DataFrame(rows, columns=columns), "normalisations", caption, digits=2)


def stability(found: Assembled) -> Table | Prose:
    """How often the order flips under the stated uncertainty of material, dimensions and model."""
    if "flip_probability" not in found.members or found.members["flip_probability"].isna().all():
        return Prose(
            "Not assessed: the study states no uncertainty, so that no merit has an interval and how often the order "
            "would flip is not known."
        )
    rows = []
    for (case, variant), part in found.members.groupby(["load_case", "variant"], sort=False):
        flips = part["flip_probability"].astype(float)
        known = part[np.isfinite(part["merit"].astype(float))]
        if known.empty or flips.isna().all() or _equal(known["merit"].astype(float)):
            continue
        leader = known.loc[known["merit"].astype(float).idxmax()]
        interval = number(leader["merit"], "", leader["merit_low"], leader["merit_high"])
        shares = [share(float(flips.median())), share(float((flips > 0.1).sum() / flips.notna().sum()))]
        rows.append(
            (case, variant, leader["outline"], interval, share(float(leader["flip_probability"])), *shares)
        )
    if not rows:
        return Prose("In no load case do the merits differ: there is no order that could flip.")
    columns = ["load case", "variant", "first", "its merit (95 %)", "the second ahead of it", "median of neighbours",
               "neighbours above 10 %"]  # fmt: skip
    caption = (
        "How sure the order is: the chance that the next outline in the rank stands ahead, under the stated uncertainty. "
        "What scatters alike for both outlines of a merit cancels in it. Where all merits are equal there is no first, "
        "and no row."
    )
    return table(pd.DataFrame(rows, columns=columns), "stability", caption)


def attrition(found: Assembled) -> Table | Prose:
    """Who dropped out: outlines left out and members not assessed, by family and character."""
    rows = [row for group in ("family", "character") for row in _lost_by(found, group)]
    lost = [row for row in rows if row[3] or row[4]]
    if not lost:
        return Prose(
            "No family and no character lost an outline, and every member was assessed: nothing dropped out that "
            "a group's rank could hide."
        )
    columns = ["group", "item", "outlines", "left out", "not assessed in some load case", "share lost"]
    caption = "Attrition: what each family and character lost. Those that lost nothing are not shown."
    return table(pd.DataFrame(lost, columns=columns), "attrition", caption, most=80)


def _lost_by(found: Assembled, group: str) -> list[tuple]:
    about = found.sections.table.drop_duplicates("outline")[["outline", "family", "character"]]
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
    gone = gone[left[1] != ""]
    missing = found.members[~np.isfinite(found.members["merit"].astype(float))]["outline"].unique()
    rows = []
    for item in sorted({*about[group].astype(str), *gone[group].astype(str)} - {""}):
        used = about[about[group].astype(str) == item]
        out, unknown = int((gone[group] == item).sum()), int(used["outline"].isin(missing).sum())
        total = len(used) + out
        rows.append((group, item, total, out, unknown, share((out + unknown) / total)))
    return rows


def bias(found: Assembled) -> Prose:
    """Whether what was left out or not assessed differs from the rest, as far as this study can tell."""
    left, used = len(found.sections.left_out), found.sections.table["outline"].nunique()
    if not left:
        opening = "Nothing was left out."
    else:
        reasons = (
            found.sections.left_out["reason"].astype(str).str.replace(r"\d+(?:[.,]\d+)*", "…", regex=True)
        )
        most = reasons.value_counts()
        opening = prose(
            "{left} of {all} ({part}) were left out; the commonest reason, {times}: “{reason}”. "
            "The ranks hold for outlines that can be made this way and for no others ([Table](#tab:attrition)).",
            left=left, all=count(left + used, "outline"), part=share(left / (left + used)),
            times=f"{int(most.iloc[0])}×", reason=most.index[0],
        ).text  # fmt: skip
    known = np.isfinite(found.members["merit"].astype(float))
    if known.all():
        return Prose(f"{opening} Every member could be assessed.")
    if not known.any():
        return Prose(f"{opening} No member could be assessed.")
    ratio = found.members.loc[~known, "mass_kg"].median() / found.members.loc[known, "mass_kg"].median()
    tail = prose(
        " {lost} of {all} could not be assessed; their median mass is {ratio} times that of the assessed ones.",
        lost=int((~known).sum()), all=count(len(known), "member"), ratio=number(float(ratio), digits=2),
    ).text  # fmt: skip
    return Prose(opening + tail)


def same_preparation(study: Study) -> bool:
    """Whether all variants share one way of making outlines into sections."""
    return len(preparations(study)) == 1
