"""Charts: what they draw, what they say, what they do when there is nothing or far too much to draw."""

from __future__ import annotations

import io
import json

import numpy as np
import pandas as pd
import pytest
import shapely
from PIL import Image

from kit.writeup import charts, look, stills
from kit.writeup.charts.dense import grid
from kit.writeup.charts.states import is_dark, luminance
from kit.writeup.figures import PART, VEGA_LITE
from kit.writeup.silhouettes import mark_path
from tests.writeup import invented

SHAPES = invented.polygons()
SECTIONS = invented.sections(SHAPES)
MEMBERS = invented.members(SECTIONS)
EMPTY = MEMBERS.iloc[:0]
FIGURES = {
    "loads": lambda m: charts.load_against_mass(m, SHAPES, reference="plain-i"),
    "merit": lambda m: charts.merit_by_outline(m, SHAPES),
    "states": lambda m: charts.limit_state_map(m, SHAPES),
}


def signed_areas(path: str) -> list[float]:
    """Signed area of each ring of a path, by the shoelace formula."""
    rings = [[tuple(map(float, p.split(","))) for p in ring.split("L")] for ring in path[1:-1].split("ZM")]
    return [
        0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(r, r[1:] + r[:1], strict=True)) for r in rings
    ]


def test_marks_fill_the_square_and_keep_holes_open():
    plate = shapely.box(0, 0, 40, 20).difference(shapely.box(10, 5, 20, 15))
    outer, hole = signed_areas(mark_path(plate))
    assert abs(outer) == pytest.approx(2 * 1, rel=0.02)
    assert hole == pytest.approx(-np.sign(outer) * 0.25, rel=0.05)


def test_marks_stand_upright():
    triangle = shapely.Polygon([(0, 0), (10, 0), (5, 10)])
    assert "0,-1" in mark_path(triangle), "the apex points to negative y: up on a screen"


@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_carries_words_caption_and_a_stored_form(name):
    figure = FIGURES[name](MEMBERS)
    bundle = figure._repr_mimebundle_()
    assert len(bundle["text/plain"]) > 60 and bundle[PART]["key"] == figure.key
    assert bundle[VEGA_LITE]["$schema"].endswith("/v5.json")
    json.dumps(bundle[VEGA_LITE], allow_nan=False)


@pytest.mark.parametrize("name", FIGURES)
def test_nothing_to_draw_says_so(name):
    assert "No member" in FIGURES[name](EMPTY).caption


def test_the_words_hold_the_greatest_load_of_a_panel():
    part = MEMBERS[(MEMBERS["load_case"] == "bending") & MEMBERS["variant"].str.startswith("aluminium")]
    greatest = part["resistance_N"].max() / 1000
    assert f"{greatest:.3g} kN" in FIGURES["loads"](MEMBERS).alternative


def test_members_not_assessed_are_counted_not_drawn():
    assert "2 of 136 members were not assessed" in FIGURES["loads"](MEMBERS).caption


def test_small_loads_are_newtons_and_torques_newton_metres():
    small = MEMBERS.assign(resistance_N=MEMBERS["resistance_N"] / 1e4)
    assert " N (" in FIGURES["loads"](small).alternative
    torque = MEMBERS.assign(kind="torsion", resistance_Nmm=MEMBERS["resistance_N"] * 10, resistance_N=np.nan)
    assert " N m (" in FIGURES["loads"](torque).alternative


def test_thousands_of_members_become_counts_that_add_up():
    generator = np.random.default_rng(3)
    many = pd.concat([MEMBERS] * 40, ignore_index=True)
    for column in ("mass_kg", "resistance_N"):
        many[column] = many[column] * generator.uniform(0.5, 2, len(many))
    spec = FIGURES["loads"](many).spec()
    counted = sum(row["count"] for rows in spec["datasets"].values() for row in rows)
    assert counted == many["resistance_N"].notna().sum()
    assert len(json.dumps(spec)) < 400_000


def test_grid_cells_hold_their_members():
    cells = grid(np.array([1.0, 1.0, 10.0]), np.array([5.0, 5.0, 50.0]))
    assert sorted(cells["count"]) == [1, 2]
    assert (cells["mass"] < cells["mass_to"]).all() and (cells["load"] < cells["load_to"]).all()


def test_identical_input_gives_identical_charts():
    one, two = (FIGURES["merit"](MEMBERS).spec() for _ in range(2))
    layout = {"panel": 190, "most": 3, "margin": 120}
    drawn = [stills.still({"key": "merit", "spec": spec, "layout": layout}) for spec in (one, two)]
    assert drawn[0] == drawn[1]


@pytest.mark.parametrize(("room", "columns"), [(300, 1), (700, 2), (1200, 3)])
def test_panels_flow_into_the_room_there_is(room, columns):
    figure = FIGURES["loads"](MEMBERS)
    spec = stills.fitted(figure.spec(), figure.layout, room)
    taken = columns * (spec["concat"][0]["width"] + figure.layout["margin"])
    assert spec["columns"] == columns and taken <= room + 40


def test_many_panels_stay_on_one_printed_page():
    many = pd.concat([MEMBERS.assign(variant=f"v{i}") for i in range(8)], ignore_index=True)
    figure = FIGURES["loads"](many)
    assert stills.for_paper(figure.spec(), figure.layout)["columns"] == 4


def test_a_bound_wider_than_asked_is_named():
    wide = SECTIONS.assign(
        J_high_mm4=SECTIONS["J_high_mm4"].where(SECTIONS.index != 3, SECTIONS["J_mm4"] * 1.05)
    )
    figure = charts.bounds_on_J(wide, asked=0.005)
    assert SECTIONS["outline"][3] in figure.alternative and "0.5 %" in figure.caption


def test_a_failed_check_is_counted():
    checks = invented.checks()
    checks.loc[checks.index[0], "passed"] = False
    assert "1 outside" in charts.published_checks(checks).alternative


def to_lab(rgb):
    """CIE Lab of linear sRGB (D65), for differences of colour as people see them."""
    matrix = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    ratio = matrix @ np.clip(rgb, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


# Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009), severity 1.0 (from memory).
DEFICIENCIES = {
    "none": np.eye(3),
    "protan": np.array([[0.152, 1.053, -0.205], [0.115, 0.786, 0.099], [-0.004, -0.048, 1.052]]),
    "deutan": np.array([[0.367, 0.861, -0.228], [0.280, 0.673, 0.047], [-0.012, 0.043, 0.969]]),
    "tritan": np.array([[1.256, -0.077, -0.179], [-0.078, 0.931, 0.148], [0.005, 0.691, 0.304]]),
}
COMMON = (
    "first yield",
    "full plasticity",
    "lateral-torsional",
    "flexural buckling",
    "local buckling",
    "fracture",
)


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_common_limit_states_differ_for_every_eye(deficiency):
    def linear(colour):
        channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
        return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)

    labs = [to_lab(DEFICIENCIES[deficiency] @ linear(look.state_look(name).colour)) for name in COMMON]
    distances = [np.linalg.norm(a - b) for i, a in enumerate(labs) for b in labs[:i]]
    assert min(distances) > 9


def test_codes_are_unique_so_that_grey_print_can_be_read():
    codes = [state.code for state in look.STATES]
    assert len(set(codes)) == len(codes)


@pytest.mark.parametrize("state", look.STATES, ids=lambda s: s.group)
def test_letters_can_be_read_on_every_colour(state):
    letters = 1.0 if is_dark(state.colour) else luminance(look.INK)
    light, dark = sorted((letters, luminance(state.colour)), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 4.5


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("yield of the net section", "first yield"),
        ("tangent-modulus buckling", "flexural buckling"),
        ("second-order bending and twist", "twist with bending"),
        ("not assessed", "not assessed"),
        (np.nan, "not assessed"),
    ],
)
def test_limit_states_find_their_group(name, group):
    assert look.state_look(name).group == group


def test_the_paper_of_a_still_is_white():
    figure = FIGURES["loads"](MEMBERS)
    drawn = stills.still({"key": "loads", "spec": figure.spec(), "layout": figure.layout})
    still = Image.open(io.BytesIO(drawn.png)).convert("RGB")
    assert still.getpixel((2, still.height - 2)) == (255, 255, 255)
    assert len(still.getcolors()) > 8
