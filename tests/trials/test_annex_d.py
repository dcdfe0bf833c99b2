"""EN 1990 Annex D: printed tables, invariants of the formulas, and simulated fractiles."""

import numpy as np
import pytest

from kit.trials import annex_d


@pytest.mark.parametrize("known", [True, False])
def test_printed_table_d1_within_its_truncation(known):
    """EN 1990:2002, Table D1 (as in tests/published/checks.csv): truncated, never above the exact quantile."""
    for n, printed in annex_d.TABLE_D1["known" if known else "unknown"].items():
        exact = annex_d.fractile_factor(n, known=known)
        assert printed == pytest.approx(exact, rel=0.008)
        assert printed <= exact + 0.01


def test_factors_fall_with_the_number_of_tests_towards_the_fractile():
    factors = [annex_d.fractile_factor(n) for n in range(2, 200)]
    assert (np.diff(factors) < 0).all()
    assert annex_d.fractile_factor(10**7) == pytest.approx(1.6449, abs=1e-3)


def test_the_next_value_lies_below_the_characteristic_one_in_five_of_a_hundred():
    """What k_n promises, simulated: log-normal samples of five and a sixth value."""
    draws = np.exp(np.random.default_rng(3).normal(0.0, 0.1, (40_000, 6)))
    k = annex_d.fractile_factor(5)
    logs = np.log(draws[:, :5])
    below = np.log(draws[:, 5]) < logs.mean(axis=1) - k * logs.std(axis=1, ddof=1)
    assert below.mean() == pytest.approx(0.05, abs=0.004)


def test_a_model_that_is_right_up_to_a_factor_has_no_scatter():
    found = annex_d.correction(np.array([2.2, 4.4, 6.6, 11.0]), np.array([2.0, 4.0, 6.0, 10.0]))
    assert found.b == pytest.approx(1.1)
    assert found.v_delta == pytest.approx(0.0, abs=1e-7)
    assert found.interval() == pytest.approx((1.1, 1.1))


def test_the_unit_of_the_loads_changes_nothing():
    measured, predicted = np.array([110.0, 153.0, 222.0, 255.0]), np.array([100.0, 150.0, 200.0, 250.0])
    newton, kilo = (
        annex_d.correction(measured * 1e3, predicted * 1e3),
        annex_d.correction(measured, predicted),
    )
    assert (newton.b, newton.v_delta) == pytest.approx((kilo.b, kilo.v_delta))


def test_more_scatter_and_fewer_tests_lower_the_values():
    base = annex_d.resistance_factors(0.05, 0.08, (2.33, 7.85))
    assert annex_d.resistance_factors(0.10, 0.08, (2.33, 7.85)).design < base.design
    assert annex_d.resistance_factors(0.05, 0.08, (2.63, 11.4)).characteristic < base.characteristic
    assert base.design < base.characteristic < 1.0
    assert base.gamma_m > 1.0


def test_no_scatter_at_all_leaves_the_prediction():
    none = annex_d.resistance_factors(0.0, 0.0, (2.33, 7.85))
    assert (none.characteristic, none.design) == (1.0, 1.0)


@pytest.mark.parametrize(("tests", "known"), [(0, True), (1, False), (0, False)])
def test_no_factor_from_no_tests(tests, known):
    with pytest.raises(ValueError, match="tests"):
        annex_d.fractile_factor(tests, known=known)
