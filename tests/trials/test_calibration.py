"""Calibration: factors per limit state, refusal of too few tests, judgement on designs left out, ranking."""

import numpy as np
import pandas as pd
import pytest

from kit.members.cases import BendingCase, CompressionCase
from kit.members.materials import Service
from kit.trials import annex_d, calibration
from tests.trials.pieces import i_polygon, plastic, section

SERVICE = Service()


def made(states: dict[str, tuple[float, int, int]], scatter=0.03, seed=1) -> pd.DataFrame:
    """Tests by limit state: bias, designs, tests of each."""
    generator = np.random.default_rng(seed)
    rows = []
    for state, (bias, designs, repeats) in states.items():
        for design in range(designs):
            predicted = 1000.0 * (design + 1)
            for _ in range(repeats):
                measured = predicted * bias * np.exp(scatter * generator.standard_normal())
                rows.append((f"{state}-{design}", state, predicted, measured))
    table = pd.DataFrame(rows, columns=["outline", "limit_state", "predicted_load", "measured_load"])
    return table.assign(orientation_deg=0.0, test="member", status="used", predicted_v_rt=0.08)


def test_four_tests_give_values_and_three_do_not():
    table = calibration.factors(made({"full plasticity": (1.1, 2, 2), "bearing": (0.9, 3, 1)}))
    by_state = table.set_index("limit_state")
    assert np.isfinite(
        by_state.loc["full plasticity", ["characteristic_factor", "design_factor", "v_delta"]].astype(float)
    ).all()
    few = by_state.loc["bearing"]
    assert few["b"] == pytest.approx(0.9, rel=0.05)
    assert few[["characteristic_factor", "design_factor", "gamma_m", "v_delta", "k_n"]].isna().all()
    assert "3 of at least 4 tests" in few["verdict"]


def test_the_factor_is_the_one_of_annex_d():
    trials = made({"full plasticity": (1.1, 3, 2)})
    row = calibration.factors(trials).iloc[0]
    expected = annex_d.correction(trials["measured_load"], trials["predicted_load"])
    assert row["b"] == pytest.approx(expected.b)
    assert row["b_low"] < row["b"] < row["b_high"]
    assert row["design_factor"] < row["characteristic_factor"] < row["b"]


def test_a_bias_that_is_common_is_judged_better_on_designs_left_out():
    assert calibration.judged(made({"a": (1.2, 4, 2)})).startswith("better")


def test_a_factor_that_only_one_design_asks_for_is_judged_no_better():
    trials = made({"a": (1.0, 4, 2)}, scatter=0.001)
    odd = trials["outline"] == "a-3"
    trials.loc[odd, "measured_load"] *= 1.4
    assert calibration.judged(trials).startswith("no better")
    assert calibration.applied(calibration.factors(trials)) == {}


def test_leaving_one_out_never_uses_the_design_itself():
    trials = made({"a": (1.0, 2, 3)}, scatter=0.0)
    first = trials["outline"] == "a-0"
    trials.loc[first, "measured_load"] *= 2.0
    errors = calibration.left_one_out(trials)
    assert errors.loc[first, "corrected"].to_numpy() == pytest.approx(np.log(2.0))
    assert errors.loc[~first, "corrected"].to_numpy() == pytest.approx(-np.log(2.0))


def test_coupons_and_records_left_out_take_no_part():
    trials = made({"a": (1.0, 2, 2)})
    trials.loc[0, "status"] = "left out"
    trials.loc[1, "test"] = "iso-178"
    assert calibration.factors(trials).iloc[0]["tests"] == 2


@pytest.fixture(scope="module")
def sections():
    shapes = {"plain": i_polygon(), "stocky": i_polygon(60, 100, 20, 20), "slim": i_polygon(140, 60, 8, 6)}
    return pd.DataFrame([section(shape, name) for name, shape in shapes.items()]).infer_objects()


def test_one_common_factor_cannot_change_the_ranking_and_that_is_said(sections):
    case = BendingCase("bending", 2000.0, restraint="sideways-and-twist", supports="forked")
    ranks = calibration.ranking(
        sections, sections.iloc[0], case, (plastic(), SERVICE), {"full plasticity": 0.7}
    )
    assert (ranks["rank"] == ranks["rank_corrected"]).all()
    assert ranks["merit_corrected"].to_numpy() == pytest.approx(ranks["merit"].to_numpy())
    assert "cannot change the ranking" in calibration.ranking_verdict(ranks, {"full plasticity": 0.7})


def test_without_a_factor_the_ranking_stands(sections):
    case = CompressionCase("column", 900.0)
    ranks = calibration.ranking(sections, sections.iloc[0], case, (plastic(), SERVICE), {})
    assert "stands as predicted" in calibration.ranking_verdict(ranks, {})


def test_factors_that_differ_can_change_it_and_each_limit_state_gets_its_own(sections):
    case = BendingCase("bending", 1500.0, supports="forked")
    raw, states = calibration.corrected_load(sections, case, (plastic(), SERVICE), {})
    factors = dict.fromkeys(set(states), 1.0) | {states[0]: 0.5}
    low, _ = calibration.corrected_load(sections, case, (plastic(), SERVICE), factors)
    changed = states == states[0]
    assert low[changed] == pytest.approx(0.5 * raw[changed])
    assert low[~changed] == pytest.approx(raw[~changed])


def test_material_values_come_back_with_an_interval():
    trials = made({"full plasticity": (1.1, 3, 2)}).assign(
        material="m", modulus_kind="E", modulus_MPa=[1000, 1010, 990, 1005, 995, 1000], assumed_modulus_MPa=1100.0,
        assumed_strength_MPa=15.0, strength_MPa=1.0,
    )  # fmt: skip
    values = calibration.material_values(trials).set_index("value")
    assert values.loc["modulus", "mean_MPa"] == pytest.approx(1000.0)
    assert values.loc["modulus", "low_MPa"] < 1000.0 < values.loc["modulus", "high_MPa"]
    assert values.loc["yield strength", "mean_MPa"] == pytest.approx(15.0 * 1.1, rel=0.03)


def test_the_models_own_error_takes_no_part_in_the_scatter_of_basic_variables():
    """Samples with 8 % from the material and 10 % from the model: V_rt must be the 8 %."""
    from kit.members.uncertainty import lognormal
    from kit.trials.prediction import basic_variation

    normal = np.random.default_rng(4).standard_normal((2, 200_000))
    sampled = lognormal(normal[0], 0.08) * lognormal(normal[1], 0.10)
    assert basic_variation(sampled, 0.10) == pytest.approx(0.08, rel=0.02)
    assert basic_variation(sampled, 0.20) == 0.0
