"""Monte Carlo against spreads known in closed form."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from shapely import box, unary_union

from kit.members import uncertainty as u
from kit.members.cases import BendingCase, CompressionCase, TensionCase
from kit.members.materials import Spread
from kit.members.state import columns_of
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

UNSURE = plain(youngs_modulus_MPa=Spread(210000.0, 0.1), yield_tension_MPa=Spread(235.0, 0.08),
               yield_compression_MPa=Spread(235.0, 0.08))  # fmt: skip
MANY = u.Uncertainty(samples=20000, seed=7)


def test_a_tie_scatters_as_its_strength(sections, short):
    drawn = u.samples(sections, TensionCase("t", 900.0), UNSURE, short, MANY)[:, 0]
    assert drawn.mean() == pytest.approx(1200 * 235, rel=3e-3)
    assert drawn.std() / drawn.mean() == pytest.approx(0.08, rel=0.02)


def test_a_slender_column_scatters_as_its_modulus(sections, short):
    case = CompressionCase("c", 9000.0, column_curve="euler")
    drawn = u.samples(sections, case, UNSURE, short, MANY)[:, 0]
    assert drawn.std() / drawn.mean() == pytest.approx(0.1, rel=0.02)


def test_the_interval_is_that_of_the_lognormal(sections, short):
    drawn = u.samples(sections, TensionCase("t", 900.0), UNSURE, short, MANY)
    width = np.sqrt(np.log1p(0.08**2))
    expected = 1200 * 235 * stats.lognorm(width, scale=np.exp(-(width**2) / 2)).ppf([0.025, 0.975])
    found = u.interval(drawn).iloc[0]
    np.testing.assert_allclose(found, expected, rtol=5e-3)


def test_a_common_material_never_changes_an_order(sections, short):
    """Only strength is uncertain and both yield: they rise and fall together."""
    drawn = u.samples(sections, TensionCase("t", 900.0), UNSURE, short, MANY)
    assert u.flip_probability(drawn, 0, 4) == 0.0


def test_model_error_flips_a_close_order_as_often_as_the_normal_says(short):
    """Two ties 5 % apart, model cov 8 % each: P = Φ(−ln(1.05) / (ζ√2))."""
    close = by_hand.table(a=by_hand.rectangle(20.0, 60.0), b=by_hand.rectangle(20.0, 63.0))
    spread = u.Uncertainty(samples=40000, seed=3, model_cov=0.08)
    drawn = u.samples(close, TensionCase("t", 900.0), plain(), short, spread)
    expected = stats.norm.cdf(-np.log(1.05) / (np.sqrt(np.log1p(0.08**2)) * np.sqrt(2)))
    assert u.flip_probability(drawn, 0, 1) == pytest.approx(expected, abs=0.01)
    assert u.flip_probability(drawn, 1, 0) == u.flip_probability(drawn, 0, 1)


def test_the_seed_repeats_and_the_cut_of_the_work_does_not_matter(sections, short, monkeypatch):
    spread = u.Uncertainty(samples=300, seed=5, dimensions_mm=0.2, model_cov=0.05)
    case = BendingCase("b", 2000.0)
    first = u.samples(sections, case, UNSURE, short, spread)
    monkeypatch.setattr(u, "MOST_VALUES", 700)
    np.testing.assert_array_equal(first, u.samples(sections, case, UNSURE, short, spread))
    other = u.samples(sections, case, UNSURE, short, u.Uncertainty(300, 6, 0.2, 0.05))
    assert not np.array_equal(first, other)


def test_no_spread_gives_back_the_resistance_itself(sections, short):
    from kit.members.resistance import resistance

    for case in (BendingCase("b", 2000.0), CompressionCase("c", 2000.0)):
        drawn = u.samples(sections, case, plain(), short, u.Uncertainty(3, 1))
        plain_load = resistance(sections, case, plain(), short)["resistance_N"]
        np.testing.assert_allclose(drawn, np.tile(plain_load, (3, 1)), rtol=1e-12)


@pytest.mark.parametrize(("b", "h"), [(60.0, 60.0), (4.0, 60.0), (60.0, 4.0)])
def test_growing_the_boundary_bounds_the_growth_of_the_properties(b, h):
    """Against rectangles made larger by 0.1 mm all around: the area exactly, the rest from above."""
    d = 0.1
    before = columns_of(by_hand.table(a=properties(box(0, 0, b, h)).row()))
    after = columns_of(by_hand.table(a=properties(box(0, 0, b + 2 * d, h + 2 * d)).row()))
    found = u.grown(before, np.array([d]))
    assert found["area_mm2"][0] == pytest.approx(after["area_mm2"][0], rel=5e-4)
    for name in ("Ix_mm4", "Iy_mm4", "J_mm4", "Wel_x_free_mm3"):
        true, bound = (values[name][0] / before[name][0] - 1 for values in (after, found))
        assert 0.97 * true <= bound < 3.2 * true, name


def test_crushing_scatters_as_the_walls_that_press(short):
    """Two legs of 8 mm, an edge that scatters by 0.2 mm: a coefficient of variation of 2 · 0.2 / 8."""
    table = unary_union([box(-50, 0, -42, 40), box(42, 0, 50, 40), box(-50, 40, 50, 52)])
    section = by_hand.table(a=properties(table).row())
    soft = plain(bearing_strength_MPa=1.0)
    case = BendingCase(
        "b", 900.0, restraint="sideways-and-twist", load_height="bottom", bearing_length_mm=1.0
    )
    drawn = u.samples(section, case, soft, short, u.Uncertainty(4000, 2, dimensions_mm=0.2))
    assert drawn.std() / drawn.mean() == pytest.approx(0.05, rel=0.04)


def test_a_polymer_with_a_curve_can_be_drawn_too(sections, short):
    pairs = tuple((e, 24 * (1 - np.exp(-1050 * e / 24))) for e in np.linspace(0.002, 0.15, 40))
    spreads = {"youngs_modulus_MPa": Spread(1050.0, 0.06), "yield_compression_MPa": Spread(24.0, 0.05)}
    material = plain(E=1050.0, f=24.0, family="polymer", stress_strain=pairs, **spreads)
    drawn = u.samples(sections, CompressionCase("c", 400.0), material, short, u.Uncertainty(500, 2))
    assert np.isfinite(drawn).all() and (drawn.std(axis=0) > 0).all()


def test_intervals_block_by_block_are_those_of_the_samples(sections, short, monkeypatch):
    spread = u.Uncertainty(samples=200, seed=5, dimensions_mm=0.2, model_cov=0.05)
    case = CompressionCase("c", 2000.0)
    whole = u.interval(u.samples(sections, case, UNSURE, short, spread))
    monkeypatch.setattr(u, "MOST_VALUES", 500)
    shuffled = sections.set_index(pd.Index(list("uvwxyz")))
    found = u.resistance_interval(shuffled, case, UNSURE, short, spread)
    assert list(found.index) == list("uvwxyz")
    np.testing.assert_array_equal(found.to_numpy(), whole.to_numpy())
    assert len(u.resistance_interval(sections.iloc[:0], case, UNSURE, short, spread)) == 0


def test_the_order_is_judged_at_equal_mass(short):
    """A heavier section of the same shape is the same outline: at equal mass the order is a coin's."""
    twins = by_hand.table(small=by_hand.rectangle(20.0, 60.0), large=by_hand.rectangle(30.0, 90.0))
    spread = u.Uncertainty(samples=20000, seed=3, model_cov=0.08)
    case = BendingCase("b", 2000.0, restraint="sideways-and-twist")
    drawn = u.merit_samples(twins, twins.iloc[0], case, plain(), short, spread)
    assert u.flip_probability(drawn, 0, 1) == pytest.approx(0.5, abs=0.02)


def test_neighbours_are_listed_from_the_best_down(sections, short):
    spread = u.Uncertainty(samples=500, seed=3, model_cov=0.1)
    case = BendingCase("b", 2000.0, restraint="sideways-and-twist")
    drawn = u.merit_samples(sections, sections.iloc[4], case, UNSURE, short, spread)
    drawn[:, 1] = np.nan
    found = u.order_flips(drawn, list(sections["outline"]))
    assert found["ahead"][0] == "pipe" and len(found) == 4
    assert "flat" not in set(found["ahead"]) | set(found["behind"])
    assert list(found["behind"][:-1]) == list(found["ahead"][1:])
    assert found["flip_probability"].between(0.0, 0.5).all()
