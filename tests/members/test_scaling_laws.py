"""Geometrical similarity at fixed length: the powers that hold, and those that do not."""

import numpy as np
import pytest

from kit.members.cases import BendingCase, CompressionCase, TensionCase, TorsionCase
from kit.members.resistance import load_name, resistance
from kit.sections.section import scaled
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain


def exponent(case, material, section, service, s=1.3):
    """Power of s by which the resistance grows; the sections are scaled by the tests' own rule."""
    loads = [
        resistance(by_hand.similar(by_hand.table(a=section), scale), case, material, service)[
            load_name(case)
        ][0]
        for scale in (1.0, s)
    ]
    return np.log(loads[1] / loads[0]) / np.log(s)


HELD = {"restraint": "sideways-and-twist"}


@pytest.mark.parametrize(
    ("case", "power"),
    [
        (TensionCase("t", 9000.0), 2),
        (BendingCase("b", 9000.0, **HELD), 3),
        (BendingCase("b", 9000.0, "cantilever", **HELD), 3),
        (TorsionCase("q", 9000.0), 3),
        (TorsionCase("q", 9000.0, twist_limit_deg=1e-4), 4),
        (CompressionCase("c", 9000.0, column_curve="euler"), 4),
        (CompressionCase("c", 9000.0, "fixed-free", column_curve="johnson"), 4),
    ],
)
@pytest.mark.parametrize(
    "section", [by_hand.rectangle(20.0, 60.0), by_hand.tube(50.0, 30.0)], ids=["flat", "pipe"]
)
def test_powers_that_hold(case, power, section, steel, short):
    assert exponent(case, steel, section, short) == pytest.approx(power, abs=1e-6)


def test_stiffness_goes_with_the_fourth_power_but_for_shear(short):
    stiff_in_shear = plain(E=1000.0, f=1e6, shear_modulus_MPa=1e9)
    case = BendingCase("b", 9000.0, deflection_limit=1e-6, **HELD)
    assert exponent(case, stiff_in_shear, by_hand.rectangle(20, 60), short) == pytest.approx(4, abs=1e-4)
    assert exponent(case, plain(E=1000.0, f=1e6), by_hand.rectangle(20, 60), short) < 4


def test_a_perry_column_slides_between_the_powers(steel, short):
    section = by_hand.rectangle(20.0, 60.0)
    powers = [
        exponent(CompressionCase("c", length), steel, section, short) for length in (10.0, 600.0, 20000.0)
    ]
    assert powers[0] == pytest.approx(2, abs=0.05)
    assert 2.1 < powers[1] < 3.9
    assert powers[2] == pytest.approx(4, abs=0.05)


def test_lateral_torsional_buckling_follows_no_power(steel, short):
    beam = by_hand.i_section(100, 50, 6, 4)
    case = {"load_height": "centroid", "supports": "forked"}
    powers = [
        exponent(BendingCase("b", span, **case), steel, beam, short) for span in (800.0, 2500.0, 30000.0)
    ]
    assert max(powers) - min(powers) > 0.4


def test_the_sections_scale_as_the_tests_do(sections):
    mine, theirs = by_hand.similar(sections, 1.7), scaled(sections, np.full(len(sections), 1.7))
    for name in sections.select_dtypes("number"):
        np.testing.assert_allclose(mine[name], theirs[name], rtol=1e-12, err_msg=name)
