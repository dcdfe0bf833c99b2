"""One number, one unit: the only way a quantity enters the kit as text.

A quantity is one finite decimal number (point, no grouping) and one unit from a closed list, such as
``12.5 mm``. General unit libraries work out expressions and read ``1,5 m`` as 15 m; a closed list of units,
each an exact fraction of the one used inside, is safer, and starts at once.
"""

import difflib
import math
import re
from decimal import Decimal
from fractions import Fraction

from kit.errors import InputError

LONGEST = 60
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(\S.*)?")
_FRACTION = re.compile(r"([0-9]{1,9})\s*/\s*([0-9]{1,9})")

# The inch and the pound: international yard and pound agreement of 1959; the standard acceleration of gravity:
# 3rd general conference on weights and measures, 1901; the year of 365.25 days: Julian, as in astronomy.
IN, LB, GRAVITY = Fraction("25.4"), Fraction("0.45359237"), Fraction("9.80665")
FT, LBF = 12 * IN, LB * GRAVITY
KIP = 1000 * LBF
MINUTE, HOUR, DAY = 60, 3600, 86400
YEAR = Fraction("365.25") * DAY
RADIAN = 180 / Fraction("3.14159265358979323846264338327950288")

MILLI, DEGREE_F = Fraction(1, 1000), Fraction(5, 9)

# Dimension: (unit inside the kit, {unit as it is written: how many of the unit inside it is}).
# Powers are written 2 here; ^2, **2 and ² mean the same. A blank in a unit may be *, · or nothing.
DIMENSIONS: dict[str, tuple[str, dict[str, Fraction]]] = {
    "length": ("mm", {"mm": 1, "cm": 10, "m": 1000, "µm": MILLI, "um": MILLI, "in": IN, "ft": FT}),
    "area": ("mm2", {"mm2": 1, "cm2": 100, "m2": 10**6, "in2": IN**2, "ft2": FT**2}),
    "mass per length": (
        "kg/m",
        {"kg/m": 1, "g/m": MILLI, "kg/mm": 1000, "g/mm": 1, "lb/ft": 1000 * LB / FT},
    ),
    "mass": ("kg", {"kg": 1, "g": MILLI, "t": 1000, "lb": LB}),
    "stress": (
        "MPa",
        {
            "MPa": 1,
            "GPa": 1000,
            "kPa": MILLI,
            "Pa": MILLI**2,
            "N/mm2": 1,
            "kN/mm2": 1000,
            "kN/m2": MILLI,
            "psi": LBF / IN**2,
            "ksi": KIP / IN**2,
        },
    ),
    "density": (
        "kg/m3",
        {"kg/m3": 1, "g/cm3": 1000, "lb/ft3": 10**9 * LB / FT**3, "lb/in3": 10**9 * LB / IN**3},
    ),
    "force": ("N", {"N": 1, "kN": 1000, "MN": 10**6, "lbf": LBF, "kip": KIP}),
    "moment": (
        "N mm",
        {
            "N mm": 1,
            "N m": 1000,
            "kN mm": 1000,
            "kN m": 10**6,
            "lbf in": LBF * IN,
            "lbf ft": LBF * FT,
            "kip in": KIP * IN,
            "kip ft": KIP * FT,
        },
    ),
    "angle": ("deg", {"deg": 1, "°": 1, "rad": RADIAN}),
    "temperature": ("degC", dict.fromkeys(("degC", "°C", "K"), 1) | dict.fromkeys(("degF", "°F"), DEGREE_F)),
    "duration": (
        "s",
        {
            "s": 1,
            **dict.fromkeys(("min", "minute", "minutes"), MINUTE),
            **dict.fromkeys(("h", "hour", "hours"), HOUR),
            **dict.fromkeys(("day", "days"), DAY),
            **dict.fromkeys(("week", "weeks"), 7 * DAY),
            **dict.fromkeys(("month", "months"), YEAR / 12),
            **dict.fromkeys(("year", "years"), YEAR),
        },
    ),
    "ratio": ("1", {"%": Fraction(1, 100)}),
    "compliance": (
        "mm/N",
        {"mm/N": 1, "mm/kN": MILLI, "µm/N": MILLI, "m/N": 1000, "in/lbf": IN / LBF, "in/kip": IN / KIP},
    ),
    "strain rate": (
        "1/s",
        {
            "1/s": 1,
            "1/min": Fraction(1, MINUTE),
            "1/h": Fraction(1, HOUR),
            "%/s": Fraction(1, 100),
            "%/min": Fraction(1, 100 * MINUTE),
        },
    ),
    "memory": ("MB", {"MB": 1, "GB": 1000, "kB": MILLI}),
}
# Degrees Celsius at the zero of a scale of temperature.
ZEROS = {"K": Fraction("-273.15"), "degF": -32 * DEGREE_F, "°F": -32 * DEGREE_F}

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
    try:
        value = float(Fraction(number) * DIMENSIONS[dimension][1][unit] + ZEROS.get(unit, 0))
    except OverflowError:
        raise _refusal(text, dimension, "the number is not finite") from None
    if dimension == "temperature" and value < -273.15:
        raise _refusal(text, dimension, "it is below absolute zero")
    return value


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
