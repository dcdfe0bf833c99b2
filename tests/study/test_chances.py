"""Intervals of merits and the order of neighbours against lognormal laws written out here."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from kit.study import chances, stages
from kit.study.ranking import by_outline
from kit.study.resolving import load_study
from tests.study.files import written

STUDY = """\
study: unsure
title: Three bars
outlines:
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 20 mm}}
  - {from: shape, name: deep, shape: rectangle, dimensions: {depth: 64 mm, width: 20 mm}}
  - {from: shape, name: rod, shape: circle, dimensions: {diameter: 40 mm}}
reference: {outline: bar}
preparation: {fit: {scale: 1}}
materials:
  stock:
    density: 7850 kg/m3
    youngs_modulus: {mean: 210 GPa, cov: 5 %}
    poissons_ratio: 0.3
    yield_tension: {mean: 300 MPa, cov: 7 %}
    yield_compression: {mean: 300 MPa, cov: 7 %}
material: stock
load_cases:
  tension: {length: 900 mm}
  bending: {span: 9 m, restraint: sideways-and-twist, supports: forked}
uncertainty: {samples: 20000, seed: 3, model: {tension: 0 %, bending: 6 %}}
"""
# Scatter of the ratio of two predictions that each err by 6 %, independently, as a lognormal.
ZETA = np.sqrt(2.0 * np.log1p(0.06**2))


@pytest.fixture(scope="module")
def members(tmp_path_factory):
    folder = tmp_path_factory.mktemp("unsure")
    study = load_study(written(folder, STUDY))
    outlines, left_out = stages.read_outlines(study)
    sections = stages.make_sections(study, outlines, left_out, results=folder, workers=1)
    return stages.make_members(study, study.variants[0], sections).table.set_index(["load_case", "outline"])


def test_what_is_common_to_all_cancels_in_a_merit(members):
    """Ties of one stock: however strong it is, equal masses carry equal loads."""
    ties = members.loc["tension"]
    np.testing.assert_allclose(ties[["merit_low", "merit", "merit_high"]], 1.0, rtol=1e-9)
    assert (ties["resistance_high"] / ties["resistance_low"] > 1.2).all()


def test_the_interval_of_a_merit_is_that_of_a_ratio_of_lognormals(members):
    deep = members.loc["bending", "deep"]
    for column, point in (("merit_low", 0.025), ("merit_high", 0.975)):
        expected = deep["merit"] * np.exp(ZETA * stats.norm.ppf(point))
        assert deep[column] == pytest.approx(expected, rel=0.01)


def test_the_reference_is_certain_to_be_itself(members):
    bar = members.loc["bending", "bar"]
    assert bar["merit_low"] == bar["merit_high"] == 1.0


def test_the_order_turns_round_as_often_as_the_normal_says(members):
    """P(behind > ahead) = Φ(−ln(merit ratio) / ζ), at the row of the one ahead; the last has no next."""
    bent = members.loc["bending"].sort_values("merit", ascending=False)
    assert list(bent.index) == ["deep", "bar", "rod"]
    for ahead, behind in (("deep", "bar"), ("bar", "rod")):
        ratio = bent.loc[ahead, "merit"] / bent.loc[behind, "merit"]
        expected = stats.norm.cdf(-np.log(ratio) / ZETA)
        assert bent.loc[ahead, "flip_probability"] == pytest.approx(expected, abs=0.01)
    assert np.isnan(bent.loc["rod", "flip_probability"])


def test_the_ranks_carry_it_along(members):
    ranks = by_outline(members.reset_index()).set_index(["load_case", "item"])
    for name in chances.MERIT:
        for outline in ("bar", "deep", "rod"):
            found, own = ranks.loc[("bending", outline), name], members.loc[("bending", outline), name]
            assert found == own or (np.isnan(found) and np.isnan(own))


def test_without_an_uncertainty_nothing_is_claimed(tmp_path):
    study = load_study(written(tmp_path, STUDY.split("uncertainty")[0]))
    case, table = study.variants[0].cases[0], pd.DataFrame({"outline": ["a"], "orientation_deg": [0.0]})
    found = pd.DataFrame({"merit": [1.0], "limit_states_checked": ["yield"]})
    nothing = chances.of_merit(study.variants[0], case, table, pd.Series(name=0), found)
    assert nothing.isna().all().all() and chances.intervals(study.variants[0], case, table).isna().all().all()


def test_repeats_and_different_limit_states_are_not_neighbours():
    """b repeats a; c was checked for something else: nobody is next to anybody but a and d."""
    table = pd.DataFrame({"outline": list("abcd"), "orientation_deg": 0.0, "content": list("aacd")})
    found = pd.DataFrame({"merit": [2.0, 2.0, 1.5, 1.0], "limit_states_checked": ["x", "x", "x; y", "x"]})
    order = chances._order(table, found)
    assert list(order[order == "x"].index) == [0, 3]
    assert order[1] == "" and order[2] == "x; y"


def test_however_the_work_is_cut_up_it_comes_to_the_same(tmp_path, monkeypatch, members):
    from kit.members import uncertainty

    monkeypatch.setattr(uncertainty, "MOST_VALUES", 1)
    study = load_study(written(tmp_path, STUDY))
    outlines, left_out = stages.read_outlines(study)
    sections = stages.make_sections(study, outlines, left_out, results=tmp_path, workers=1)
    again = stages.make_members(study, study.variants[0], sections).table
    pd.testing.assert_frame_equal(again.set_index(["load_case", "outline"]), members)


def test_a_study_with_partial_factors_states_the_load_they_leave(tmp_path):
    """R/(γ_M γ_F), own weight off, where strength governs, R itself where the limit of deflection does; no column without."""
    factored = STUDY.replace("supports: forked}", "supports: forked, deflection_limit: 1/2000}").split(
        "uncert"
    )[0]
    study = load_study(written(tmp_path, factored + "partial_factors: {material: 1.1, load: 1.5}\n"))
    outlines, left_out = stages.read_outlines(study)
    sections = stages.make_sections(study, outlines, left_out, results=tmp_path, workers=1)
    found = stages.make_members(study, study.variants[0], sections).table
    ties, beams = (found[found["load_case"] == name] for name in ("tension", "bending"))
    assert set(beams["limit_state"]) == {"deflection"}
    # The partial factor of loads counts for the tie's own weight too: 1.5 (P + G) = (R + G) / 1.1.
    weight = 9.80665 * ties["mass_kg"]
    np.testing.assert_allclose(ties["design_load"], (ties["resistance_N"] + weight) / 1.65 - weight)
    np.testing.assert_allclose(beams["design_load"], beams["resistance_N"])
    np.testing.assert_allclose(ties["merit"], 1.0)


def test_without_partial_factors_there_is_no_such_column(members):
    assert "design_load" not in members
