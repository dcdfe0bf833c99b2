"""One number, one unit: the only way a quantity enters the kit as text.

A quantity is one finite decimal number (point, no grouping) and one unit from a closed list, such as
``12.5 mm``. The text is taken apart here; pint only converts between units it is given by name, because
its own parser reads ``1,5 m`` as 15 m and works out expressions.
"""

import difflib
import math
import re
from decimal import Decimal
from functools import lru_cache

from kit.errors import InputError

LONGEST = 60
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(\S.*)?")
_FRACTION = re.compile(r"([0-9]{1,9})\s*/\s*([0-9]{1,9})")

# Dimension: (unit inside the kit, {unit as it is written: the same unit in pint's words}).
# Powers are written 2 here; ^2, **2 and ² mean the same. A blank in a unit may be *, · or nothing.
DIMENSIONS: dict[str, tuple[str, dict[str, str]]] = {
    "length": (
        "mm",
        {
            "mm": "millimeter",
            "cm": "centimeter",
            "m": "meter",
            "µm": "micrometer",
            "um": "micrometer",
            "in": "inch",
            "ft": "foot",
        },
    ),
    "area": (
        "mm2",
        {
            "mm2": "millimeter**2",
            "cm2": "centimeter**2",
            "m2": "meter**2",
            "in2": "inch**2",
            "ft2": "foot**2",
        },
    ),
    "mass per length": (
        "kg/m",
        {
            "kg/m": "kilogram/meter",
            "g/m": "gram/meter",
            "kg/mm": "kilogram/millimeter",
            "g/mm": "gram/millimeter",
            "lb/ft": "pound/foot",
        },
    ),
    "mass": ("kg", {"kg": "kilogram", "g": "gram", "t": "metric_ton", "lb": "pound"}),
    "stress": (
        "MPa",
        {
            "MPa": "megapascal",
            "GPa": "gigapascal",
            "kPa": "kilopascal",
            "Pa": "pascal",
            "N/mm2": "newton/millimeter**2",
            "kN/mm2": "kilonewton/millimeter**2",
            "kN/m2": "kilonewton/meter**2",
            "psi": "pound_force/inch**2",
            "ksi": "kip/inch**2",
        },
    ),
    "density": (
        "kg/m3",
        {
            "kg/m3": "kilogram/meter**3",
            "g/cm3": "gram/centimeter**3",
            "lb/ft3": "pound/foot**3",
            "lb/in3": "pound/inch**3",
        },
    ),
    "force": (
        "N",
        {"N": "newton", "kN": "kilonewton", "MN": "meganewton", "lbf": "pound_force", "kip": "kip"},
    ),
    "moment": (
        "N mm",
        {
            "N mm": "newton*millimeter",
            "N m": "newton*meter",
            "kN mm": "kilonewton*millimeter",
            "kN m": "kilonewton*meter",
            "lbf in": "pound_force*inch",
            "lbf ft": "pound_force*foot",
            "kip in": "kip*inch",
            "kip ft": "kip*foot",
        },
    ),
    "angle": ("deg", {"deg": "degree", "°": "degree", "rad": "radian"}),
    "temperature": (
        "degC",
        {
            "degC": "degree_Celsius",
            "°C": "degree_Celsius",
            "K": "kelvin",
            "degF": "degree_Fahrenheit",
            "°F": "degree_Fahrenheit",
        },
    ),
    "duration": (
        "s",
        {
            "s": "second",
            "min": "minute",
            "minute": "minute",
            "minutes": "minute",
            "h": "hour",
            "hour": "hour",
            "hours": "hour",
            "day": "day",
            "days": "day",
            "week": "week",
            "weeks": "week",
            "month": "month",
            "months": "month",
            "year": "year",
            "years": "year",
        },
    ),
    "ratio": ("1", {"%": "percent"}),
    "compliance": (
        "mm/N",
        {
            "mm/N": "millimeter/newton",
            "mm/kN": "millimeter/kilonewton",
            "µm/N": "micrometer/newton",
            "m/N": "meter/newton",
            "in/lbf": "inch/pound_force",
            "in/kip": "inch/kip",
        },
    ),
    "strain rate": (
        "1/s",
        {
            "1/s": "1/second",
            "1/min": "1/minute",
            "1/h": "1/hour",
            "%/s": "percent/second",
            "%/min": "percent/minute",
        },
    ),
    "memory": ("MB", {"MB": "megabyte", "GB": "gigabyte", "kB": "kilobyte"}),
}

EXAMPLES = {
    "length": "900 mm",
    "area": "2400 mm2",
    "mass per length": "2.3 kg/m",
    "mass": "1.2 kg",
    "stress": "24 MPa",
    "density": "955 kg/m3",
    "force": "2 kN",
    "moment": "150 N m",
    "angle": "90 deg",
    "temperature": "23 degC",
    "duration": "10 years",
    "ratio": "5 %",
    "compliance": "0.002 mm/kN",
    "strain rate": "0.001 1/s",
    "memory": "2 GB",
}


def accepted(dimension: str) -> str:
    """What a quantity of this dimension may look like, for messages and tables."""
    units = ", ".join(DIMENSIONS[dimension][1])
    fraction = " or a fraction such as 1/200" if dimension == "ratio" else ""
    return f"one number and one unit such as {EXAMPLES[dimension]!r}{fraction}; units: {units}"


def parse(text: object, dimension: str) -> float:
    """Read one quantity into the unit used inside the kit.

    Parameters
    ----------
    text : str
        One decimal number and one unit, such as ``"1.5 m"``. A ratio may also be a fraction, ``"1/200"``.
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    float
        In mm, mm2, kg/m, kg, MPa, kg/m3, N, N mm, deg, degC, s, 1, mm/N, 1/s or MB.

    Raises
    ------
    InputError
        With what was found, a hint, and the units that are accepted. Text is never evaluated.

    Examples
    --------
    >>> parse("1.5 m", "length")
    1500.0
    >>> parse("1/200", "ratio")
    0.005
    """
    if not isinstance(text, str):
        raise _refusal(text, dimension, "it is not text with a number and a unit")
    text = text.strip()
    if len(text) > LONGEST:
        raise _refusal(text[:LONGEST] + "…", dimension, "it is too long for a quantity")
    fraction = _FRACTION.fullmatch(text) if dimension == "ratio" else None
    if fraction:
        return _divided(text, fraction)
    match = _QUANTITY.fullmatch(text)
    unit = match and match[2] and _known_unit(match[2], dimension)
    if not unit:
        raise _refusal(text, dimension, _hint(text, match, dimension))
    return _converted(text, match[1], unit, dimension)


def text_of(value: float, dimension: str) -> str:
    """Write a value so that `parse` gives exactly the same number back.

    Parameters
    ----------
    value : float
        In the unit used inside the kit.
    dimension : str
        A key of `DIMENSIONS`.
    """
    number, unit = Decimal(repr(float(value))), DIMENSIONS[dimension][0]
    if dimension == "ratio":
        number, unit = number * 100, "%"
    plain = f"{number.normalize():f}" if abs(number.adjusted()) < 20 else str(number)
    return f"{plain} {unit}"


def _divided(text: str, fraction: re.Match) -> float:
    if int(fraction[2]) == 0:
        raise _refusal(text, "ratio", "nothing can be divided by 0")
    return int(fraction[1]) / int(fraction[2])


def _converted(text: str, number: str, unit: str, dimension: str) -> float:
    if not math.isfinite(float(number)):
        raise _refusal(text, dimension, "the number is not finite")
    inside, units = DIMENSIONS[dimension]
    exact = Decimal(number)
    if dimension == "ratio":
        return float(exact / 100)
    if unit != inside:
        exact = _registry().Quantity(exact, units[unit]).to(units[inside]).magnitude
    value = float(exact)
    if not math.isfinite(value):
        raise _refusal(text, dimension, "the number is not finite")
    if dimension == "temperature" and value < -273.15:
        raise _refusal(text, dimension, "it is below absolute zero")
    return value


@lru_cache(maxsize=1)
def _registry():
    # Decimal arithmetic: 0.9 m is 900 mm exactly. Imported late, because it takes a third of a second.
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Decimal)


def _spelling(unit: str) -> str:
    """One spelling for the ways a power and a product of units are written."""
    unit = unit.replace("²", "2").replace("³", "3").replace("μ", "µ").replace("**", "").replace("^", "")
    return re.sub(r"\s*[*·⋅]\s*|\s+", " ", unit.strip())


def _known_unit(unit: str, dimension: str) -> str | None:
    spelled, units = _spelling(unit), DIMENSIONS[dimension][1]
    if spelled in units:
        return spelled
    joined = {name.replace(" ", ""): name for name in units}
    return joined.get(spelled)


def _hint(text: str, match: re.Match | None, dimension: str) -> str:
    """Say what is most likely wrong with a refused quantity."""
    if not text:
        return "nothing is given"
    if re.search(r"\b(nan|inf|infinity)\b", text, re.IGNORECASE):
        return "the number is not finite"
    if re.match(r"[+-]?[0-9]{1,3}([ ',_\u00a0\u202f][0-9]{3})+(?![0-9])", text):
        return "write digits without grouping, as in 1000 mm; a decimal comma is written as a point"
    if re.match(r"[+-]?[0-9.]*,[0-9]", text):
        return "write the decimal comma as a point, as in 1.5 m"
    if text[0] in "−–":
        return "write the minus sign as -"
    if re.match(r"[+-]?0[xob]", text):
        return "write the number with the ten digits"
    if match is None:
        return "it does not begin with one decimal number"
    if not match[2]:
        return "a bare number; the unit is missing"
    return _unit_hint(match[2], dimension)


def _unit_hint(unit: str, dimension: str) -> str:
    spelled, units = _spelling(unit), DIMENSIONS[dimension][1]
    for name in units:
        if name.casefold() == spelled.casefold():
            return f"{unit} is not {name}: capital and small letters mean different units"
    for other in DIMENSIONS:
        if other != dimension and _known_unit(unit, other):
            return f"{unit} is a unit of {other}; here {_a(dimension)} belongs"
    if re.search(r"[0-9][\s+*/(-]|[-+*/(]\s*[0-9]", unit):
        return "expressions are not worked out; write one number and one unit"
    near = difflib.get_close_matches(spelled, units, n=1)
    return f"{unit!r} is not a unit in the list" + (f"; did you mean {near[0]!r}?" if near else "")


def _a(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _refusal(found: object, dimension: str, hint: str) -> InputError:
    return InputError(f"{found!r} is not {_a(dimension)}: {hint}", todo=accepted(dimension))
