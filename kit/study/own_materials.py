"""The material of a study: one of the library, or one given in full in the parameter file."""

import csv
import math
import re
from dataclasses import fields
from pathlib import Path

from kit import quantities
from kit.errors import InputError
from kit.members.materials import Material, Spread, library
from kit.study import keys_members
from kit.study.parameters import StudyFile


def material_of(model: StudyFile, base: Path) -> Material:
    """The material of the study: one of its own, or of the library."""
    key = model.material
    own = model.materials.get(key)
    return own_material(key, own, base) if own else library()[key]


def without_unit(field: str) -> str:
    """Name of a field without its unit: ``span_mm`` is ``span``."""
    return re.sub(r"_(mm2|mm|deg|MPa|kg_m3)$", "", field)


def own_material(key: str, own: keys_members.Material, base: Path) -> Material:
    """A material under ``materials`` as the members stage takes it."""
    values = {}
    for field in fields(Material):
        plain = without_unit(field.name)
        value = getattr(own, plain, None)
        if plain.endswith("_by_duration"):
            value = _by(value, "duration", 1 / 3600)
        elif plain.endswith("_by_temperature"):
            value = _by(value, "temperature")
        elif isinstance(value, keys_members.StressSpread):
            value = Spread(value.mean, value.cov)
        if value is not None:
            values[field.name] = value
    curve = own.stress_strain and stress_strain(base / own.stress_strain, key)
    # A tensile strength left out is not known; the other values left out have their defaults.
    given = {"yield_tension_MPa": None, **values}
    return Material(**{**given, "key": key, "name": own.name or key, "stress_strain": curve})


def _by(table: dict[str, float], dimension: str, factor: float = 1.0) -> tuple[tuple[float, float], ...]:
    pairs = ((quantities.parse(key, dimension) * factor, share) for key, share in table.items())
    return tuple(sorted(pairs))


def stress_strain(file: Path, key: str) -> tuple[tuple[float, float], ...]:
    """Read a measured curve: strain and stress (MPa) in the first two columns, a header line allowed.

    Raises
    ------
    InputError
        The file is missing, or a row does not hold two finite numbers.
    """
    where, todo = f"materials.{key}.stress_strain", "CSV with the columns strain, stress in MPa"
    try:
        rows = list(csv.reader(file.read_text(encoding="utf-8-sig").splitlines()))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise InputError(f"{file} cannot be read: {reason}", where, todo) from None
    pairs = []
    for i, row in enumerate(rows):
        pair = _two_numbers(row)
        if pair:
            pairs.append(pair)
        elif i > 0 and any(cell.strip() for cell in row):
            raise InputError(f"{row[:2]} in row {i + 1} are not two numbers", f"{where}, {file}", todo)
    return tuple(pairs)


def _two_numbers(row: list[str]) -> tuple[float, float] | None:
    try:
        strain, stress = float(row[0]), float(row[1])
    except (ValueError, IndexError):
        return None
    return (strain, stress) if math.isfinite(strain) and math.isfinite(stress) else None
