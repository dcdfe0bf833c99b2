"""Numbers as they stand in prose and tables: as many digits as their uncertainty leaves, and a unit."""

from __future__ import annotations

import math
import re

import pandas as pd

UNITS = {
    "mm": "mm", "mm2": "mm²", "mm3": "mm³", "mm4": "mm⁴", "mm5": "mm⁵", "mm6": "mm⁶",
    "1_per_mm3": "1/mm³", "1_per_mm": "1/mm", "deg": "°", "N": "N", "kN": "kN", "Nmm": "N mm",
    "MPa": "MPa", "kg": "kg", "kg_per_m": "kg/m", "kg_per_m3": "kg/m³", "kg_m3": "kg/m³",
    "degC": "°C", "percent": "%", "share": "–", "s": "s",
}  # fmt: skip
"""Unit in words, by the end of a column's name."""

SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|$~&:@/^=\"'])")
NARROW = "\u202f"


def number(
    value: float,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    *,
    digits: int = 3,
) -> str:
    """A number for prose, with its unit and interval, rounded to what the interval leaves.

    Parameters
    ----------
    value : float
        The number; not finite reads "not assessed".
    unit : str
        As it is to be read, such as ``"kN"``.
    low, high : float, optional
        Its interval: the last digit shown is the second significant one of half the width.
    digits : int
        Significant digits where there is no interval.

    Examples
    --------
    >>> number(12345.6, "N", 12100, 12600)
    '12\u202f350 N (12\u202f100 to 12\u202f600)'
    """
    if value is None or not math.isfinite(value):
        return "not assessed"
    spread = (
        low is not None and high is not None and math.isfinite(low) and math.isfinite(high) and high > low
    )
    place = _place((high - low) / 2, 2) if spread else _place(value, digits)
    text = _fixed(value, place) + (f" {unit}" if unit else "")
    return f"{text} ({_fixed(low, place)} to {_fixed(high, place)})" if spread else text


def share(part: float, digits: int = 2) -> str:
    """A share as per cent."""
    return number(100 * part, "%", digits=digits)


def count(items: int, one: str, many: str | None = None) -> str:
    """A counted noun: ``count(1, "outline")``."""
    return f"{_grouped(str(int(items)))} {one if items == 1 else many or one + 's'}"


def heading(column: str, dictionary: pd.DataFrame | None = None) -> tuple[str, str]:
    """A column's words and its unit, from its name: ``Wel_x_top_mm3`` → (``Wel,x,top``, ``mm³``)."""
    base, unit = column, ""
    for ending in sorted(UNITS, key=len, reverse=True):
        if column.endswith("_" + ending):
            base, unit = column[: -len(ending) - 1], UNITS[ending]
            break
    return base.replace("_", " "), unit


def significant(values: pd.Series, digits: int = 3) -> list[str]:
    """A column of numbers with the same decimals, chosen for its median size; missing reads "–"."""
    finite = values[values.notna()].astype(float)
    finite = finite[finite.map(math.isfinite)]
    size = float(finite.abs()[finite != 0].median()) if (finite != 0).any() else 1.0
    place = _place(size, digits)
    return [_fixed(v, place) if pd.notna(v) and math.isfinite(v) else "–" for v in values.astype(float)]


def _place(value: float, digits: int) -> int:
    """Decimal place of the last significant digit: 2 → hundredths, −1 → tens."""
    return 0 if value == 0 else digits - 1 - math.floor(math.log10(abs(value)))


def _fixed(value: float, place: int) -> str:
    if abs(value) >= 1e7 or (value != 0 and place > 5):
        return power(value, 3)
    rounded = round(value, place)
    text = f"{rounded:.{max(place, 0)}f}"
    sign, body = ("−", text[1:]) if text.startswith("-") else ("", text)
    whole, point, rest = body.partition(".")
    return sign + _grouped(whole) + point + rest


def power(value: float, digits: int = 2) -> str:
    """Scientific notation with a real times sign and raised exponent; nothing is plainly 0."""
    if value == 0:
        return "0"
    mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
    raised = str(int(exponent)).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    return f"{mantissa.replace('-', '−')}×10{raised}"


def _grouped(whole: str) -> str:
    """Groups of three from five digits on."""
    return f"{int(whole):,}".replace(",", NARROW) if len(whole) > 4 else whole


def plain(text: object) -> str:
    """Any text as Markdown that shows exactly that text, on one line."""
    return SPECIAL.sub(r"\\\1", re.sub(r"[ \t\r\n\v\f]+", " ", str(text)).strip())
