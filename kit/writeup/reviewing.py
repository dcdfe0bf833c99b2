"""Ten questions a reviewer of the methods asks, each answered from this study or with an honest "not done"."""

from __future__ import annotations

import pandas as pd

from kit.sections.audit import FINER
from kit.study import auditing
from kit.study.resolving import Study
from kit.study.results import Folder
from kit.study.stages import Assembled
from kit.writeup import dropouts, findings
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, prose

NOT_DONE = "Not done in this study"


def questions(study: Study, folder: Folder, found: Assembled) -> Prose:
    """The ten questions and their answers, as a numbered list."""
    asked = (
        ("Which population do the outlines stand for, and how were they sampled?", _population(study, found)),
        ("Is leaving outlines out biased?", dropouts.bias(found).text),
        ("Does the normalisation decide the ranking?", _normalisation(study, found)),
        ("What is scaled when members are compared at equal mass?", EQUAL_MASS),
        ("What do the intervals of the ranks resample?", _resampled(study, found)),
        ("Which inputs scatter, how, and are they correlated?", _scatter(study)),
        ("How many comparisons were made?", findings.comparisons(found).text),
        ("How was the computation verified, with which error of mesh and flattening?", _verified(study, found)),
        ("What was predicted before testing, with how many replicates, at which rate and temperature?",
         _tested(study, folder)),
        ("Can it be repeated without the fonts and drawings?", _repeatable()),
    )  # fmt: skip
    return Prose(
        "\n".join(f"{place}. **{question}** {answer}\n" for place, (question, answer) in enumerate(asked, 1))
    )


EQUAL_MASS = (
    "The section as cut is scaled by geometrical similarity, at fixed length, until the member weighs what the "
    "reference weighs, and its resistance is evaluated again at that size with every limit state it was checked "
    "for; no power law is used. What does not scale in the workshop – the cutter’s radius, the least wall – is "
    "scaled with it, so that a merit far from 1 in mass is a statement about the shape, not about a piece that "
    "could be made."
)


def _population(study: Study, found: Assembled) -> str:
    table = found.sections.table.drop_duplicates("outline")
    letters = table[table["character"].astype(str) != ""]
    return prose(
        "{outlines} chosen by the study, not drawn at random: {letters} from {families}, {others}. What is said of them "
        "holds for these outlines; it is no estimate for typefaces or shapes at large. Outlines of one family resemble "
        "each other and are no independent draws.",
        outlines=count(len(table), "outline was", "outlines were"),
        letters=count(len(letters), "character"),
        families=count(letters["family"].nunique(), "family", "families"),
        others=count(len(table) - len(letters), "drawing or standard shape", "drawings or standard shapes"),
    ).text


def _normalisation(study: Study, found: Assembled) -> str:
    ways = findings.normalisations(found)
    text = (
        "[Table](#tab:normalisations) sets the order by merit beside the order of the loads as fitted and of load ÷ mass."
        if isinstance(ways, findings.Table)
        else ways.text
    )
    if findings.same_preparation(study):
        return text + f" {NOT_DONE}: all variants fit the outlines in one way; another fit was not tried."
    return text + " Variants that fit the outlines in other ways are compared in [Table](#tab:agreement)."


def _resampled(study: Study, found: Assembled) -> str:
    unit = study.model.ranking.resample
    groups = found.ranks[found.ranks["level"].isin(study.model.ranking.group_by)]
    if unit == "none" or groups.empty:
        return f"{NOT_DONE}: the study ranks no groups, and a single outline has nothing to resample."
    told = [_drawn(str(level), part, unit) for level, part in groups.groupby("level", sort=False)]
    if groups["rank_low"].notna().any():
        told.append("These intervals say nothing of material, dimensions or model.")
    return " ".join(told)


def _drawn(level: str, groups: pd.DataFrame, unit: str) -> str:
    """What is drawn again for the ranks of one kind of group; families themselves are ranked by their characters."""
    drawn = "character" if level == "family" else unit
    known = groups[groups["rank_low"].notna()]
    if known.empty:
        return prose(
            "Ranks by {level} stand without an interval: they would resample by {drawn}, and there are at most {most} in "
            "a group (five are the least).",
            level=level, drawn=drawn, most=int(groups["families"].max()),
        ).text  # fmt: skip
    styles = " with the median of its styles" if drawn in ("family", "character") else ""
    return prose(
        "Ranks by {level}: each {drawn} enters" + styles + " and is drawn again with replacement ({most} in the "
        "largest group); the interval tells how far a rank depends on which {drawn} happened to be chosen.",
        level=level, drawn=drawn, most=int(known["families"].max()),
    ).text  # fmt: skip


def _scatter(study: Study) -> str:
    stated = study.model.uncertainty
    if stated is None:
        return (
            f"{NOT_DONE}: the study states no `uncertainty`, so that the resistances are those of the mean values of "
            "[Table](#tab:materials) and carry no interval."
        )
    kinds = ", ".join(f"{kind} {share(value)}" for kind, value in stated.model if value)
    text = prose(
        "{samples} with seed {seed}: modulus and strengths lognormal with the coefficients of variation of the "
        "materials, edges normal with a standard deviation of {edges}, the model by kind of load case ({kinds}). All "
        "strengths of a material move together, its modulus apart from them, and one draw of the material is shared "
        "by all outlines; edges and model errors are drawn for each section by itself ",
        samples=count(stated.samples, "sample"),
        seed=stated.seed,
        edges=number(stated.dimensions, "mm") if stated.dimensions else "0 mm",
        kinds=kinds or "no scatter stated",
    ).text
    return f"{text}([Table](#tab:uncertainty))."


def _verified(study: Study, found: Assembled) -> str:
    checks, audited, table = found.checks, found.audit, found.sections.table
    counted = checks[checks["confidence"] != "from memory"] if "confidence" in checks else checks
    passed = int(counted["passed"].astype(str).isin(["True", "true", "1"]).sum())
    width = (table["J_high_mm4"] - table["J_low_mm4"]) / table["J_mm4"]
    text = prose(
        "{passed} of {all}{which} were met in this run; bounds on J prove the mesh’s error, at most {mesh} ",
        passed=passed,
        which=" (a seeded sample)" if study.model.verification.published else "",
        all=count(len(counted), "published value"),
        mesh=share(float(width.max())),
    ).text
    text += "([Figure](#fig:bounds-on-J))"
    finer = audited[audited["route"] == FINER] if len(audited) else audited
    if len(finer):
        text += prose(
            "; an outline flattened {times} times more finely changes area and second moments by at most {part}",
            times=f"{auditing.FINER:g}",
            part=share(float(pd.to_numeric(finer["difference"], errors="coerce").abs().max())),
        ).text
    sections = audited["section_id"].nunique() if len(audited) else 0
    if not sections:
        return f"{text}. {NOT_DONE}: no section was audited by another route."
    worst = pd.to_numeric(audited["difference"], errors="coerce").abs().max()
    return text + prose(
        "; {sections} recomputed by other routes: the greatest difference is {worst} ", sections=count(sections, "section"),
        worst=share(float(worst)),
    ).text + "([Table](#tab:audit))."  # fmt: skip


def _tested(study: Study, folder: Folder) -> str:
    if study.model.trials is None:
        return f"{NOT_DONE}: it has no trials; every load is a prediction that no test has checked."
    from kit.study.trialling import kept_trials

    trials = kept_trials(folder)
    pieces = trials.table
    designs = pieces.groupby(["outline", "load_case"]).size()
    told = prose(
        "{order} {pieces} of {designs} were tested, {least} to {most} of each. Rate and temperature are those of the "
        "records and of the materials’ conditions in the table of materials.",
        order=trials.order, pieces=count(len(pieces), "piece"), designs=count(len(designs), "design"),
        least=int(designs.min()) if len(designs) else 0, most=int(designs.max()) if len(designs) else 0,
    ).text  # fmt: skip
    return told + (" **The records are invented.**" if trials.invented else "")


def _repeatable() -> str:
    return (
        "Yes, from the sections on: `sections.parquet` holds every property the members are computed from, and the "
        "lines in [Section](#sec:how-to-repeat-this-study) read nothing else. The sections themselves need the files of "
        "[Table](#tab:inputs), which are named there with their SHA-256 and not passed on."
    )
