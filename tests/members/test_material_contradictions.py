"""A material that contradicts itself is refused: a curve beside its values, values below zero."""

import numpy as np
import pytest

from kit.errors import InputError
from kit.members.materials import Material, Spread, library
from tests.members.conftest import plain

SOFT = {"E": 3000.0, "f": 62.0, "family": "polymer", "yield_compression_MPa": Spread(103.0)}


def curve(modulus=3000.0, peak=70.0, end=0.06, count=30):
    """σ = f (1 − exp(−E ε / f)): starts with E, ends at f."""
    strains = np.linspace(0.0, end, count)
    return tuple((float(e), float(peak * (1 - np.exp(-modulus * e / peak)))) for e in strains)


def scaled(pairs, strain=1.0, stress=1.0):
    return tuple((strain * e, stress * s) for e, s in pairs)


def refusal(pairs, **changes) -> InputError:
    with pytest.raises(InputError) as caught:
        plain(**SOFT | changes, stress_strain=pairs)
    assert caught.value.where == "materials.plain.stress_strain" and caught.value.todo
    return caught.value


def test_a_curve_that_agrees_is_taken_as_it_is():
    assert plain(**SOFT, stress_strain=curve()).stress_strain == curve()


@pytest.mark.parametrize(("strain", "stress"), [(100.0, 1.0), (1e6, 1.0), (1.0, 1000.0)])
def test_per_cent_microstrain_and_kilopascals_are_noticed(strain, stress):
    error = refusal(scaled(curve(), strain, stress))
    assert "slope" in error.what and "fraction" in error.todo


def test_gigapascals_are_noticed():
    assert "peaks at 0.06" in refusal(scaled(curve(), 1.0, 1e-3)).what


@pytest.mark.parametrize(("factor", "accepted"), [(0.4, False), (0.6, True), (1.7, True), (2.5, False)])
def test_the_slope_may_lie_between_half_and_twice_the_modulus(factor, accepted):
    pairs = curve(3000.0 * factor, end=0.3, count=600)
    if accepted:
        assert plain(**SOFT, stress_strain=pairs).stress_strain == pairs
    else:
        assert "slope" in refusal(pairs).what


def test_a_curve_far_below_the_yield_strength_is_refused():
    error = refusal(((0.0, 0.0), (0.001, 50.0), (0.05, 60.0)), E=50000.0, f=235.0)
    assert "60 MPa" in error.what and "235 MPa" in error.what


@pytest.mark.parametrize(("peak", "accepted"), [(0.80, False), (0.90, True)])
def test_one_coupon_may_lie_fifteen_per_cent_below_the_mean(peak, accepted):
    pairs = curve(peak=62.0 * peak, end=0.4, count=300)
    if accepted:
        assert plain(**SOFT, stress_strain=pairs)
    else:
        assert "peaks" in refusal(pairs).what


def test_the_compressive_side_is_held_against_the_compressive_strength():
    push = tuple((-e, -s) for e, s in reversed(curve(peak=60.0, end=0.4)[1:]))
    assert "in compression" in refusal((*push, *curve())).what
    push = tuple((-e, -s) for e, s in reversed(curve(peak=110.0, end=0.4, count=300)[1:]))
    assert plain(**SOFT, stress_strain=(*push, *curve())).stress_strain[0][0] < 0


def test_tension_counted_negative_is_refused():
    assert "peaks" in refusal(tuple((e, -s) for e, s in curve())).what


def test_a_curve_that_misses_the_origin_is_refused():
    lifted = tuple((e, s + 20.0) for e, s in curve())
    assert "20 MPa at strain zero" in refusal(lifted).what
    assert "at strain zero" in refusal(((-0.001, 17.0), *((e, s + 20.0) for e, s in curve()[1:]))).what
    # Without a reading at zero the first one is taken from the origin.
    assert "slope" in refusal(((0.001, 100.0), (0.01, 150.0), (0.05, 160.0))).what


def test_no_curve_of_the_library_contradicts_its_material():
    assert all(isinstance(material, Material) for material in library().values())


SECONDARY = (
    "ultimate_tension_MPa", "shear_strength_MPa", "bending_strength_MPa", "shear_modulus_MPa",
    "bearing_strength_MPa", "modulus_5_percent_MPa", "thickness_up_to_mm",
)  # fmt: skip


@pytest.mark.parametrize("name", SECONDARY)
@pytest.mark.parametrize("value", [-5.0, 0.0, float("nan"), float("inf")])
def test_secondary_values_are_above_zero(name, value):
    with pytest.raises(InputError) as caught:
        plain(
            **{
                name: Spread(value)
                if ("strength" in name and "bearing" not in name) or "ultimate" in name
                else value
            }
        )
    if np.isfinite(value):
        assert caught.value.where == f"materials.plain.{name.rsplit('_', 1)[0]}"


@pytest.mark.parametrize(
    ("name", "pairs"),
    [
        ("strength_by_duration", ((0.1, 1.0), (10.0, -1.0))),
        ("modulus_by_duration", ((0.1, 1.0), (10.0, 0.0))),
        ("modulus_by_duration", ((-1.0, 1.0), (10.0, 0.5))),
        ("strength_by_temperature", ((-20.0, 1.0), (40.0, -0.5))),
        ("modulus_by_temperature", ((-20.0, float("nan")),)),
    ],
)
def test_shares_and_durations_of_tables_are_above_zero(name, pairs):
    with pytest.raises(InputError) as caught:
        plain(**{name: pairs})
    assert caught.value.where == f"materials.plain.{name}"


def test_a_temperature_below_zero_is_one():
    assert plain(strength_by_temperature=((-20.0, 1.1), (23.0, 1.0)))


def test_without_any_strength_in_tension_or_bending_there_is_no_material():
    with pytest.raises(InputError) as caught:
        plain(yield_tension_MPa=None)
    assert caught.value.where == "materials.plain.yield_tension" and "bending_strength" in caught.value.todo
    flexural = plain(yield_tension_MPa=None, bending_strength_MPa=Spread(20.0))
    assert flexural.ductile is False
    with pytest.raises(InputError, match="plastic moment"):
        plain(yield_tension_MPa=None, bending_strength_MPa=Spread(20.0), ductile=True)
