"""Charts: what they draw, what they say, what they do when there is nothing or far too much to draw."""

from __future__ import annotations

import ast
import io
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
import vl_convert
from PIL import Image

import kit.members
from kit.writeup import charts, look, stills
from kit.writeup.charts.dense import grid
from kit.writeup.charts.states import is_dark, luminance
from kit.writeup.figures import PART, VEGA_LITE
from kit.writeup.silhouettes import mark_path
from tests.writeup import invented

SVG = "{http://www.w3.org/2000/svg}"
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


def test_where_all_merits_are_equal_only_the_reference_is_named():
    def named(members):
        sets = charts.load_against_mass(members, SHAPES, reference="plain-i").spec()["datasets"].values()
        return {row["named"] for rows in sets if "named" in rows[0] for row in rows} - {""}

    assert named(MEMBERS.assign(merit=1.0)) == {"plain-i"} < named(MEMBERS)


def test_members_not_assessed_are_counted_not_drawn():
    assert "2 of 136 members were not assessed" in FIGURES["loads"](MEMBERS).caption


def test_members_that_carry_nothing_are_not_called_unassessed():
    table = MEMBERS.copy()
    known = table.index[table["resistance_N"].notna()][:3]
    before = charts.load_against_mass(table, SHAPES).caption
    table.loc[known, ["resistance_N", "merit"]] = 0.0
    caption = charts.load_against_mass(table, SHAPES).caption
    assert f"3 of {len(table)} members carry no load" in caption
    assert before in caption
    assert "3 members have a merit of 0" in charts.merit_by_outline(table, SHAPES).caption


def test_the_words_of_the_merits_tell_the_best_of_a_load_case_even_if_its_row_is_not_drawn():
    names = [f"o{i}" for i in range(60)]
    one = pd.DataFrame(
        {"outline": names, "merit": np.linspace(2.0, 1.0, 60), "variant": "v", "load_case": "bending"}
    )
    other = one.assign(load_case="torsion", merit=1.0)
    other.loc[30, "merit"] = 1.2  # its median merit is a middling one
    table = pd.concat([one, other], ignore_index=True)
    table = table.assign(resistance_N=1.0, mass_kg=1.0, limit_state="yield", family="", character="")
    words = charts.merit_by_outline(table).alternative
    assert "torsion: best o30 (1.2)" in words.replace(" — v", "")


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


def many(count: int) -> pd.DataFrame:
    """Sections enough for a histogram, with bounds 0.001 to 0.4 % apart."""
    width = np.geomspace(1e-5, 4e-3, count)
    named = pd.DataFrame({"outline": [f"o{i}" for i in range(count)], "J_mm4": 1000.0})
    return named.assign(J_low_mm4=1000.0 * (1 - width / 2), J_high_mm4=1000.0 * (1 + width / 2))


def test_the_caption_of_the_bounds_tells_the_chart_that_is_drawn():
    few, lots = charts.bounds_on_J(many(20), asked=0.01), charts.bounds_on_J(many(90), asked=0.01)
    assert "widest first" in few.caption and "dashed rules" in few.caption
    assert "widest first" not in lots.caption and "How many sections" in lots.caption
    assert "dashed rule." in lots.caption
    rules = [layer for layer in lots.spec()["layer"] if layer["mark"]["type"] == "rule"]
    (rule,) = lots.spec()["datasets"][rules[0]["data"]["name"]]
    low, high = lots.spec()["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert rule["low"] == pytest.approx(1.0) and low < 1.0 < high, (
        "the width asked for, in per cent, inside the frame"
    )
    assert not any(layer["mark"]["type"] == "rule" for layer in charts.bounds_on_J(many(90)).spec()["layer"])


def uneven_checks() -> pd.DataFrame:
    """Topics with one and with many values, a long name, and a tolerance far beyond every difference."""
    checks = invented.checks()
    checks["topic"] = checks["topic"].replace(
        "4 Columns", "4 Columns with a name much longer than all others"
    )
    rest = checks[~checks["topic"].str.contains("Rectangle")]
    one = checks[checks["topic"].str.contains("Rectangle")].iloc[:1].assign(rel_tol=0.7)
    return pd.concat([one, rest, rest.rename(index=lambda name: f"{name}x")])


def placed_marks(svg: str) -> tuple[dict[str, float], list[tuple[str, float, float]], tuple[float, float]]:
    """Height of each row's name, check and place of each mark, left and right end of the frame [px]."""
    root = ET.fromstring(svg)
    names, marks = {}, []
    frame = next(
        e for e in root.iter(SVG + "path") if e.get("class") == "background" and e.get("d") != "M0,0"
    )
    ends = tuple(map(float, re.match(r"M([-\d.]+),[-\d.]+h([-\d.]+)", frame.get("d")).groups()))
    for element in root.iter(SVG + "text"):
        words = "".join(element.itertext())
        moved = re.match(r"translate\(([-\d.]+),([-\d.]+)\)", element.get("transform", ""))
        if moved and element.get("text-anchor") == "end":
            lines = len(list(element.iter(SVG + "tspan"))) or 1
            names[words] = float(moved[2]) - 4 + 6 * (lines - 1)
    for element in root.iter(SVG + "path"):
        moved = re.match(r"translate\(([-\d.]+),([-\d.]+)\)", element.get("transform", ""))
        said = element.get("aria-label", "")
        if moved and ": published" in said:
            marks.append((said.split(":")[0], float(moved[1]), float(moved[2])))
    return names, marks, ends


def test_marks_stand_around_the_name_of_their_own_topic():
    checks = uneven_checks()
    figure = charts.published_checks(checks)
    names, marks, _ = placed_marks(vl_convert.vegalite_to_svg(figure.spec()))
    heights = {re.sub(r"\W", "", name): height for name, height in names.items()}
    topics = {i: re.sub(r"^\d+|\W", "", topic) for i, topic in checks["topic"].items()}
    assert len(marks) == len(checks) and set(topics.values()) <= set(heights), "no name is cut short"
    off = {i: y - heights[topics[i]] for i, _, y in marks}
    assert max(map(abs, off.values())) < 9, "a third of a row"
    assert abs(off[checks.index[0]]) < 4, "a single mark stands level with its name"


def test_every_tolerance_lies_inside_the_frame():
    spec = charts.published_checks(uneven_checks()).spec()
    low, high = spec["layer"][1]["encoding"]["x"]["scale"]["domain"]
    drawn = next(rows for rows in spec["datasets"].values() if "allowed" in rows[0])
    assert low < min(row["allowed"] for row in drawn) and max(row["allowed"] for row in drawn) == 0.7 < high


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


def linear(colour):
    """Linear sRGB of a colour written as #rrggbb."""
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


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
    labs = [to_lab(DEFICIENCIES[deficiency] @ linear(look.state_look(name).colour)) for name in COMMON]
    distances = [np.linalg.norm(a - b) for i, a in enumerate(labs) for b in labs[:i]]
    assert min(distances) > 9


def limit_states_of_members() -> set[str]:
    """Every name of a limit state written in the modules of the mechanics, as the first word of a ``Limit``."""
    found = {"local", "distortional", "squash load", "flexural buckling", "torsional buckling", "own weight"}
    for file in Path(kit.members.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant)):
                continue
            if getattr(node.func, "id", "") in ("Limit", "_told_by_curve"):
                found.add(node.args[0].value)
    return found


def test_every_limit_state_of_the_mechanics_has_a_colour_of_its_group():
    states = limit_states_of_members()
    assert {"full plasticity", "bearing", "twist", "twisting under the load"} <= states and len(states) > 18
    assert [name for name in sorted(states) if look.state_look(name) == look.OTHER] == []
    assert look.state_look("twist").group == "deflection", "a limit on how far a shaft turns, not on a beam"


def test_an_unknown_limit_state_is_drawn_in_a_colour_of_its_own():
    assert look.state_look("collapse of the tide gauge") == look.OTHER
    assert look.OTHER.colour not in {state.colour for state in look.STATES}


def test_no_two_entries_of_a_key_look_alike():
    words = look.legend_words(limit_states_of_members())
    entries, colours = look.state_scale(sorted(set(words.values())))
    assert len(set(colours)) == len(colours) == len(entries)
    assert words["full plasticity"] == words["full plastic torque"]
    assert "full plastic torque" in words["full plasticity"] and "full plasticity" in words["full plasticity"]
    alone = look.legend_words(["full plasticity", "yield"])
    assert alone == {"full plasticity": "full plasticity", "yield": "yield"}


def test_entries_that_name_several_states_keep_their_colour():
    for name, entry in look.legend_words(limit_states_of_members()).items():
        assert look.state_look(entry) == look.state_look(name)


def test_every_pair_of_colours_differs_for_eyes_with_full_colour_vision():
    labs = [to_lab(linear(state.colour)) for state in (*look.STATES, look.OTHER)]
    assert min(np.linalg.norm(a - b) for i, a in enumerate(labs) for b in labs[:i]) > 12


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
        ("twisting under the load", "twisting under the load"),
        ("distortional", "distortional buckling"),
        ("peak of moment-curvature", "full plasticity"),
        ("second-order bending and twist", "twist with bending"),
        ("not assessed", "not assessed"),
        (np.nan, "not assessed"),
    ],
)
def test_limit_states_find_their_group(name, group):
    assert look.state_look(name).group == group


def test_a_still_names_its_typeface_once_and_draws_the_same():
    figure = FIGURES["states"](MEMBERS)
    drawn = vl_convert.vegalite_to_svg(stills.for_paper(figure.spec(), figure.layout))
    made = stills.still({"key": "states", "spec": figure.spec(), "layout": figure.layout})
    assert made.svg.count("font-family") == 1 < drawn.count("font-family")
    assert len(made.svg) < 0.6 * len(drawn)
    assert _alike(stills._raster(made.svg), made.png)


def _alike(one: bytes, other: bytes) -> bool:
    a, b = (np.asarray(Image.open(io.BytesIO(image)).convert("L"), dtype=float) for image in (one, other))
    return a.shape == b.shape and np.abs(a - b).mean() < 1.0


def test_what_shrinks_gives_way_on_a_narrow_screen_only():
    spec = {"vconcat": [{"vconcat": [{"width": 600}, {"width": 600}]}, {"hconcat": [{"width": 118}]}]}
    layout = {"panel": 600, "shrink": True, "margin": 64}
    narrow, wide = (stills.fitted(spec, layout, room) for room in (390, 900))
    assert [part["width"] for part in narrow["vconcat"][0]["vconcat"]] == [326, 326]
    assert narrow["vconcat"][1] == {"hconcat": [{"width": 118}]} and wide == spec


def test_the_paper_of_a_still_is_white():
    figure = FIGURES["loads"](MEMBERS)
    drawn = stills.still({"key": "loads", "spec": figure.spec(), "layout": figure.layout})
    still = Image.open(io.BytesIO(drawn.png)).convert("RGB")
    assert still.getpixel((2, still.height - 2)) == (255, 255, 255)
    assert len(still.getcolors()) > 8
