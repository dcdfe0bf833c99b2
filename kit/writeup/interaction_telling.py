"""What a write-up tells of loads that act at once."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.study.resolving import Study
from kit.study.stages import Assembled
from kit.writeup.numbers import count
from kit.writeup.tables import Prose, Table, prose, table

FEW = 5


def show(study: Study, found: Assembled) -> None:
    """Display the part on loads that act at once; nothing where the study states none."""
    if found.interactions.empty:
        return
    from IPython.display import display

    for part in (heading(found.interactions), *summaries(found.interactions), best(found.interactions)):
        display(part)


def heading(rows: pd.DataFrame) -> Prose:
    """By what expression, in words."""
    words = {
        "linear": "the shares that each load uses of its own resistance add up to 1 (EN 1993-1-1, 6.2.1(7))",
        "AISC 360 H1": "by AISC 360, H1-1, for an axial force and bending",
    }
    told = "; ".join(f"*{name}*: {words[name]}" for name in rows["expression"].drop_duplicates())
    return Prose(
        f"### Loads that act at once\n\nAll loads of a case grow together until {told}. What bends grows by "
        "1 / (1 − N/N_cr) with the compressive force N. The resistances are those of the members' table, with all "
        "their limit states; the expressions are no code's check of the buckling of a member under both. Every "
        "row is in interactions.csv, with the factor on the loads at which the expression reaches 1."
    )


def summaries(rows: pd.DataFrame) -> list[Prose]:
    """For each of them how many members hold."""
    parts = []
    for (variant, name), some in rows.groupby(["variant", "interaction"], sort=False):
        known = some[some["use"].notna()]
        parts.append(
            prose(
                "{name} ({loads}), {variant}: {held} of {known} hold; {silent} not assessed.",
                name=str(name),
                loads=some["loads"].iloc[0],
                variant=str(variant),
                held=int((known["use"] <= 1.0).sum()),
                known=count(len(known), "member"),
                silent=len(some) - len(known),
            )
        )
    return parts


def best(rows: pd.DataFrame) -> Table:
    """The members that hold the most for what they weigh, and how far they are used."""
    known = rows[np.isfinite(rows["load_factor"])]
    known = known.assign(per_mass=known["load_factor"] / known["mass_kg"])
    order = ["variant", "interaction", "per_mass", "section_id"]
    known = known.sort_values(order, ascending=[True, True, False, True], kind="stable")
    few = known.groupby(["variant", "interaction"], sort=False).head(FEW)
    columns = ["outline", "orientation_deg", "variant", "interaction", "mass_kg", "use", "load_factor"]
    columns += ["design_use"] if "design_use" in few else []
    caption = f"Loads that act at once: the {FEW} members of each that carry most for their mass."
    return table(few[[*columns, "greatest_share_of"]], "interactions", caption)
