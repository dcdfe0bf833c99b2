"""What every stage starts from: the study, its folder and limits, the rows and the variant it is about."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from kit.errors import InputError
from kit.study import fanout
from kit.study.resolving import Study, Variant, load_study
from kit.study.results import Folder
from kit.study.sectioning import Sections

STORE = ".store.sqlite"


def open_study(file: str | Path) -> Study:
    """Read and validate a parameter file."""
    return load_study(Path(file))


def folder_of(study: Study, results: str | Path) -> Folder:
    """The study's results folder."""
    return Folder(study.results_folder(Path(results)))


def limits_of(study: Study) -> fanout.Limits:
    """What one outline may cost in one process: time and memory."""
    limits = study.model.limits
    return fanout.Limits(limits.time_per_outline, int(limits.memory_per_worker * 1e6))


def seed_of(study: Study) -> int:
    return study.model.uncertainty.seed if study.model.uncertainty else 1


def variant_named(study: Study, name: str) -> Variant:
    """The variant with this name.

    Raises
    ------
    InputError
        With the names there are.
    """
    for variant in study.variants:
        if variant.name == name:
            return variant
    known = ", ".join(variant.name for variant in study.variants)
    raise InputError(f"{name!r} is no variant of this study", str(study.file), f"one of: {known}")


def preparations(study: Study) -> list[tuple]:
    """The distinct ways this study prepares its outlines, in the order its variants first need them."""
    return list(dict.fromkeys(preparation_of(variant) for variant in study.variants))


def preparation_of(variant: Variant) -> tuple:
    return variant.making, variant.orientations, variant.torsion_bounds


def sections_of(study: Study, variant: Variant, sections: Sections) -> pd.DataFrame:
    """The rows of the sections table that a variant reads."""
    number = preparations(study).index(preparation_of(variant))
    table = sections.table[sections.table["preparation"] == number]
    return table.reset_index(drop=True)


def reference_row(study: Study, table: pd.DataFrame, because: str = "") -> pd.Series:
    """The row of the reference section; without it the refusal says why (``because``).

    Raises
    ------
    InputError
        If the reference outline was left out, so that nothing can be compared.
    """
    outline, orientation = study.reference
    chosen = (table["outline"] == outline) & ((table["orientation_deg"] - orientation) % 360 == 0)
    if not chosen.any():
        raise InputError(
            f"the reference {outline!r} could not be made into a section{because}",
            study.document.place(("reference", "outline")),
            "choose another reference, or change what keeps it from being made",
        )
    return table[chosen].iloc[0]
