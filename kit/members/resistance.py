"""The table of members: one row for each section, one load case, one material in service."""

from __future__ import annotations

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.members import bending, columns, ownweight, shafts, tension
from kit.members.cases import LoadCase
from kit.members.materials import Material, Service
from kit.members.missing import missing
from kit.members.senses import upside_down
from kit.members.service import at_service
from kit.members.state import (
    NOT_ASSESSED,
    Assessment,
    Columns,
    State,
    checked_names,
    chips_mass_kg,
    columns_of,
    governing,
    mass_kg,
    words,
)
from kit.members.thickness import beyond
from kit.members.walls import with_walls

ASSESS = {
    "bending": bending.assess,
    "compression": columns.assess,
    "tension": tension.assess,
    "torsion": shafts.assess,
}
SECTION_IDENTITY = ("section_id", "outline", "character", "orientation_deg")


def load_name(case: LoadCase) -> str:
    """Name of the resistance column: a torque for torsion, a force else."""
    return "resistance_Nmm" if case.kind == "torsion" else "resistance_N"


def assess(section_columns: Columns, case: LoadCase, state: State) -> Assessment:
    """Limit states, caveats and blocked rows of a load case, rows that lack a property blocked too.

    The loads are what the member carries beside its own weight.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = _bare(section_columns, case, state)
        alone = ownweight.alone(case)
        if alone is not None:
            itself = _bare(section_columns, alone, state)
            found = ownweight.taken_off(found, itself, section_columns, case, state)
    lacking = tuple((key, True) for key in missing(case, state.material))
    too_thick = ("thickness-beyond-values", beyond(section_columns, state.material))
    blocked = (*found.blocked, *lacking, too_thick)
    unknown = sum((np.isnan(limit.load) & limit.checked for limit in found.limits), np.False_)
    for _, mask in blocked:
        unknown = unknown & ~np.asarray(mask)
    blocked = (*blocked, ("property-unknown", unknown))
    if state.blocked:
        blocked = (*blocked, (state.blocked, True))
    return Assessment(found.limits, found.caveats, blocked)


def _bare(section_columns: Columns, case: LoadCase, state: State) -> Assessment:
    """The assessment of members without weight."""
    return with_walls(ASSESS[case.kind](section_columns, case, state), section_columns, case, state)


def resistance(sections: pd.DataFrame, case: LoadCase, material: Material, service: Service) -> pd.DataFrame:
    """Resistance of members of every section.

    Parameters
    ----------
    sections : DataFrame
        A row for each section, with the columns of ``sections.csv``.
    case : LoadCase
    material : Material
    service : Service

    Returns
    -------
    DataFrame
        In the order and with the index of ``sections``: load case, kind, the section's identity, material,
        ``length_mm``, ``resistance_N`` or ``resistance_Nmm`` (NaN where not assessed; what the member
        carries beside its own weight, 0 where it cannot carry even that), for beams
        ``resistance_upwards_N`` (the other load sense, without the walls), ``limit_state``,
        ``limit_states_checked``, ``mass_kg``, ``chips_mass_kg`` (NaN where nothing is cut away), ``caveats``
        (keys, separated by spaces).

    Raises
    ------
    InputError
        If the table lacks a column that the load case needs.
    """
    state = at_service(material, service)
    table = columns_of(sections)
    rows = len(sections)
    found = _assessed(table, case, state)
    load, index = governing(found, rows)
    names = np.array([*(limit.name for limit in found.limits), NOT_ASSESSED], dtype=object)
    constant = tuple((key, np.ones(rows, dtype=bool)) for key in state.caveats)
    identity = {name: sections[name] for name in SECTION_IDENTITY if name in sections}
    return pd.DataFrame(
        {
            "load_case": case.name,
            "kind": case.kind,
            **identity,
            "material": material.key,
            "length_mm": case.length_mm,
            load_name(case): load,
            **_other_sense(sections, case, state),
            "limit_state": names[index],
            "limit_states_checked": checked_names(found.limits, rows),
            "mass_kg": mass_kg(table, case.length_mm, state),
            "chips_mass_kg": chips_mass_kg(table, case.length_mm, state),
            "caveats": words((*found.blocked, *found.caveats, *constant), rows),
        },
        index=sections.index,
    )


def _other_sense(sections: pd.DataFrame, case: LoadCase, state: State) -> dict[str, np.ndarray]:
    """The resistance of beams loaded along +y, for a table's column; nothing for the other kinds."""
    if case.kind != "bending":
        return {}
    return {"resistance_upwards_N": load_only(columns_of(upside_down(sections)), case, state)}


def _assessed(table: Columns, case: LoadCase, state: State) -> Assessment:
    try:
        return assess(table, case, state)
    except KeyError as missing:
        raise InputError(
            f"the table of sections has no column {missing}",
            f"load_cases.{case.name}",
            "compute the sections again with this version",
        ) from None


def load_only(table: Columns, case: LoadCase, state: State) -> np.ndarray:
    """The governing load alone, (n,) array, NaN where not assessed: what merit and sizing evaluate again."""
    return governing(assess(table, case, state), len(table["area_mm2"]))[0]
