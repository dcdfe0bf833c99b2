"""The verb ``size``: what it prints, that the size found carries the load, and what it refuses."""

import re

import numpy as np
import pytest

from kit.cli import main
from kit.errors import InputError
from kit.members.resistance import load_name, resistance
from kit.sections.section import scaled
from kit.study.resolving import load_study
from kit.study.sizing import asked, section_row, size_outline, summary
from tests.study.files import SMALL, changed, written

NONE = {"orientation": None, "variant": None}
FACTORED = SMALL + "partial_factors: {material: 1.1, load: 1.5}\n"


def sized(tmp_path, load, case, text=SMALL, **more):
    study = load_study(written(tmp_path, text))
    wanted = asked(study, more.pop("outline", "bar"), load, case, {**NONE, **more})
    return wanted, *size_outline(study, wanted)


@pytest.mark.parametrize(("case", "load"), [("bending", "2 kN"), ("torsion", "0.5 kN m")])
@pytest.mark.parametrize("outline", ["bar", "rod"])
def test_the_sized_section_carries_exactly_the_load_when_evaluated_again(tmp_path, case, load, outline):
    """Load and own weight times both factors reach the strength: 1.65 (W a/2 + G L/8) = M, a a third of L.

    What is left without factors is 1.65 W and 0.65 of the own weight, for 3/4 of which a load has its moment.
    """
    wanted, found, row = sized(tmp_path, load, case, FACTORED, outline=outline)
    table = scaled(row.to_frame().T.infer_objects(), np.array([found.scale]))
    again = resistance(table, wanted.case, wanted.variant.material, wanted.variant.service).iloc[0]
    own = 0.75 * 9.80665 * found.mass_kg if case == "bending" else 0.0
    assert again[load_name(wanted.case)] == pytest.approx(1.65 * wanted.load + 0.65 * own, rel=1e-5)
    assert again["limit_state"] == found.limit_state
    assert again["mass_kg"] == pytest.approx(found.mass_kg)


def test_a_shaft_grows_with_the_cube_root_of_its_torque(tmp_path):
    """Full plastic torque goes with s³."""
    _, one, _ = sized(tmp_path, "0.5 kN m", "torsion")
    _, eight, _ = sized(tmp_path, "4 kN m", "torsion")
    assert eight.scale / one.scale == pytest.approx(2.0, rel=1e-6)
    assert eight.mass_kg / one.mass_kg == pytest.approx(4.0, rel=1e-6)


def test_a_stiff_beam_is_made_for_its_load_and_its_own_weight_by_hand(tmp_path):
    """W a (3 L² − 4 a²)/48EI + 5 G L³/384EI = L/2000, a = L/3, but for shear: no partial factor enters."""
    tight = changed(("load_spacing: 300 mm}", "load_spacing: 300 mm, deflection_limit: 1/2000}"))
    _, one, _ = sized(tmp_path, "10 N", "bending", tight)
    factored = tight + "partial_factors: {material: 1.1, load: 1.5}\n"
    _, same, _ = sized(tmp_path, "10 N", "bending", factored)
    assert one.limit_state == "deflection" and one.deflection_mm == pytest.approx(900 / 2000, rel=1e-6)
    own, ei = 9.80665 * one.mass_kg, 210000 * one.width_mm * one.depth_mm**3 / 12
    bent = (10 * 300 * (3 * 900**2 - 4 * 300**2) / 48 + 5 * own * 900**3 / 384) / ei
    assert own > 5 and bent == pytest.approx(900 / 2000, rel=0.02)
    assert one.own_weight_N == pytest.approx(own) and 0 < one.sag_mm < one.deflection_mm
    assert same.scale == pytest.approx(one.scale, rel=1e-9)


def test_the_first_orientation_holds_unless_another_is_asked_for(tmp_path):
    _, upright, _ = sized(tmp_path, "2 kN", "bending")
    _, flat, _ = sized(tmp_path, "2 kN", "bending", orientation="90 deg")
    assert flat.width_mm / flat.depth_mm == pytest.approx(3.0)
    assert flat.mass_kg > upright.mass_kg


def test_one_screen_names_all_that_was_asked_for(tmp_path):
    wanted, found, row = sized(tmp_path, "2 kN", "bending", FACTORED)
    text = summary(wanted, found, row)
    for word in (
        "scale",
        "size",
        "mass",
        "limit state",
        "own weight",
        "deflection",
        "not a design",
        "loads × 1.5",
    ):
        assert word in text
    assert float(re.search(r"scale\s+([\d.]+)", text)[1]) == pytest.approx(found.scale, rel=1e-3)


def test_the_command_prints_it_and_ends_with_0(tmp_path, capsys):
    file = written(tmp_path)
    status = main(["size", str(file), "--outline", "bar", "--load", "2 kN", "--load-case", "bending"])
    assert status == 0
    assert "limit state" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"--outline": "bat"}, "'bar'"),
        ({"--load-case": "bend"}, "'bending'"),
        ({"--load": "2"}, "unit is missing"),
        ({"--load": "2 kN m"}, "moment"),
        ({"--load": "-2 kN"}, "above zero"),
        ({"--load": "nan kN"}, "--load"),
        ({"--load-case": "torsion"}, "force"),
        ({"--orientation": "90"}, "unit is missing"),
        ({"--variant": "long"}, "as given"),
    ],
)
def test_bad_input_says_what_and_what_would_do_with_status_2(tmp_path, capsys, change, said):
    given = {"--outline": "bar", "--load": "2 kN", "--load-case": "bending"} | change
    words = [word for pair in given.items() for word in (f"{pair[0]}={pair[1]}",)]
    assert main(["size", str(written(tmp_path)), *words]) == 2
    message = capsys.readouterr().err
    assert said in message and "Traceback" not in message


def test_an_outline_that_cannot_be_made_is_refused_with_the_reason(tmp_path):
    thin = changed(("preparation: {", "preparation: {least_wall: 30 mm, "))
    study = load_study(written(tmp_path, thin))
    with pytest.raises(InputError, match="left out"):
        section_row(study, asked(study, "bar", "2 kN", "bending", NONE))


def test_walls_and_corners_scale_with_the_section_and_it_says_so(tmp_path):
    """Made from a 20 mm bar with a least wall of 15 mm: at half its size that wall is gone."""
    text = changed(("preparation: {", "preparation: {least_wall: 15 mm, "))
    wanted, found, row = sized(tmp_path, "1 kN", "bending", text)
    assert found.scale < 0.7
    assert "less than the 15 mm" in summary(wanted, found, row)


HEAVY = """
study: heavy
title: Own weight
outlines:
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 30 mm, width: 30 mm}}
reference: {outline: bar}
preparation: {process: extruded, fit: {scale: 1}}
material: polyethylene-sheet
load_cases:
  bending: {span: 20 m, loading: uniform, restraint: sideways-and-twist, supports: forked}
  post: {kind: compression, length: 4 m, ends: fixed-free, column_curve: euler}
  rope: {kind: tension, length: 4000 m}
"""


def test_a_beam_is_made_to_carry_its_own_weight_too(tmp_path):
    """(W + ρ g A L) L/8 = f a³/4 of a square of side a: 83 mm, not the 24 mm that carry 31 N alone."""
    wanted, found, row = sized(tmp_path, "31 N", "bending", HEAVY)
    strength = wanted.variant.material.yield_tension_MPa.mean
    weight = 955e-9 * 9.80665 * found.width_mm**2 * 20000
    moment = strength * found.width_mm**3 / 4
    assert (31 + weight) * 20000 / 8 == pytest.approx(moment, rel=1e-4)
    text = summary(wanted, found, row)
    assert "beside the member's own weight" in text and "small deflections" in text


def test_a_post_is_made_to_carry_its_own_weight_too(tmp_path):
    """P/(π² E I/4L²) + G/(7.837 E I/L²) = 1, by Euler's load and Greenhill's own weight."""
    wanted, found, _ = sized(tmp_path, "31 N", "post", HEAVY)
    ei = wanted.variant.material.youngs_modulus_MPa.mean * found.width_mm**4 / 12 / 4000**2
    weight = 955e-9 * 9.80665 * found.width_mm**2 * 4000
    assert 31 / (3.14159265**2 / 4 * ei) + weight / (7.837347 * ei) == pytest.approx(1.0, rel=1e-4)


def test_a_rope_that_tears_by_its_own_weight_has_no_size(tmp_path):
    """ρ g L = 37 MPa over 4 km is more than the strength, at any size."""
    _, found, _ = sized(tmp_path, "1 N", "rope", HEAVY)
    assert np.isnan(found.scale) and "beside the member's own weight" in found.limit_state


def test_a_load_that_the_least_scale_carries_says_that(tmp_path):
    """A bar of 20 × 60 mm made 32 times smaller still carries 235 · 1.17 = 275 N of pull."""
    wanted, found, row = sized(tmp_path, "200 N", "tie", changed(("load_cases:", TIE)))
    assert np.isnan(found.scale)
    assert "carries the load already" in summary(wanted, found, row)
    _, larger, _ = sized(tmp_path, "400 N", "tie", changed(("load_cases:", TIE)))
    assert larger.area_mm2 == pytest.approx(400 / 235, rel=1e-3)


TIE = "load_cases:\n  tie: {kind: tension, length: 900 mm}"

THIN = """
study: thin
title: Thin walls
outlines:
  - {from: shape, name: thin, shape: square-tube, dimensions: {depth: 60 mm, wall: 0.6 mm}}
  - {from: shape, name: corner, shape: angle, dimensions: {depth: 60 mm, width: 40 mm, thickness: 1.5 mm}}
reference: {outline: thin}
preparation: {process: extruded, fit: {scale: 1}}
material: aluminium-6060-T66
load_cases:
  compression: {length: 400 mm}
  bending: {span: 600 mm, load_height: shear-centre, supports: forked}
"""


def test_thin_walls_are_looked_at_and_their_rules_told(tmp_path):
    wanted, found, row = sized(tmp_path, "8 kN", "compression", THIN, outline="thin")
    assert found.limit_state == "local"
    text = summary(wanted, found, row)
    assert "slenderness rules" in text and "may buckle locally before" not in text


def test_off_its_axes_the_outline_may_change_its_shape(tmp_path):
    """The half-wavelength curve lowers the elastic limit: a larger section than beam theory alone asks for."""
    wanted, found, row = sized(tmp_path, "0.2 kN", "bending", THIN, outline="corner")
    assert "in which the section keeps its shape" not in summary(wanted, found, row)
    from kit.members.sizing import size

    bare = row[[name for name in row.index if "strain" not in str(name)]]
    rigid = size(bare, 200.0, wanted.case, wanted.variant.material, wanted.variant.service)
    assert rigid.scale <= found.scale


def test_a_measured_curve_bounds_the_size(tmp_path):
    lines = "strain,stress\n" + "".join(
        f"{e / 100},{20 * (1 - 2.718 ** (-e / 2)):.4f}\n" for e in range(1, 20)
    )
    (tmp_path / "sheet.csv").write_text(lines, encoding="utf-8")
    own = (
        "materials: {sheet: {family: polymer, density: 955 kg/m3, youngs_modulus: 1 GPa, poissons_ratio: 0.4, "
        "yield_tension: 20 MPa, yield_compression: 20 MPa, stress_strain: sheet.csv}}\nmaterial: sheet"
    )
    text = changed(
        ("material: steel-S235", own),
        ("load_spacing: 300 mm}", "load_spacing: 300 mm, restraint: sideways-and-twist}"),
    )
    _, found, _ = sized(tmp_path, "0.5 kN", "bending", text)
    assert found.limit_state == "peak of moment-curvature"
