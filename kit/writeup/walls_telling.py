"""What a write-up tells of the shortlist: the buckling of its walls, in a table and a few pictures."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.members.service import at_service
from kit.members.walls import KINDS
from kit.sections.halfwave_record import CurveRecord
from kit.study.ranking import ROUTES
from kit.study.resolving import Study
from kit.study.stages import Assembled
from kit.study.walls import WITH_WALLS, Walls
from kit.writeup.figures import Figure
from kit.writeup.halfwave_charts import half_wavelength_figure
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table

PICTURES = 3
ALIKE = 1e-6
NO_MINIMUM = "no minimum"


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
    """How many resistances the curves lower, by what, and what it does to the comparison."""
    opening = prose(
        "The best and worst outlines of each variant and the reference had their half-wavelength curves computed "
        "under {cases} ([Table](#tab:critical-stresses)): {members}.",
        cases=" and ".join(rows["load_case"].drop_duplicates()),
        members=count(len(rows), "member"),
    )
    return Prose(" ".join([opening.text, _lowered(rows), *_unknown(rows), REST]))


REST = (
    "The resistances count that in. Merits and ranks leave it out for every outline alike, since the others "
    "were not looked at so closely; *merit with walls* says what it would do. Where a curve has no minimum "
    "between its ends, no local or distortional buckling comes before the whole member’s."
)


def lowered(rows: pd.DataFrame) -> pd.Series:
    """Which members carry less once their curves are known."""
    return rows["resistance_N"] < rows["resistance_without_walls"] * (1.0 - ALIKE)


def _lowered(rows: pd.DataFrame) -> str:
    """How many members carry less with their curves, by which limit states, and by how much at most."""
    less = rows[lowered(rows)]
    if less.empty:
        return "None of them carries less for it."
    walls, shape = less["limit_state"].isin(KINDS), less["limit_state"].isin(ROUTES)
    ways = (
        (walls, ""),
        (shape & ~walls, ", whose elastic limit falls where the section may change its shape"),
        (~shape & ~walls, ", where the walls have a part in what the member’s own weight takes"),
    )
    told = [
        prose(
            "{n} by {states}{why}",
            n=int(mask.sum()),
            states=" or ".join(sorted(_named(state) for state in set(less.loc[mask, "limit_state"]))),
            why=why,
        ).text
        for mask, why in ways
        if mask.any()
    ]
    opening = prose(
        "{n} for it, at most {most} less: ",
        n=count(len(less), "of them carries less", "of them carry less"),
        most=share(1 - float((less["resistance_N"] / less["resistance_without_walls"]).min())),
    ).text
    return f"{opening}{'; '.join(told)}."


def _named(state: str) -> str:
    return f"{state} buckling" if state in KINDS else state


def _unknown(rows: pd.DataFrame) -> list[str]:
    """A sentence on members without a curve, if there are any."""
    without = int((rows["why"] != "").sum())
    if not without:
        return []
    return [prose("{n} no curve; the table says why.", n=count(without, "member has", "members have")).text]


def critical(closer: Walls, rows: pd.DataFrame) -> Table:
    """Critical stresses of the shortlist, with what does not apply in words."""
    curves = [closer.curves.get((r.variant, r.load_case, r.section_id)) for r in rows.itertuples()]
    unit, size = _unit(rows["resistance_without_walls"])
    frame = pd.DataFrame(
        {
            "outline": rows["outline"],
            "variant, load case": rows["variant"] + ", " + rows["load_case"],
            "place": rows["place"],
            "walls buckle at": [
                why or _critical(curve) for curve, why in zip(curves, rows["why"], strict=True)
            ],
            f"load without walls [{unit}]": [number(v / size) for v in rows["resistance_without_walls"]],
            f"load with walls [{unit}]": [number(v / size) for v in rows["resistance_N"]],
            "limit_state": rows["limit_state"],
            "merit without walls": [number(v) for v in rows["merit"]],
            "merit with walls": [number(v) for v in rows[WITH_WALLS]],
        }
    )
    caption = (
        "The shortlist: the greatest compressive stress at which the walls of each member begin to buckle, with the "
        "half-wavelength ÷ depth of the buckles; load and merit without and with it; and the place by merit (without) "
        "among the members of the same load case and variant."
    )
    return table(frame, "critical-stresses", caption, numeric=frame.columns[[4, 5, 7, 8]])


def _unit(forces: pd.Series) -> tuple[str, float]:
    """The unit in which these forces read best, and how many newtons it is."""
    return ("kN", 1e3) if forces.median() >= 1e3 else ("N", 1.0)


def _critical(curve: CurveRecord | None) -> str:
    """The lowest minimum of each kind in words, or that there is none."""
    if curve is None:
        return "not assessed"
    told = []
    for kind in KINDS:
        lowest = curve.lowest(kind)
        if np.isfinite(lowest):
            shape = next(one for one in curve.minima if one.stress_MPa == lowest)
            ratio = number(shape.half_wavelength_mm / curve.depth_mm, digits=2)
            told.append(f"{number(lowest, 'MPa')}, {kind}, {ratio} depths")
    return "; ".join(told) or NO_MINIMUM


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
