"""The table of test pieces: which record belongs to which outline, and what was measured on the piece."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from kit import quantities
from kit.errors import InputError, Unusable

NEEDED = ("piece", "record", "outline", "load_case")
# Column: (dimension, unit inside the kit); a plain column holds quantities, one with its unit numbers.
MEASURED = {
    "orientation": ("angle", "deg"),
    "mass": ("mass", "kg"),
    "width": ("length", "mm"),
    "depth": ("length", "mm"),
    "span": ("length", "mm"),
    "length": ("length", "mm"),
    "temperature": ("temperature", "degC"),
    "compliance": ("compliance", "mm_per_N"),
}
TESTS = ("member", "iso-178", "astm-d790")
ABOUT = ("batch", "date", "rate", "machine")
YES_NO = {"": False, "no": False, "false": False, "yes": True, "true": True}
MOST_PIECES = 10_000


@dataclass(frozen=True)
class Piece:
    """A test piece. Sizes that were not measured are None.

    Attributes
    ----------
    name, record, outline, load_case : str
    orientation_deg : float
    variant : str
        Empty: the first of the study.
    test : str
        ``member``, or the standard of a coupon.
    mass_kg, width_mm, depth_mm, span_mm, length_mm, temperature_degC, compliance_mm_per_N : float or None
    broke, invented : bool
    batch, date, rate, machine : str
    """

    name: str
    record: str
    outline: str
    load_case: str
    orientation_deg: float = 0.0
    variant: str = ""
    test: str = "member"
    mass_kg: float | None = None
    width_mm: float | None = None
    depth_mm: float | None = None
    span_mm: float | None = None
    length_mm: float | None = None
    temperature_degC: float | None = None
    compliance_mm_per_N: float | None = None
    broke: bool = False
    invented: bool = False
    batch: str = ""
    date: str = ""
    rate: str = ""
    machine: str = ""


def read_pieces(file: Path) -> tuple[Piece, ...]:
    """The pieces of a table.

    Raises
    ------
    InputError
        With line and column of what needs mending.
    """
    if not file.is_file():
        raise InputError(f"there is no file {file}", "trials.pieces", "a CSV with a row for each piece")
    try:
        table = pd.read_csv(
            file, dtype=str, keep_default_na=False, sep=None, engine="python", nrows=MOST_PIECES
        )
    except (ValueError, pd.errors.ParserError) as error:
        raise InputError(
            f"not readable as CSV ({error})", str(file), "a table with one header line"
        ) from None
    table.columns = [str(name).strip() for name in table.columns]
    missing = [name for name in NEEDED if name not in table]
    if missing:
        raise InputError(
            f"no column {', '.join(missing)}", str(file), f"columns {', '.join(NEEDED)} are needed"
        )
    pieces = tuple(
        _piece(row, f"{file.name}, line {line + 2}") for line, row in enumerate(table.to_dict("records"))
    )
    names = [piece.name for piece in pieces]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(
            f"the same name twice: {', '.join(twice)}", str(file), "a name of its own for each piece"
        )
    if not pieces:
        raise InputError("no pieces", str(file), "a row for each piece")
    return pieces


def _piece(row: dict, where: str) -> Piece:
    values = {key: str(value).strip() for key, value in row.items() if value is not None}
    for name in NEEDED:
        if not values.get(name):
            raise InputError(f"{name} is empty", where, "a value in each of: " + ", ".join(NEEDED))
    test = values.get("test", "") or "member"
    if test not in TESTS:
        raise InputError(f"test {test!r} is not known", where, f"one of: {', '.join(TESTS)}")
    sizes = {f"{name}_{unit}": _measured(values, name, where) for name, (_, unit) in MEASURED.items()}
    sizes["orientation_deg"] = sizes["orientation_deg"] or 0.0
    return Piece(
        name=values["piece"],
        record=values["record"],
        outline=values["outline"],
        load_case=values["load_case"],
        variant=values.get("variant", ""),
        test=test,
        broke=_yes_no(values, "broke", where),
        invented=_yes_no(values, "invented", where),
        **{name: values.get(name, "") for name in ABOUT},
        **sizes,
    )


def _measured(values: dict, name: str, where: str) -> float | None:
    dimension, unit = MEASURED[name]
    plain = values.get(f"{name}_{unit}", "")
    if plain:
        try:
            number = float(plain)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise InputError(f"{name}_{unit}: {plain!r} is no number", where, f"one number in {unit}")
        value = number
    elif values.get(name):
        try:
            value = quantities.parse(values[name], dimension)
        except InputError as error:
            raise InputError(f"{name}: {error.what}", where, error.todo) from None
    else:
        return None
    if name not in ("orientation", "temperature") and not value > 0 and name != "compliance":
        raise InputError(f"{name} is {value:g}", where, "above zero")
    return value


def _yes_no(values: dict, name: str, where: str) -> bool:
    text = values.get(name, "").casefold()
    if text not in YES_NO:
        raise InputError(f"{name}: {text!r}", where, "yes or no")
    return YES_NO[text]


def record_file(piece: Piece, folder: Path) -> Path:
    """Where the record of a piece lies: below the folder of the pieces' table, and nowhere else.

    Raises
    ------
    Unusable
        If its path leads out of that folder.
    """
    file = (folder / piece.record).resolve()
    if Path(piece.record).is_absolute() or not file.is_relative_to(folder.resolve()):
        raise Unusable(
            f"its record {piece.record!r} lies outside the folder of the pieces' table; copy it there"
        )
    return file
