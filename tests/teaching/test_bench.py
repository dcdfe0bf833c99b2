"""The bench: turning by tensor laws, what does not depend on a control stays, a control is followed."""

import time
from types import SimpleNamespace

import numpy as np
import pytest

from kit.errors import Unusable
from kit.sections.section import properties
from kit.teaching import bench
from kit.teaching.controls import Panel, _member
from kit.teaching.plots import log_plot


@pytest.fixture(scope="module")
def panel():
    made = Panel()
    made.wait()
    return made


def test_a_quarter_turn_exchanges_the_second_moments():
    upright, lying = (bench.shown(bench.Setting("S", turn_deg=turn)).properties for turn in (0.0, 90.0))
    assert lying.Ix_mm4 == pytest.approx(upright.Iy_mm4) and lying.J_mm4 == upright.J_mm4


def test_coarse_outlines_of_the_bench_are_within_its_stated_accuracy():
    found = bench.solved("heron", "", 2.0)
    made = bench.saltmere.ready(bench.saltmere.drawing("heron"))
    close = properties(made.polygon, bounds=0.002)
    assert found.Ix_mm4 == pytest.approx(close.Ix_mm4, rel=5e-3)
    assert found.J_mm4 == pytest.approx(close.J_mm4, rel=bench.BOUNDS)


def test_a_tie_is_area_times_strength_less_its_own_weight():
    """It hangs, so that its upper end pulls all of it."""
    for span in (300.0, 3000.0):
        found = bench.shown(bench.Setting("H", span_mm=span))
        tie = found.members.set_index("load_case").loc["tie"]
        weight = 9.80665 * tie["mass_kg"]
        assert tie["resistance"] == pytest.approx(15.0 * found.polygon.area - weight, rel=1e-6)


def test_the_long_end_of_the_curve_is_eulers():
    setting = bench.Setting("H", span_mm=4000.0)
    lengths, stress = bench.half_waves(setting)
    found = bench.solved("H", setting.typeface, 2.0)
    euler = np.pi**2 * 1100.0 * found.I2_mm4 / found.area_mm2 / lengths[-1] ** 2
    assert stress[-1] == pytest.approx(euler, rel=0.03) and lengths[-1] == pytest.approx(4000.0)


def test_what_the_tool_cannot_make_is_said_and_the_bench_goes_on(panel, monkeypatch):
    def refuse(_):
        raise Unusable("the cutter closes it")

    monkeypatch.setattr(bench, "shown", refuse)
    panel.controls["turn_deg"].value = 15.0
    assert "the cutter closes it" in panel.views["message"].value
    monkeypatch.undo()
    panel.controls["turn_deg"].value = 0.0
    assert "followed in" in panel.views["message"].value


@pytest.mark.parametrize(
    ("control", "value", "view"),
    [("outline", "heron", "picture"), ("turn_deg", 45.0, "picture"), ("span_mm", 1500.0, "position"),
     ("material", "steel-S235", "members"), ("cutter_radius_mm", 4.0, "numbers")],
)  # fmt: skip
def test_every_control_is_followed(panel, control, value, view):
    before = panel.views[view].value
    panel.controls[control].value = value
    assert panel.views[view].value != before
    assert "class='dimmed'" in panel.views["curve"].value
    panel.wait()
    assert "class='fresh'" in panel.views["curve"].value and "<polyline" in panel.views["curve"].value


def test_the_views_lie_in_columns_that_give_way_and_controls_fill_theirs(panel):
    row = panel.box().children[1]
    assert "wrap" in row.layout.flex_flow and len(row.children) == 3
    assert all(column.layout.flex.startswith("1 1 ") for column in row.children)
    assert all(control.layout.width == "auto" for control in panel.controls.values())


def test_a_resistance_that_is_not_assessed_is_shown_as_that():
    one = SimpleNamespace(load_case="shaft", resistance=np.nan, unit="N mm", limit_state="not assessed")
    assert _member(one) == ("shaft", "not assessed", "")


@pytest.mark.parametrize("material", bench.saltmere.materials())
def test_what_is_not_assessed_says_why(material):
    for one in bench.shown(bench.Setting(material=material)).members.itertuples():
        if not np.isfinite(one.resistance):
            assert len(one.why) > 10


def test_a_thick_section_of_a_thin_alloy_says_once_that_it_is_too_thick(panel):
    panel.controls["material"].value = "aluminium-6060-T66"
    said = panel.views["members"].value
    assert said.count("thicker than the material&#x27;s strengths hold for") == 1
    assert "beam, column, tie, shaft: the section is" in said
    panel.controls["material"].value = "saltmere-lumber"


def test_while_a_control_is_dragged_one_curve_is_computed_at_a_time(panel, monkeypatch):
    panel.wait()
    running, most, asked = [], [], []

    def slow(setting, wanted):
        running.append(setting)
        most.append(len(running))
        asked.append(setting.span_mm)
        while wanted() and setting.span_mm != 1900.0:
            time.sleep(0.01)
        running.remove(setting)
        return ([100.0, 200.0], [2.0, 1.0]) if wanted() else None

    monkeypatch.setattr(bench, "half_waves", slow)
    for span in (1200.0, 1500.0, 1700.0, 1900.0):
        panel.controls["span_mm"].value = span
        time.sleep(0.12)
    panel.wait()
    assert max(most) == 1 and asked[-1] == 1900.0 and "class='fresh'" in panel.views["curve"].value


def test_a_curve_that_is_not_wanted_any_more_is_given_up():
    left = iter([True, True, False])
    assert bench.half_waves(bench.Setting("T", span_mm=4321.0), wanted=lambda: next(left)) is None


def test_a_torque_is_shown_in_newton_metres():
    one = SimpleNamespace(load_case="shaft", resistance=1.23456e6, unit="N mm", limit_state="full plasticity")
    assert _member(one)[1] == "1235 N m"


def test_a_plot_leaves_out_what_has_no_logarithm():
    shown = log_plot({"a": ([1, 10, 0], [1.0, np.nan, 5])}, {"b": (10.0, 100.0)}, "x", "y").text
    assert shown.count('class="mark"') == 1 and "nan" not in shown


def test_a_plot_brings_its_own_ground_for_a_dark_page():
    assert 'fill="#ffffff"' in log_plot({"a": ([1, 10], [1.0, 5])}, {}, "x", "y").text


def test_a_plot_of_nothing_is_empty_and_no_error():
    assert "<svg" in log_plot({"a": ([], [])}, {}, "x", "y").text
