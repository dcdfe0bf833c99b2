"""What a write-up tells of uncertainty: what scatters, how, and what moves together."""

from __future__ import annotations

import pandas as pd

from kit.study.resolving import Study
from kit.writeup.numbers import count, number, share
from kit.writeup.tables import Prose, Table, prose, table


def show(study: Study) -> None:
    """Display the whole part on uncertainty; nothing where the study states none."""
    if study.model.uncertainty is None:
        return
    from IPython.display import display

    for part in (heading(study), inputs(study)):
        display(part)


def heading(study: Study) -> Prose:
    """How the uncertainty was carried, in words."""
    stated = study.model.uncertainty
    return prose(
        "What scatters is in [Table](#tab:uncertainty), drawn {samples} with the seed "
        "{seed}; the members' formulas were evaluated for every draw. All strengths of a material move "
        "together, its modulus apart from them; one stock serves all outlines, so that what is common to all "
        "cancels in a merit. Edges and model errors are drawn for each section by itself. The intervals in "
        "members.csv and ranks.csv lie between the 2.5 % and 97.5 % points; `flip_probability` is the chance "
        "that the next outline in a rank stands ahead of the one before it.",
        samples=count(stated.samples, "time"),
        seed=str(stated.seed),
    )


def inputs(study: Study) -> Table:
    """What scatters: its distribution, mean and spread, and what it moves with."""
    stated, rows = study.model.uncertainty, []
    for material in {one.material.key: one.material for one in study.variants}.values():
        values = {
            "Young's modulus": (material.youngs_modulus_MPa, "all sections; apart from the strengths"),
            "yield strength, tension": (material.yield_tension_MPa, "all sections; with the other strengths"),
            "yield strength, compression": (material.yield_compression_MPa, "the same"),
            "tensile strength": (material.ultimate_tension_MPa, "the same"),
            "bending strength": (material.bending_strength_MPa, "the same"),
            "shear strength": (material.shear_strength_MPa, "the same"),
        }
        for name, (value, alike) in values.items():
            if value is not None:
                mean = number(value.mean, "MPa", digits=4)
                rows.append((f"{name}, {material.name}", "lognormal", mean, share(value.cov), alike))
    edge = number(stated.dimensions, "mm") if stated.dimensions else "none stated"
    rows.append(("how far an edge lies outside", "normal", "0 mm", edge, "nothing: each section by itself"))
    for kind in sorted({case.kind for variant in study.variants for case in variant.cases}):
        cov = getattr(stated.model, kind)
        spread = share(cov) if cov else "none stated"
        rows.append(
            (f"true ÷ predicted, {kind}", "lognormal", "1", spread, "nothing: each section by itself")
        )
    columns = [
        "input",
        "distribution",
        "mean",
        "coefficient of variation, or standard deviation",
        "shared by",
    ]
    return table(
        pd.DataFrame(rows, columns=columns), "uncertainty", "What scatters, and how.", most=len(rows)
    )
