"""What a write-up tells of the shortlist: the buckling of its walls, in a table and a few pictures."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.members.service import at_service
from kit.members.walls import KINDS
from kit.sections.halfwave_record import CurveRecord
from kit.study.resolving import Study
from kit.study.stages import Assembled
from kit.study.walls import WITH_WALLS, Walls
from kit.writeup.figures import Figure
from kit.writeup.halfwave_charts import half_wavelength_figure
from kit.writeup.numbers import count, share
from kit.writeup.tables import Prose, Table, prose, table

PICTURES = 3
DOES_NOT_APPLY = "no interior minimum: does not apply"


def show(study: Study, found: Assembled) -> None:
    """Display the section on the shortlist; nothing where no walls were looked at."""
    if found.closer is None or found.closer.table.empty:
        return
    from IPython.display import display

    for part in parts(study, found):
        display(part)


def parts(study: Study, found: Assembled) -> list:
    """Everything the section shows, in order."""
    rows = rows_of(found)
    return [
        Prose("### Shortlist: the walls"),
        summary(rows),
        critical(found.closer, rows),
        *pictures(study, found),
    ]


def rows_of(found: Assembled) -> pd.DataFrame:
    """The shortlist joined with its members."""
    keys = ["variant", "load_case", "section_id"]
    wanted = [*keys, "outline", "resistance_N", "limit_state", "merit", WITH_WALLS]
    return found.closer.table.merge(found.members[wanted], on=keys, how="left")


def summary(rows: pd.DataFrame) -> Prose:
    """How many walls give way first, and what it does to the comparison."""
    opening = prose(
        "The best and worst outlines of each variant and the reference had their half-wavelength curves computed "
        "under {cases} ([Table](#tab:critical-stresses)): {members}.",
        cases=" and ".join(rows["load_case"].drop_duplicates()),
        members=count(len(rows), "member"),
    )
    lowered = rows[rows["limit_state"].isin(KINDS)]
    share_left = lowered["resistance_N"] / lowered["resistance_without_walls"]
    found = (
        "In none of them do the walls decide."
        if lowered.empty
        else prose(
            "In {lowered} of them the walls decide, and take up to {most} off the resistance.",
            lowered=len(lowered),
            most=share(1 - float(share_left.min())),
        ).text
    )
    rest = (
        "Their resistances count that in. Merits and ranks leave it out for every outline alike, since the others "
        "were not looked at so closely; *merit with walls* says what it would do. An outline whose curve falls all "
        "the way has no walls that could buckle before the whole member does."
    )
    return Prose(" ".join([opening.text, found, rest]))


def critical(closer: Walls, rows: pd.DataFrame) -> Table:
    """Critical stresses of the shortlist, with what does not apply in words."""
    frame = pd.DataFrame(
        {
            "outline": rows["outline"],
            "variant": rows["variant"],
            "load_case": rows["load_case"],
            "place": rows["place"],
            **{
                f"{kind} [MPa at depths]": [
                    _critical(closer.curves.get((r.variant, r.load_case, r.section_id)), kind, r.why)
                    for r in rows.itertuples()
                ]
                for kind in KINDS
            },
            "without walls [kN]": rows["resistance_without_walls"] / 1e3,
            "with walls [kN]": rows["resistance_N"] / 1e3,
            "limit_state": rows["limit_state"],
            "merit": rows["merit"],
            "merit with walls": rows[WITH_WALLS],
        }
    )
    caption = (
        "Critical stresses of the shortlist (greatest compressive stress when the walls begin to buckle, and the "
        "half-wavelength ÷ depth at which they do), and resistances without and with the walls."
    )
    return table(frame, "critical-stresses", caption)


def _critical(curve: CurveRecord | None, kind: str, why: str) -> str:
    if curve is None:
        return why
    lowest = curve.lowest(kind)
    if not np.isfinite(lowest):
        return DOES_NOT_APPLY if not curve.minima else "does not apply"
    shape = next(one for one in curve.minima if one.stress_MPa == lowest)
    return f"{lowest:.3g} at {shape.half_wavelength_mm / curve.depth_mm:.2g}"


def pictures(study: Study, found: Assembled, most: int = PICTURES) -> list[Figure]:
    """Half-wavelength pictures of the shortlist's lowest walls against strength, one an outline."""
    closer, shown, seen = found.closer, [], set()
    strength = {v.name: at_service(v.material, v.service).compression for v in study.variants}
    names = dict(zip(found.members["section_id"], found.members["outline"], strict=True))
    order = sorted(
        closer.curves, key=lambda key: (min(map(closer.curves[key].lowest, KINDS)) / strength[key[0]], key)
    )
    for variant, case, section in order:
        if names[section] in seen or len(shown) == most:
            continue
        seen.add(names[section])
        title = f"{names[section]}, {case}, {variant}"
        key = f"half-wavelength-{len(shown) + 1}"
        curve = closer.curves[variant, case, section]
        shown.append(half_wavelength_figure(curve, title, key, strength[variant]))
    return shown
