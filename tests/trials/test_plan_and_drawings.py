"""The plan: pieces with reasons, drawings at full size read back, warnings and the test sheet."""

import re
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest
from shapely import Polygon, affinity

from kit.members.materials import Service
from kit.members.uncertainty import Uncertainty
from kit.outlines.making import Making
from kit.outlines.preparing import prepare
from kit.outlines.reading import read
from kit.outlines.specs import DxfFiles, SvgFiles
from kit.trials import drawings, plan, sheet
from kit.trials.prediction import Test, predict
from kit.trials.setups import Rig
from tests.trials.pieces import beam, i_polygon, plastic, section

RING = Polygon([(0, 0), (60, 0), (60, 80), (0, 80)], [[(20, 20), (40, 20), (40, 55), (20, 55)]])
TRIANGLE = Polygon([(0, 0), (30, 60), (-30, 60)])


def members(n=40, seed=2) -> pd.DataFrame:
    generator = np.random.default_rng(seed)
    mass = np.exp(generator.uniform(0, 2, n))
    load = 1000 * mass * np.exp(generator.normal(0, 0.5, n))
    states = np.array(["full plasticity", "lateral-torsional buckling", "bearing"])[
        generator.choice(3, n, p=[0.8, 0.15, 0.05])
    ]
    return pd.DataFrame(
        {"outline": [f"o{k}" for k in range(n)], "orientation_deg": 0.0, "resistance_N": load, "mass_kg": mass,
         "limit_state": states, "merit": load / mass, "resistance_low": 0.8 * load,
         "resistance_high": load * generator.uniform(1.1, 1.6, n)}
    )  # fmt: skip


def test_a_plan_has_the_size_asked_for_and_a_reason_for_each_piece():
    chosen = plan.choose(members(), 8, "o3")
    assert len(chosen) == 8
    assert chosen["outline"].is_unique
    assert chosen["reason"].str.len().gt(8).all()
    assert chosen["outline"].iloc[0] == "o3"


def test_a_plan_spans_mass_limit_states_and_the_widest_interval():
    table = members()
    chosen = plan.choose(table, 8, "o3")
    assert set(chosen["limit_state"]) == set(table["limit_state"])
    assert chosen["mass_kg"].agg(["min", "max"]).tolist() == table["mass_kg"].agg(["min", "max"]).tolist()
    assert table["merit"].idxmax() in chosen.index
    width = (table["resistance_high"] - table["resistance_low"]) / table["resistance_N"]
    assert width.idxmax() in chosen.index


def test_what_is_not_assessed_is_never_planned_and_few_outlines_are_all_taken():
    table = members(5)
    table.loc[2, "resistance_N"] = np.nan
    chosen = plan.choose(table, 8, "o0")
    assert set(chosen["outline"]) == {"o0", "o1", "o3", "o4"}


def test_the_plan_does_not_depend_on_the_order_of_the_table():
    table = members()
    turned = table.sample(frac=1.0, random_state=1)
    assert list(plan.choose(turned, 8, "o3")["outline"]) == list(plan.choose(table, 8, "o3")["outline"])


def test_too_few_tests_of_a_limit_state_are_said():
    chosen = pd.DataFrame({"limit_state": ["bearing", "full plasticity", "full plasticity"]})
    assert [text.split(":")[0] for text in plan.tests_short(chosen, 2)] == ["bearing"]


@pytest.mark.parametrize("polygon", [RING, i_polygon(), TRIANGLE])
def test_drawings_read_back_have_the_polygon_at_full_size(polygon, tmp_path):
    """Read by the kit's own readers of drawings, which stand on other code than the writers."""
    (tmp_path / "a.svg").write_text(
        re.sub(r'<g id="notes".*</g>', "", drawings.outline_svg(polygon, "P01 <&>"))
    )
    (tmp_path / "a.dxf").write_text(drawings.outline_dxf(polygon, "P01"))
    for spec in (SvgFiles(("a.svg",)), DxfFiles(("a.dxf",), ("cut",))):
        outlines, left_out = read([spec], tmp_path)
        assert not left_out
        made = prepare(outlines[0], Making(fit=("scale", (1.0,))))
        assert made.polygon.area == pytest.approx(polygon.area, rel=1e-4)
        assert np.ptp(np.asarray(made.polygon.exterior.coords), axis=0) == pytest.approx(
            np.ptp(np.asarray(polygon.exterior.coords), axis=0), abs=1e-3
        )
        assert len(made.polygon.interiors) == len(polygon.interiors)


def test_the_svg_says_its_size_in_millimetres():
    text = drawings.outline_svg(RING, "a")
    wide, high = map(float, re.search(r'width="([\d.]+)mm" height="([\d.]+)mm"', text).groups())
    box = list(map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text).groups()))
    assert [wide, high] == box


def test_of(polygon: Polygon, **more) -> Test:
    centred = affinity.translate(polygon, -polygon.centroid.x, -polygon.centroid.y)
    return Test(section(polygon), centred, beam(**more), plastic(), Service(), Rig(1e-5))


test_of.__test__ = False
SPREAD = Uncertainty(200, 1, 0.2, 0.08)


def test_stock_part_and_chips_add_up_to_the_blank():
    test = test_of(RING)
    needed = plan.needs(test, predict(test, SPREAD), (1500.0, 130.0, 100.0))
    blank = np.prod(needed.blank_mm) * 950e-9
    assert needed.part_kg + needed.chips_kg == pytest.approx(blank)
    assert needed.part_kg == pytest.approx(RING.area * needed.length_mm * 950e-9)
    assert needed.length_mm == pytest.approx(600 + 2 * 60)
    # 1500 ÷ 720 is two along; across 130 × 100 lie two of 60 × 80.
    assert needed.pieces_per_stock == 4
    assert plan.needs(test, predict(test, SPREAD), cut=False).chips_kg == 0.0


def test_a_pointed_base_and_a_base_beside_the_centroid_are_warned_of():
    pointed = plan.needs(*(lambda t: (t, predict(t, SPREAD)))(test_of(TRIANGLE)))
    assert any("pointed below" in text for text in pointed.warnings)
    leaning = Polygon([(0, 0), (10, 0), (80, 60), (80, 80), (40, 80), (0, 10)])
    warned = plan.needs(*(lambda t: (t, predict(t, SPREAD)))(test_of(leaning)))
    assert any("overturns" in text for text in warned.warnings)
    wide = plan.needs(*(lambda t: (t, predict(t, SPREAD)))(test_of(i_polygon())))
    assert not any("overturns" in text or "pointed" in text for text in wide.warnings)


@pytest.mark.parametrize(("cell", "words"), [(100.0, "larger"), (1e7, "smaller")])
def test_a_load_cell_that_does_not_fit_is_warned_of(cell, words):
    test = test_of(i_polygon())
    assert any(words in text for text in plan.needs(test, predict(test, SPREAD), None, cell).warnings)


def test_the_load_cell_holds_the_upper_end_of_the_interval():
    test = test_of(i_polygon())
    seen = predict(test, SPREAD)
    assert plan.needs(test, seen).load_cell_N * 0.8 >= seen.high > seen.load > seen.low


def test_a_prediction_follows_its_own_stiffness_and_ends_at_its_load():
    test = test_of(i_polygon())
    seen = predict(test, SPREAD)
    slope = seen.loads[3] / seen.travel[3]
    assert slope == pytest.approx(seen.stiffness, rel=0.01)
    assert seen.loads[-1] <= seen.load
    assert seen.stored_J == pytest.approx(seen.load**2 / (2 * seen.stiffness) / 1000)


class Words(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.words = [], []

    def handle_starttag(self, tag, attrs):
        if tag not in ("meta", "path"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag != "path":
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def test_the_test_sheet_carries_cautions_and_predictions_and_escapes_names():
    test = test_of(i_polygon())
    seen = predict(test, SPREAD)
    one = sheet.Planned("P01 <script>", "because", test, seen, plan.needs(test, seen), 3)
    page = Words()
    text = sheet.test_sheet("a & b", [one], "f" * 64, ["note"])
    page.feed(text)
    assert page.open == []
    assert "<script>" not in text
    said = " ".join(page.words)
    for word in (
        "guards",
        "eye protection",
        "energy",
        "Brittle",
        "falls",
        "laboratory",
        "f" * 64,
        f"{seen.load / 1e3:.3g} kN",
    ):
        assert word in said
    assert "http" not in text.replace("http://www.w3.org", "")
