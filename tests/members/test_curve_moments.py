"""The peak of the moment–curvature curve as a limit state: closed forms, laws of scale, and a study."""

import numpy as np
import pandas as pd
import pytest
from shapely import Polygon, box
from shapely.affinity import scale

from kit.members.cases import BendingCase, CompressionCase
from kit.members.curve_moments import applies, curve_columns
from kit.members.materials import Service, Spread
from kit.members.resistance import resistance
from kit.members.senses import upside_down
from kit.sections.section import properties, scaled
from tests.members.conftest import plain

E, F = 1000.0, 20.0
HELD = BendingCase("b", 900.0, restraint="sideways-and-twist", load_height="centroid", supports="forked")
FREE = BendingCase("b", 900.0, load_height="centroid", supports="forked")
ODD = Polygon([(0, 0), (70, 0), (70, 9), (12, 12), (18, 80), (45, 80), (45, 92), (4, 92)])
RECTANGLE = box(-15, -30, 15, 30)


def made_of(curve, **changes):
    values = {"E": E, "f": F, "family": "polymer", "stress_strain": tuple(curve)} | changes
    return plain(**values)


def gradual(end=0.2, count=60):
    """σ = f (1 − exp(−E ε / f)): no plateau before far beyond yield."""
    return [(0.0, 0.0), *((e, F * (1 - np.exp(-E * e / F))) for e in np.linspace(end / count, end, count))]


def table(polygon, case, material):
    return pd.DataFrame(
        [
            {
                "section_id": "a",
                "outline": "a",
                **properties(polygon).row(),
                **curve_columns(polygon, case, material),
            }
        ]
    )


def load(polygon, case, material, service=Service()):
    return resistance(table(polygon, case, material), case, material, service).iloc[0]


@pytest.mark.parametrize("end", [0.06, 0.1, 0.2])
def test_rectangle_by_quadrature(end):
    """M = 2 b ∫ σ(κ y) y dy at the curvature where the edge reaches the end of the curve."""
    material = made_of(gradual(end))
    y = np.linspace(0.0, 30.0, 4001)
    moment = 2 * 30 * np.trapezoid(F * (1 - np.exp(-E * end * y / 30 / F)) * y, y)
    assert load(RECTANGLE, HELD, material)["resistance_N"] == pytest.approx(moment / (900 / 4), rel=4e-3)


def test_a_straight_curve_gives_first_yield_and_a_long_plateau_full_plasticity():
    brittle = made_of([(0, 0), (0.5 * F / E, 0.5 * F), (F / E, F)])
    assert load(RECTANGLE, HELD, brittle)["resistance_N"] == pytest.approx(18000 * F / 225, rel=3e-3)
    ideal = made_of([(0, 0), (F / E, F), (10 * F / E, F), (40 * F / E, F)])
    found = load(RECTANGLE, HELD, ideal)
    assert found["resistance_N"] == pytest.approx(27000 * F / 225, rel=3e-3)
    assert found["resistance_N"] <= 27000 * F / 225


def test_a_curve_below_its_yield_strength_governs_and_has_its_name():
    found = load(RECTANGLE, HELD, made_of(gradual()))
    assert found["limit_state"] == "peak of moment-curvature"
    assert found["limit_states_checked"].split("; ")[:2] == ["full plasticity", "peak of moment-curvature"]
    assert "measured-curve-not-used" not in found["caveats"]
    assert found["resistance_N"] < 27000 * F / 225


def test_a_curve_that_hardens_does_not_raise_the_plastic_moment():
    harder = made_of([(0, 0), (F / E, F), (0.2, 3 * F)])
    assert load(RECTANGLE, HELD, harder)["limit_state"] == "full plasticity"


def test_without_the_column_the_row_says_that_the_curve_was_not_used():
    material = made_of(gradual())
    bare = pd.DataFrame([{"section_id": "a", "outline": "a", **properties(RECTANGLE).row()}])
    assert "measured-curve-not-used" in resistance(bare, HELD, material, Service())["caveats"][0].split()
    assert not applies(CompressionCase("c", 900.0), material)


@pytest.mark.parametrize("case", [HELD, FREE])
def test_similar_sections_by_the_cube(case):
    material = made_of(gradual())
    larger = scaled(table(ODD, case, material), np.array([2.0]))
    again = table(scale(ODD, 2.0, 2.0), case, material)
    for column in (name for name in again if name.startswith("Wcurve")):
        assert larger[column][0] == pytest.approx(again[column][0], rel=5e-3)


def test_a_lasting_load_stretches_the_curve():
    creeping = {"modulus_by_duration": ((87660.0, 0.3),), "strength_by_duration": ((87660.0, 0.5),)}
    material = made_of(gradual(), **creeping)
    short, long = (
        load(RECTANGLE, HELD, material, s)["resistance_N"] for s in (Service(), Service("10 years"))
    )
    assert long == pytest.approx(0.5 * short, rel=1e-9)


@pytest.mark.parametrize("case", [HELD, FREE])
def test_the_other_sense_is_the_mirrored_section(case):
    pull = [(e, 0.6 * s) for e, s in gradual()[1:]]
    push = [(-e, -s) for e, s in reversed(gradual()[1:])]
    material = made_of([*push, (0.0, 0.0), *pull], yield_tension_MPa=Spread(0.6 * F))
    here = table(ODD, case, material)
    mirrored = table(scale(ODD, 1, -1), case, material)
    turned = upside_down(here)
    for column in (name for name in here if name.startswith("Wcurve")):
        assert turned[column][0] == pytest.approx(mirrored[column][0], rel=5e-3)
        assert turned[column][0] != pytest.approx(here[column][0], rel=0.01)


def test_free_bending_is_not_held_bending():
    material = made_of(gradual())
    held, free = (load(ODD, case, material)["resistance_N"] for case in (HELD, FREE))
    assert free < 0.9 * held


STUDY = """
study: curve
title: A measured curve (invented)
outlines:
  - {from: shape, name: slab, shape: rectangle, dimensions: {depth: 60 mm, width: 30 mm}}
  - {from: shape, name: corner, shape: angle, dimensions: {depth: 60 mm, width: 40 mm, thickness: 8 mm}}
reference: {outline: slab}
preparation: {process: extruded, fit: {scale: 1}}
materials:
  sheet:
    family: polymer
    density: 955 kg/m3
    youngs_modulus: 1000 MPa
    poissons_ratio: 0.4
    yield_tension: 20 MPa
    yield_compression: 20 MPa
    stress_strain: sheet.csv
material: sheet
load_cases:
  bending: {span: 900 mm, restraint: sideways-and-twist, load_height: centroid, supports: forked}
  free-bending: {span: 900 mm, load_height: centroid, supports: forked}
  compression: {length: 900 mm}
report: {shortlist: {best: 1, worst: 0, by: bending}}
"""


def test_in_a_study_the_curve_of_the_coupon_decides(tmp_path):
    from kit.study import stages
    from kit.study.resolving import load_study
    from tests.study.files import written

    lines = [f"{strain:.9g},{stress:.9g}" for strain, stress in gradual()]
    (tmp_path / "sheet.csv").write_text("strain,stress\n" + "\n".join(lines) + "\n", encoding="utf-8")
    study = load_study(written(tmp_path, STUDY))
    outlines, left_out = stages.read_outlines(study)
    made = stages.make_sections(study, outlines, left_out, results=tmp_path / "results", workers=1)
    members = stages.make_members(study, study.variants[0], made)
    rows = members.table.set_index(["load_case", "outline"])
    for case in ("bending", "free-bending"):
        assert rows.loc[case, "limit_states_checked"].str.contains("peak of moment-curvature").all()
    assert rows.loc[("bending", "slab"), "limit_state"] == "peak of moment-curvature"
    y = np.linspace(0.0, 30.0, 4001)
    moment = 2 * 30 * np.trapezoid(F * (1 - np.exp(-E * 0.2 * y / 30 / F)) * y, y)
    assert rows.loc[("bending", "slab"), "resistance_N"] == pytest.approx(moment / 225, rel=4e-3)
    assert rows.loc[("bending", "slab"), "merit"] == pytest.approx(1.0)
    assert "kit.members.momentcurvature.moment_curvature" in members.used
