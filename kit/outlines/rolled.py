"""Rolled series by designation, from a table that travels with the kit."""

from __future__ import annotations

import csv
import functools

from kit.errors import InputError
from kit.places import DATA


@functools.cache
def table() -> dict[str, dict[str, str]]:
    """The table of rolled sections, by designation without blanks and in capitals."""
    with (DATA / "rolled.csv").open(encoding="utf-8", newline="") as lines:
        return {_key(row["designation"]): row for row in csv.DictReader(lines)}


def rolled(designation: str, name: str) -> tuple[str, dict[str, float]]:
    """Shape and dimensions (mm) of a rolled section.

    Parameters
    ----------
    designation : str
        Such as ``IPE 200``; blanks and letter case do not matter.
    name : str
        Of the outline, for the message.

    Raises
    ------
    InputError
        If the designation is not in the table.
    """
    row = table().get(_key(designation))
    if row is None:
        series = sorted({r["designation"].split()[0] for r in table().values()})
        raise InputError(
            f"designation: {designation!r} is not in the table",
            name,
            f"series in the table: {', '.join(series)}; otherwise give shape and dimensions",
        )
    known = ("depth", "width", "web", "flange", "thickness", "root_radius", "toe_radius")
    return row["shape"], {key: float(row[f"{key}_mm"]) for key in known if row[f"{key}_mm"]}


def _key(designation: str) -> str:
    return "".join(designation.upper().split()).replace("×", "X")
