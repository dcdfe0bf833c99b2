"""How a record is laid out: delimiter, decimal sign, header lines, unit row, which column is what.

Detected from the first lines, shown in words, and correctable by ``trials.record_format``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from kit import quantities
from kit.errors import InputError, Unusable

DELIMITERS = {";": ";", "tab": "\t", ",": ",", "blank": " "}
SAMPLE_LINES, LEAST_ROWS = 400, 5
MISSING = {"", "-", "--", "---", "nan", "n/a", "na", "none", "#n/a"}

# Words that title a column, in a few languages; a whole word, or the beginning of one from four letters on.
WORDS = {
    "torque": ("torque", "drehmoment", "moment", "couple"),
    "twist": ("twist", "angle", "rotation", "winkel", "drehwinkel"),
    "strain": ("strain", "dehnung", "stauchung"),
    "time": ("time", "zeit", "temps", "tiempo", "tempo", "t"),
    "displacement": ("displacement", "travel", "extension", "deflection", "stroke", "position", "crosshead",
                     "weg", "durchbiegung", "verschiebung", "deplacement", "déplacement", "fleche", "flèche",
                     "desplazamiento", "spostamento", "shortening"),
    "load": ("load", "force", "kraft", "last", "charge", "fuerza", "forza", "f"),
}  # fmt: skip
DIMENSIONS = {
    "time": "duration",
    "displacement": "length",
    "load": "force",
    "twist": "angle",
    "torque": "moment",
}
ALIASES = {"sec": "s", "seconds": "s", "inch": "in", '"': "in", "°": "deg", "newton": "N", "millimeter": "mm"}
MORE_UNITS = {("load", "daN"): 10.0, ("load", "kgf"): 9.80665, ("twist", "rad"): 1.0, ("time", "ms"): 1e-3}
STRAIN_UNITS = {"": 1.0, "1": 1.0, "-": 1.0, "mm/mm": 1.0, "m/m": 1.0, "%": 0.01, "µm/m": 1e-6, "um/m": 1e-6}
_BRACKETS = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")


@dataclass(frozen=True)
class RecordFormat:
    """What the parameter file says about its records; empty: detected.

    Attributes
    ----------
    delimiter, decimal : str or None
    columns : mapping of role to title in the record
    units : mapping of role to unit
    """

    delimiter: str | None = None
    decimal: str | None = None
    columns: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)

    def __post_init__(self):
        for name in ("columns", "units"):
            unknown = sorted(set(getattr(self, name)) - set(WORDS))
            if unknown:
                raise InputError(
                    f"{', '.join(unknown)} is none of a record's columns",
                    f"trials.record_format.{name}",
                    f"any of: {', '.join(WORDS)}",
                )


@dataclass(frozen=True)
class Layout:
    """How one record is laid out.

    Attributes
    ----------
    delimiter, decimal : str
    header : tuple of str
        The lines before the numbers.
    first_row : int
        Line (from 0) at which the numbers begin.
    fields : int
        Columns there are.
    columns : tuple of (role, place, title, unit, factor)
        Factor leads to s, mm, N, rad, N mm or 1.
    """

    delimiter: str
    decimal: str
    header: tuple[str, ...]
    first_row: int
    fields: int
    columns: tuple[tuple[str, int, str, str, float], ...] = ()

    def words(self) -> str:
        """The layout as a person would check it."""
        name = next(key for key, value in DELIMITERS.items() if value == self.delimiter)
        listed = ", ".join(f"{role} = {title!r} [{unit}]" for role, _, title, unit, _ in self.columns)
        return (
            f"{len(self.header)} header lines, delimiter {name}, decimal {self.decimal}, "
            f"{self.fields} columns: {listed}"
        )


def detect(
    lines: Sequence[str], given: RecordFormat = RecordFormat(), wanted=("displacement", "load")
) -> Layout:
    """The layout of a record.

    Parameters
    ----------
    lines : sequence of str
        Its first lines; `SAMPLE_LINES` of them are looked at.
    given : RecordFormat
        What is known already; it wins over what is detected.
    wanted : pair of str
        Roles the record must have.

    Raises
    ------
    Unusable
        With the reason, where the layout cannot be told.
    """
    block = _numbers(list(lines[:SAMPLE_LINES]), given)
    header = tuple(lines[: block.first_row])
    titles, units = _titles(header, block)
    columns = _roles(titles, units, given, wanted)
    return Layout(block.delimiter, block.decimal, header, block.first_row, block.fields, columns)


def split(line: str, delimiter: str) -> list[str]:
    """The fields of a line, without quotes."""
    parts = line.split() if delimiter == " " else line.split(delimiter)
    return [part.strip().strip('"').strip() for part in parts]


def _pattern(decimal: str) -> re.Pattern:
    point = re.escape(decimal)
    return re.compile(rf"[+-]?(\d+({point}\d*)?|{point}\d+)([eE][+-]?\d{{1,3}})?")


def _numbers(lines: list[str], given: RecordFormat) -> Layout:
    """Delimiter, decimal sign and first row by which most fields are numbers."""
    best, score = None, (0.0, 0)
    for name, delimiter in DELIMITERS.items():
        for decimal in (".", ","):
            if delimiter == decimal or given.delimiter not in (None, name):
                continue
            if given.decimal not in (None, decimal):
                continue
            found = _run(lines, delimiter, decimal)
            if found and found[2:] > score:
                best = Layout(delimiter, decimal, (), found[0], found[1])
                score = found[2:]
    grouped = any(re.search(r"\d{1,3}([.,' ])\d{3}(?!\1)[.,]\d", line) for line in lines)
    if best is None or (score[0] < 1.0 and grouped):
        why = " (digits look grouped by thousands: export without grouping)" if grouped else ""
        raise Unusable(f"no block of numbers with two or more columns was found in the record{why}")
    return best


def _run(lines: list[str], delimiter: str, decimal: str):
    """The longest run of rows with one number of fields: (first, fields, share of numbers, rows)."""
    number = _pattern(decimal)
    counts = []
    for line in lines:
        parts = split(line, delimiter)
        numeric = sum(bool(number.fullmatch(part)) for part in parts)
        blank = sum(part.casefold() in MISSING for part in parts)
        counts.append((len(parts), numeric, blank) if numeric >= 2 else None)
    runs = []
    start = 0
    for end in range(1, len(lines) + 1):
        if end < len(lines) and counts[end] and counts[start] and counts[end][0] == counts[start][0]:
            continue
        rows = [row for row in counts[start:end] if row]
        if len(rows) >= LEAST_ROWS:
            share = sum(row[1] for row in rows) / sum(row[0] - row[2] for row in rows)
            runs.append((start, rows[0][0], round(share, 3), len(rows)))
        start = end
    if not runs:
        return None
    longest = max(runs, key=lambda run: run[3])
    # A damaged row may split the numbers: they begin with the first run that is laid out like the longest.
    return (min(run[0] for run in runs if run[1] == longest[1]), *longest[1:])


def _titles(header: tuple[str, ...], block: Layout) -> tuple[list[str], list[str]]:
    """Titles and units of the columns: the nearest header lines with as many fields."""
    rows = [split(line, block.delimiter) for line in header if line.strip()]
    rows = [_padded(row, block.fields) for row in rows if len(row) in (block.fields, block.fields - 1)]
    nothing = [""] * block.fields
    if not rows:
        if header and any(line.strip() for line in header):
            widths = {len(split(line, block.delimiter)) for line in header if line.strip()}
            near = max(widths)
            if near > 1 and near != block.fields and block.delimiter == ",":
                raise Unusable(
                    f"its header has {near} columns and its rows {block.fields}: commas may stand both between "
                    "columns and in numbers; export with another delimiter"
                )
        return nothing, nothing
    last = rows[-1]
    if len(rows) > 1 and all(_is_unit(cell) for cell in last) and any(last):
        return rows[-2], [_bare(cell) for cell in last]
    bracketed = [_BRACKETS.search(cell) for cell in last]
    units = [found[1] if found else _trailing_unit(cell) for found, cell in zip(bracketed, last, strict=True)]
    return [_BRACKETS.sub("", cell).strip() for cell in last], units


def _padded(row: list[str], fields: int) -> list[str]:
    return row + [""] * (fields - len(row))


def _bare(cell: str) -> str:
    return cell.strip("[]() ")


def _trailing_unit(title: str) -> str:
    """A unit written after the title: ``Force, kN`` or ``load_N``."""
    parts = re.split(r"[,_/ ]+", title.strip())
    return parts[-1] if len(parts) > 1 and _is_unit(parts[-1]) else ""


def _is_unit(cell: str) -> bool:
    bare = _bare(cell)
    return bare == "" or any(factor_of(role, bare) is not None for role in (*DIMENSIONS, "strain"))


def factor_of(role: str, unit: str) -> float | None:
    """What leads from a unit to the kit's own (s, mm, N, rad, N mm, 1); None for no unit of this role."""
    unit = ALIASES.get(unit.strip(), unit.strip())
    if role == "strain":
        return STRAIN_UNITS.get(unit)
    if (role, unit) in MORE_UNITS:
        return MORE_UNITS[role, unit]
    try:
        value = quantities.parse(f"1 {unit}", DIMENSIONS[role])
    except InputError:
        return None
    return value * 0.017453292519943295 if role == "twist" else value


def role_of(title: str) -> str | None:
    """Which of the roles a column title names."""
    words = [word for word in re.split(r"[\W\d_]+", title.casefold()) if word]
    for role, known in WORDS.items():
        for word in words:
            if word in known or any(len(stem) >= 4 and word.startswith(stem) for stem in known):
                return role
    return None


def _roles(titles, units, given: RecordFormat, wanted) -> tuple:
    """Which column is what, in which unit."""
    places: dict[str, list[int]] = {}
    for place, title in enumerate(titles):
        role = role_of(title)
        if role and role not in given.columns:
            places.setdefault(role, []).append(place)
    for role, title in given.columns.items():
        matching = [i for i, there in enumerate(titles) if there.casefold() == title.casefold()]
        if not matching:
            raise Unusable(f"it has no column titled {title!r} for the {role}; it has: {_listed(titles)}")
        places[role] = matching
    found = []
    for role, at in places.items():
        if len(at) > 1 and role in wanted:
            several = _listed([titles[i] for i in at])
            raise Unusable(f"{several} may all be the {role}; say which in trials.record_format.columns")
        if role in wanted or len(at) == 1:
            found.append(_column(role, at[0], (titles, units), given, role in wanted))
    missing = [role for role in wanted if role not in places]
    if missing:
        raise Unusable(
            f"no column was recognised as its {' or '.join(missing)}; it has: {_listed(titles)}; say which is "
            "which in trials.record_format.columns"
        )
    return tuple(column for column in found if column)


def _listed(titles: Sequence[str]) -> str:
    return ", ".join(repr(title[:40]) for title in titles) or "no titles"


def _column(role: str, place: int, named, given: RecordFormat, needed: bool):
    title, unit = named[0][place], given.units.get(role) or named[1][place]
    factor = factor_of(role, unit)
    if factor is not None:
        return role, place, title, unit, factor
    if not needed:
        return None
    if not unit:
        raise Unusable(
            f"the unit of its {role} ({title!r}) is not stated; give it in trials.record_format.units"
        )
    raise Unusable(
        f"its {role} ({title!r}) is in {unit!r}, which is no unit of {DIMENSIONS.get(role, role)}: columns may be "
        "exchanged; put it right in trials.record_format"
    )
