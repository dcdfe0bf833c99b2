"""Bearing at loads and supports: statics of legs by hand, and sections drawn for it."""

import numpy as np
import pytest
from shapely import Polygon, box, unary_union
from shapely.affinity import scale

from kit.members.bending import pressed_width
from kit.members.cases import BendingCase
from kit.members.materials import Service
from kit.members.resistance import resistance
from kit.members.state import columns_of
from kit.sections.section import properties
from tests.members import sections_by_hand as by_hand
from tests.members.conftest import plain

SOFT_TO_PRESS = plain(f=24.0, E=1e6, yield_tension_MPa=plain(f=1e5).yield_tension_MPa,
                      bearing_strength_MPa=24.0)  # fmt: skip
HELD = {"restraint": "sideways-and-twist", "load_height": "bottom"}
SHORT = Service("short-term test", 23.0)
TABLE = unary_union([box(-50, 0, -42, 40), box(42, 0, 50, 40), box(-50, 40, 50, 52)])


def legs(left, right, contact, leg, web=1e9):
    """A base between ``left`` and ``right``; its pressed width as a function of where the load is."""
    row = by_hand.rectangle(20.0, 60.0) | {
        "base_left_mm": left, "base_right_mm": right, "base_contact_mm": contact, "base_leg_mm": leg,
        "base_web_mm": web,
    }  # fmt: skip
    columns = columns_of(by_hand.table(a=row))
    return lambda x: pressed_width(columns, "base", np.array([x]))[0]


def test_two_legs_share_a_load_by_the_lever_rule():
    """Legs 10 wide centred 5 and 95 from the left: at a third of the way one carries two thirds."""
    at = legs(0.0, 100.0, 20.0, 10.0)
    assert at(50.0) == pytest.approx(20.0)
    assert at(35.0) == pytest.approx(10.0 / (2 / 3))
    assert at(5.0) == pytest.approx(10.0)
    assert at(3.0) == pytest.approx(6.0), "an even block about the load, inside the leg"
    assert at(0.0) == at(-5.0) == 0.0


def test_a_base_of_one_piece_presses_evenly_about_the_load():
    at = legs(0.0, 60.0, 60.0, 60.0)
    assert at(30.0) == pytest.approx(60.0)
    assert at(10.0) == pytest.approx(20.0)


@pytest.mark.parametrize("seed", range(8))
def test_never_more_than_statics_allows(seed):
    """Against the greatest even-pressure load found by linear programming over the legs themselves."""
    from scipy.optimize import linprog

    rng = np.random.default_rng(seed)
    edges = np.sort(rng.uniform(0.0, 100.0, 6)).reshape(3, 2)
    widths, cells = np.diff(edges, axis=1).ravel(), 200
    centres = np.concatenate([a + (np.arange(cells) + 0.5) / cells * (b - a) for a, b in edges])
    size = np.repeat(widths / cells, cells)
    at = legs(edges[0, 0], edges[-1, 1], widths.sum(), min(widths[0], widths[-1]))
    for x in rng.uniform(edges[0, 0], edges[-1, 1], 5):
        most = linprog(-size, A_eq=[size * (centres - x)], b_eq=[0.0], bounds=(0.0, 1.0))
        assert at(x) <= -most.fun + 1e-6 + size.max() * 2


def test_the_web_behind_a_flange_is_the_limit():
    """An I 100 wide with a web of 12: the reaction passes through the web."""
    i_shape = unary_union([box(-50, 0, 50, 12), box(-6, 12, 6, 88), box(-50, 88, 50, 100)])
    section = by_hand.table(a=properties(i_shape).row())
    found = resistance(section, BendingCase("b", 900.0, bearing_length_mm=1.0, **HELD), SOFT_TO_PRESS, SHORT)
    assert found["limit_state"][0] == "bearing"
    assert found["resistance_N"][0] == pytest.approx(2 * 24.0 * 12.0 * 1.0)


def test_gaps_between_legs_do_not_count():
    section = by_hand.table(a=properties(TABLE).row())
    found = resistance(section, BendingCase("b", 900.0, bearing_length_mm=1.0, **HELD), SOFT_TO_PRESS, SHORT)
    assert found["resistance_N"][0] == pytest.approx(2 * 24.0 * 16.0 * 1.0)


def test_bearing_is_checked_in_both_senses():
    """Upside down the table of legs presses with its legs on the load: half as much, one point takes all."""
    case = BendingCase("b", 900.0, restraint="sideways-and-twist", bearing_length_mm=1.0)
    both = by_hand.table(up=properties(scale(TABLE, 1, -1)).row(), down=properties(TABLE).row())
    found = resistance(both, case, SOFT_TO_PRESS, SHORT)
    assert (found["limit_state"] == "bearing").all()
    np.testing.assert_allclose(found["resistance_upwards_N"], found["resistance_N"][::-1], rtol=1e-6)
    assert found["resistance_N"][0] == pytest.approx(24.0 * 16.0)


def test_a_load_at_the_very_edge_of_the_head_is_not_checked():
    """The head lies wholly beside the centroid: no even pressure has its resultant at its edge."""
    gallows = Polygon([(0, 0), (60, 0), (60, 60), (50, 60), (50, 10), (0, 10)])
    section = by_hand.table(a=properties(gallows).row())
    case = BendingCase("b", 900.0, bearing_length_mm=40.0, supports="forked")
    found = resistance(section, case, SOFT_TO_PRESS, SHORT)
    assert "bearing-not-checked" in found["caveats"][0]
    assert "bearing" not in found["limit_states_checked"][0]


def test_crushing_grows_with_the_scale_itself():
    """Strength × width × bearing length, the length of the pad fixed: the first power of the scale."""
    section = by_hand.table(a=properties(TABLE).row())
    case = BendingCase("b", 900.0, bearing_length_mm=1.0, **HELD)
    loads = [
        resistance(by_hand.similar(section, s), case, SOFT_TO_PRESS, SHORT)["resistance_N"][0]
        for s in (1.0, 1.7)
    ]
    assert loads[1] / loads[0] == pytest.approx(1.7)
