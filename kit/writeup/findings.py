"""What a study found, in numbers: who leads where, and what could change the order."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.study.measured import row_with_curve_moments
from kit.study.ranking import checked_apart, once
from kit.study.resolving import Study
from kit.study.stages import Assembled, preparations, reference_row, sections_of
from kit.writeup.charts.frames import labels
from kit.writeup.charts.lines import reference_line
from kit.writeup.dropouts import left_out, partly
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


def compared(found: Assembled) -> pd.DataFrame:
    """The members as they are compared: identical outlines once, each outline with its turn where the study turns
    them, each load case with what was checked where some of its members were checked for more than others."""
    return _told(once(found.members))


def _told(members: pd.DataFrame) -> pd.DataFrame:
    members = members.reset_index(drop=True)
    checked = checked_apart(members)
    case = members["load_case"].astype(str)
    named = case.where(checked == "", case + ", " + checked)
    return members.assign(case=case, load_case=named, outline=labels(members), load=loads(members))


def loads(members: pd.DataFrame) -> pd.Series:
    """What each member carries: N, or N mm in torsion; NaN where it was not assessed."""
    force = members["resistance_N"] if "resistance_N" in members else pd.Series(np.nan, members.index)
    return force.astype(float).fillna(members.get("resistance_Nmm", np.nan)).astype(float)


def _reference(study: Study, found: Assembled) -> str:
    """The reference as the write-up names it: with its turn where the study turns outlines."""
    turned = found.members["orientation_deg"].nunique() > 1
    return f"{study.reference[0]} · {study.reference[1]:g}°" if turned else study.reference[0]


def summary(study: Study, found: Assembled) -> Prose:
    """The main findings in numbers: what was compared, and who leads in each load case."""
    sections, reference = found.sections.table, _reference(study, found)
    opening = prose(
        "{outlines} made into {sections}; {left} left out{partly}. {members} evaluated in {variants}, to be compared with "
        "the reference, {reference}, at equal mass.",
        outlines=count(sections["outline"].nunique(), "outline was", "outlines were"),
        sections=count(len(sections), "section"),
        left=count(len(left_out(found)), "outline was", "outlines were"),
        partly=partly(found),
        members=count(len(found.members), "member was", "members were"),
        variants=count(found.members["variant"].nunique(), "variant"),
        reference=reference,
    ).text
    members, every = compared(found), _told(found.members)
    own = every[every["outline"] == reference]
    lines = [
        _leaders(case, part, (reference, own)) for case, part in members.groupby("load_case", sort=False)
    ]
    return Prose("\n".join([opening, "", *(f"- {line}" for line in lines)]))


def _leaders(case: str, part: pd.DataFrame, reference: tuple[str, pd.DataFrame]) -> str:
    """One load case: who leads in which variants, by how much, and how many could be compared."""
    known = part[np.isfinite(part["merit"].astype(float))]
    missing = _missing(part, *reference)
    head = prose("**{case}**: ", case=case).text
    if known.empty:
        return head + (missing or "there is no member.")
    missing = f" {missing}" if missing else ""
    groups = [group for _, group in known.groupby("variant", sort=False)]
    if len(known) == len(groups):
        return head + f"only one outline could be compared.{missing}"
    if all(_equal(group["merit"]) for group in groups):
        return head + f"all outlines carry the same load at equal mass; none leads.{missing}"
    return f"{head}{_named(groups, part['variant'].nunique())}. {_beating(groups, *reference)}{missing}"


def _missing(part: pd.DataFrame, reference: str, own: pd.DataFrame) -> str:
    """Which members have no merit: those that could not be assessed, and those with nothing to compare with."""
    lost = part[~np.isfinite(part["merit"].astype(float))]
    silent = int(lost["load"].isna().sum())
    words = []
    if silent == len(part):
        words.append(f"none of {count(len(part), 'member')} could be assessed.")
    elif silent:
        words.append(f"{count(silent, 'member')} of {len(part)} could not be assessed.")
    lone = lost[lost["load"].notna()]
    if len(lone):
        there = own.drop_duplicates(["variant", "case"]).set_index(["variant", "case"])["load"]
        places = zip(lone["variant"], lone["case"], strict=True)
        alone = all(not there.get(place, np.nan) > 0 for place in places)
        why = (
            "{reference} itself could not be assessed, or carries no load"
            if alone
            else "no load is known of them at the reference’s mass"
        )
        template = "{n} of {all} could be assessed but not compared: " + why + "."
        values = {"n": len(lone), "all": count(len(part), "member"), "reference": reference}
        words.append(prose(template, **values).text)
    return " ".join(words)


def _equal(merit: pd.Series) -> bool:
    return float(merit.max() - merit.min()) <= ALIKE * abs(float(merit.max()))


def _first(group: pd.DataFrame) -> pd.Series:
    """Which rows of one variant and load case lead: the best, and whatever equals it."""
    merit = group["merit"].astype(float)
    return merit >= float(merit.max()) * (1 - ALIKE)


def _together(names: pd.Series) -> str:
    shown = " and ".join(sorted(set(names))[:3])
    return shown + (" and others" if names.nunique() > 3 else "")


def _named(groups: list[pd.DataFrame], variants: int) -> str:
    """Leaders with the variants they lead in, variants of one leader together."""
    led: dict[str, list[tuple[str, float]]] = {}
    for group in groups:
        shown = _together(group.loc[_first(group), "outline"])
        led.setdefault(shown, []).append((group["variant"].iloc[0], float(group["merit"].max())))
    words = []
    for leader, places in led.items():
        merits = sorted(merit for _, merit in places)
        low, high = number(merits[0]), number(merits[-1])
        reach = low if low == high else f"{low} to {high}"
        where = f" in {', '.join(name for name, _ in places)}"
        if variants == 1:
            where = ""
        elif len(places) == variants:
            where = f" in all {variants} variants"
        text = (
            "{leader}{where}, {reach} times the reference" if not words else "{leader}{where}, {reach} times"
        )
        words.append(prose(text, leader=leader, where=f"\x00{where}", reach=reach).text.replace("\x00", ""))
    return "; ".join(words)


def _beating(groups: list[pd.DataFrame], reference: str, own: pd.DataFrame) -> str:
    """How many outlines carry more than the reference; not said where it was checked for other limit states."""
    cases = set(own["load_case"])
    if groups[0]["load_case"].iloc[0] not in cases:
        return prose(
            "{reference} was checked for other limit states than these: they compare with each other only.",
            reference=reference,
        ).text
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
    leads_by = close["lead"].astype(float)
    leads_by = leads_by[np.isfinite(leads_by)]
    if len(leads_by):
        low, high = share(float(leads_by.min())), share(float(leads_by.max()))
        words += prose(
            " Where merits differ at all, the first leads the second by {reach} ([Table](#tab:leads)).",
            reach=low if low == high else f"{low} to {high}",
        ).text
    return Prose(words)


def _close(found: Assembled) -> pd.DataFrame:
    """First and second of every variant and load case, and the share by which the first leads."""
    rows = []
    for (variant, case), part in compared(found).groupby(["variant", "load_case"], sort=False):
        known = part[np.isfinite(part["merit"].astype(float))]
        known = known.sort_values(["merit", "section_id"], ascending=[False, True], kind="stable")
        if len(known) < 2 or _equal(known["merit"]):
            continue
        leading = _first(known)
        best, second = float(known["merit"].iloc[0]), known[~leading].iloc[0]
        lead = best / float(second["merit"]) - 1 if second["merit"] > 0 else np.inf
        rows.append((case, variant, _together(known.loc[leading, "outline"]), second["outline"], lead))
    return pd.DataFrame(rows, columns=["load case", "variant", "first", "second", "lead"])


def leads(found: Assembled) -> Table | Prose:
    """By how much the first leads the second, in every variant and load case."""
    close = _close(found)
    if close.empty:
        return Prose("No load case has a first and a second to tell apart.")
    close["lead"] = [
        share(value) if np.isfinite(value) else "the second carries nothing" for value in close["lead"]
    ]
    return table(close, "leads", "By how much the first leads the second (merit). Ties of all are left out.")


def agreement(found: Assembled) -> Table | Prose:
    """Whether the order of the outlines is the same between variants (Kendall's τ, load case by load case)."""
    rows = [
        row for case, part in compared(found).groupby("load_case", sort=False) for row in _pairs(case, part)
    ]
    if not rows:
        return Prose(
            f"There are no two variants whose orders could be compared: that takes {FEW_TO_COMPARE} outlines with "
            "different merits in both."
        )
    frame = pd.DataFrame(rows, columns=["load case", "variants", "outlines", "Kendall’s τ", "same leader"])
    caption = (
        "Agreement of the order of merit between variants: τ = 1 the same order, 0 none, −1 the reverse "
        "(ties counted as such, τ-b)."
    )
    return table(frame, "agreement", caption, digits=2, most=60)


def _pairs(case: str, part: pd.DataFrame) -> list[tuple]:
    wide = part.pivot_table(index="outline", columns="variant", values="merit", sort=False)
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
                        bool(_ahead(both[one]) & _ahead(both[other])),
                    )
                )
    return rows


def _ahead(merit: pd.Series) -> set:
    """The outlines that lead, ties together."""
    return set(merit.index[merit >= float(merit.max()) * (1 - ALIKE)])


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
    rows, few = [], False
    for (case, variant), part in compared(found).groupby(["load_case", "variant"], sort=False):
        known = pd.DataFrame(
            {"merit": part["merit"], "load": part["load"], "mass": part["mass_kg"]}, dtype=float
        )
        known = known[np.isfinite(known).all(axis=1)]
        few |= len(known) > 1 and not _equal(known["merit"])
        known = known[(known > 0).all(axis=1)]
        ways = [tau_b(known["merit"], known["load"]), tau_b(known["merit"], known["load"] / known["mass"])]
        if np.isfinite(ways).any():
            rows.append((case, variant, len(known), *ways))
    if not rows and few:
        return Prose(
            f"Not assessed: no load case has {FEW_TO_COMPARE} outlines that carry something, too few to compare orders."
        )
    if not rows:
        return Prose("No load case has two outlines that the merit tells apart.")
    columns = ["load case", "variant", "outlines", "τ with load as fitted", "τ with load ÷ mass as fitted"]
    caption = (
        f"Does the normalisation decide the order? Kendall’s τ-b between three of them: {NORMALISATIONS}. "
        "Outlines that carry no load are not counted."
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
    for (case, variant), part in compared(found).groupby(["load_case", "variant"], sort=False):
        flips = part["flip_probability"].astype(float)
        known = part[np.isfinite(part["merit"].astype(float))]
        if known.empty or flips.isna().all() or _equal(known["merit"].astype(float)):
            continue
        # Of several that lead together the last stands before the second.
        leaders = known[_first(known)].sort_values(
            ["merit", "section_id"], ascending=[False, True], kind="stable"
        )
        leader = leaders.iloc[-1]
        interval = number(leader["merit"], "", leader["merit_low"], leader["merit_high"])
        shares = [share(float(flips.median())), share(float((flips > 0.1).sum() / flips.notna().sum()))]
        rows.append(
            (
                case,
                variant,
                _together(leaders["outline"]),
                interval,
                share(float(leader["flip_probability"])),
                *shares,
            )
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


def same_preparation(study: Study) -> bool:
    """Whether all variants share one way of making outlines into sections."""
    return len(preparations(study)) == 1
