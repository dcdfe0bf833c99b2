"""Quantities: what is accepted, what is refused with which hint, and that writing loses nothing."""

import math
import re
from decimal import Decimal

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import InputError
from kit.quantities import DIMENSIONS, EXAMPLES, accepted, parse, text_of

# Definitions: the inch is 25.4 mm and the pound 0.45359237 kg exactly (international yard and pound
# agreement, 1959); the standard acceleration of gravity is 9.80665 m/s2 (3rd CGPM, 1901).
POUND_KG, GRAVITY = 0.45359237, 9.80665
POUND_FORCE_N = POUND_KG * GRAVITY


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("900 mm", "length", 900.0),
        ("900mm", "length", 900.0),
        ("0.9 m", "length", 900.0),
        (".9 m", "length", 900.0),
        ("9e-1 m", "length", 900.0),
        ("-3 mm", "length", -3.0),
        ("1 in", "length", 25.4),
        ("1 ft", "length", 304.8),
        ("10 µm", "length", 0.01),
        ("24 cm2", "area", 2400.0),
        ("1 in2", "area", 25.4**2),
        ("2.3 kg/m", "mass per length", 2.3),
        ("1 lb/ft", "mass per length", POUND_KG / 0.3048),
        ("210 GPa", "stress", 210_000.0),
        ("1 psi", "stress", POUND_FORCE_N / 25.4**2),
        ("1 ksi", "stress", 1000 * POUND_FORCE_N / 25.4**2),
        ("5 kN/m2", "stress", 0.005),
        ("0.955 g/cm3", "density", 955.0),
        ("2 kN", "force", 2000.0),
        ("1 kip", "force", 1000 * POUND_FORCE_N),
        ("1.5 kN m", "moment", 1.5e6),
        ("1 lbf ft", "moment", POUND_FORCE_N * 304.8),
        ("0.5 rad", "angle", math.degrees(0.5)),
        ("45°", "angle", 45.0),
        ("296.15 K", "temperature", 23.0),
        ("73.4 degF", "temperature", 23.0),
        ("1 h", "duration", 3600.0),
        ("1 week", "duration", 604800.0),
        ("6 %", "ratio", 0.06),
        ("1/200", "ratio", 0.005),
        ("0.002 mm/kN", "compliance", 2e-6),
        ("0.001 1/s", "strain rate", 0.001),
        ("6 %/min", "strain rate", 0.001),
        ("2 GB", "memory", 2000.0),
    ],
)
def test_one_number_and_one_unit_are_read(text, dimension, value):
    assert parse(text, dimension) == pytest.approx(value, rel=1e-14, abs=0)


@pytest.mark.parametrize("power", ["mm2", "mm^2", "mm²", "mm**2"])
def test_powers_are_written_in_four_ways(power):
    assert parse(f"24 {power}", "area") == 24.0


@pytest.mark.parametrize("product", ["N m", "N*m", "N·m", "Nm", "N  m"])
def test_products_are_written_in_several_ways(product):
    assert parse(f"2 {product}", "moment") == 2000.0


@pytest.mark.parametrize(
    ("text", "dimension", "hint"),
    [
        ("1,5 m", "length", "decimal comma as a point"),
        ("1.000,5 m", "length", "decimal comma as a point"),
        ("1 000 mm", "length", "without grouping"),
        ("1'000 mm", "length", "without grouping"),
        ("1_000 mm", "length", "without grouping"),
        ("1,000 mm", "length", "without grouping"),
        ("1\u202f000 mm", "length", "without grouping"),
        ("nan mm", "length", "not finite"),
        ("inf mm", "length", "not finite"),
        ("1e999 mm", "length", "not finite"),
        ("1e306 m", "length", "not finite"),
        ("25 mPa", "stress", "mPa is not MPa"),
        ("25 mpa", "stress", "capital and small letters"),
        ("2 KN", "force", "KN is not kN"),
        ("900", "length", "the unit is missing"),
        ("5", "ratio", "the unit is missing"),
        ("mm", "length", "does not begin with one decimal number"),
        ("", "length", "nothing is given"),
        ("2*3 mm", "length", "expressions are not worked out"),
        ("2 mm + 3 mm", "length", "expressions are not worked out"),
        ("1/2 m", "length", "expressions are not worked out"),
        ("0x10 mm", "length", "ten digits"),
        ("٣ mm", "length", "does not begin with one decimal number"),
        ("−3 mm", "length", "minus sign"),
        ("3 kg", "length", "kg is a unit of mass"),
        ("3 mm2", "length", "mm2 is a unit of area"),
        ("3 mmm", "length", "did you mean 'mm'?"),
        ("3 furlong", "length", "not a unit in the list"),
        ("-300 degC", "temperature", "absolute zero"),
        ("1/0", "ratio", "divided by 0"),
        ("1" * 80 + " mm", "length", "too long"),
        ("__import__('os').getcwd() mm", "length", "does not begin with one decimal number"),
    ],
)
def test_anything_else_is_refused_with_a_hint(text, dimension, hint):
    with pytest.raises(InputError) as refusal:
        parse(text, dimension)
    assert hint in refusal.value.what
    assert EXAMPLES[dimension] in refusal.value.todo


@pytest.mark.parametrize("value", [900, 900.0, None, True, ["900 mm"], {"mm": 900}])
def test_only_text_is_a_quantity(value):
    with pytest.raises(InputError, match="not text"):
        parse(value, "length")


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_every_example_and_every_listed_unit_is_accepted(dimension):
    parse(EXAMPLES[dimension], dimension)
    for unit in DIMENSIONS[dimension][1]:
        parse(f"300 {unit}", dimension)
        assert unit in accepted(dimension)


# What pint calls a unit that it does not know by the name the kit accepts.
IN_PINT = {
    "%": "percent", "1/s": "1/s", "minutes": "minute", "hours": "hour", "days": "day", "weeks": "week",
    "months": "month", "years": "year", "m": "meter", "h": "hour", "t": "metric_ton", "min": "minute",
}  # fmt: skip


REGISTRY = pint.UnitRegistry(non_int_type=Decimal)


def words_of_pint(unit: str) -> str:
    """A unit as a general unit library reads it: powers and products written out."""
    parts = re.split(r"([ /])", unit.replace("°C", "degC").replace("°F", "degF").replace("°", "degree"))
    powers = [re.sub(r"^([^\W\d]+)([23])$", r"\1**\2", IN_PINT.get(part, part)) for part in parts]
    return "".join("*" if part == " " else part for part in powers)


@pytest.mark.parametrize(("dimension", "unit"), [(d, u) for d in DIMENSIONS for u in DIMENSIONS[d][1]])
def test_every_unit_is_what_a_general_unit_library_says(dimension, unit):
    inside = words_of_pint(DIMENSIONS[dimension][0])
    found = REGISTRY.Quantity(Decimal("1.5"), words_of_pint(unit)).to(inside).magnitude
    assert parse(f"1.5 {unit}", dimension) == pytest.approx(float(found), rel=1e-15)


@given(st.sampled_from(sorted(DIMENSIONS)), st.floats(allow_nan=False, allow_infinity=False))
def test_a_written_quantity_is_read_back_exactly(dimension, value):
    if dimension == "temperature":
        value = abs(value)
    if dimension == "ratio" and abs(value) > 1e300:
        value /= 1e10
    assert parse(text_of(value, dimension), dimension) == value


@given(st.text(max_size=80), st.sampled_from(sorted(DIMENSIONS)))
def test_no_text_does_anything_but_give_a_finite_number_or_a_refusal(text, dimension):
    try:
        assert math.isfinite(parse(text, dimension))
    except InputError as refusal:
        assert refusal.todo
