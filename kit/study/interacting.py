"""The table of members under load cases that act at once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from kit import sources
from kit.members.interaction import combined_of
from kit.members.resistance import load_name
from kit.members.together import Together
from kit.study.results import write_csv
from kit.study.sectioning import Sections

FILE = "interactions.csv"
IDENTITY = ("section_id", "outline", "character", "orientation_deg", "mass_kg")


@dataclass(frozen=True)
class Interactions:
    """Table of all variants' members under loads that act at once (empty without any), and what it rests on."""

    table: pd.DataFrame
    used: frozenset[str]


def evaluate(study, sections: Sections, members: pd.DataFrame) -> Interactions:
    """Every interaction of every variant that has members.

    Parameters
    ----------
    study : Study
    sections : Sections
    members : DataFrame
        Of all variants, with their resistances: walls included where the study looked at them.
    """
    table = sections.table.set_index("section_id", drop=False)
    parts = []
    with sources.recording() as used:
        for variant in study.variants:
            rows = members[members["variant"] == variant.name]
            for one in variant.interactions if len(rows) else ():
                parts.append(_of_variant(variant, one, table, rows))
    found = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
    if not study.factored:
        found = found.drop(columns="design_use", errors="ignore")
    return Interactions(found, frozenset(used))


def _of_variant(variant, one: Together, table: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    cases = {case.name: case for case in variant.cases}
    loads = [(cases[name], load) for name, load in one.loads]
    by_case = [rows[rows["load_case"] == name].set_index("section_id", drop=False) for name, _ in one.loads]
    here = table.loc[by_case[0].index]
    carried = [part.loc[here.index, load_name(case)] for part, (case, _) in zip(by_case, loads, strict=True)]
    made_of = (variant.material, variant.service)
    found = combined_of(here, loads, carried, made_of, one.expression)
    factor = variant.material_factor * variant.load_factor
    raised = [(case, load * factor) for case, load in loads]
    # With the own weight raised too, as it is in the design load of each case alone.
    least = [
        np.minimum(one, part.loc[here.index, "design_load"] * factor) if "design_load" in part else one
        for one, part in zip(carried, by_case, strict=True)
    ]
    shares = np.stack([load / part.to_numpy(float) for (_, load), part in zip(loads, carried, strict=True)])
    greatest = np.argmax(np.where(np.isnan(shares), -np.inf, shares), axis=0)
    known = np.isfinite(found["use"]) | np.isinf(found["use"])
    first = by_case[0]
    return pd.DataFrame(
        {
            "variant": variant.name,
            "interaction": one.name,
            "expression": one.expression,
            "loads": "; ".join(f"{case.name} {told(case.kind, load)}" for case, load in loads),
            **{name: first[name].to_numpy() for name in IDENTITY if name in first},
            "load_factor": found["load_factor"].to_numpy(),
            "use": found["use"].to_numpy(),
            "design_use": combined_of(here, raised, least, made_of, one.expression)["use"].to_numpy(),
            "greatest_share_of": np.where(known, np.array([name for name, _ in one.loads])[greatest], ""),
            "caveats": [
                " ".join(dict.fromkeys(" ".join(keys).split()))
                for keys in zip(found["caveats"], *(part["caveats"] for part in by_case), strict=True)
            ],
        }
    )


def told(kind: str, load: float) -> str:
    """A load with its unit, for people."""
    return f"{load / 1e3:g} N m" if kind == "torsion" else f"{load:g} N"


def keep(folder: Path, table: pd.DataFrame) -> None:
    """Write ``interactions.csv``, or take away that of an earlier run where nothing acts at once any more."""
    if table.empty:
        (folder / FILE).unlink(missing_ok=True)
    else:
        write_csv(table, folder / FILE)
