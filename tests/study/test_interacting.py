"""Loads that act at once, from the parameter file to their table and the write-up."""

import numpy as np
import pandas as pd
import pytest

from kit.errors import InputError
from kit.members.resistance import load_name
from kit.study import stages
from kit.study.parameters import checked
from kit.study.resolving import load_study
from kit.study.yaml_reader import parse_yaml
from kit.writeup import citations, interaction_telling
from tests.study.files import written

STUDY = """
study: mast
title: A mast of the invented reserve
outlines:
  - {from: shape, name: slab, shape: rectangle, dimensions: {depth: 60 mm, width: 30 mm}}
  - {from: shape, name: pipe, shape: tube, dimensions: {diameter: 60 mm, wall: 3 mm}}
reference: {outline: slab}
preparation: {process: extruded, fit: {scale: 1}}
material: steel-S235
partial_factors: {material: 1.1, load: 1.5}
load_cases:
  bending: {span: 2 m, loading: uniform, restraint: sideways-and-twist, load_height: centroid, supports: forked}
  compression: {length: 2 m, column_curve: EN 1993-1-1 a}
  torsion: {length: 2 m}
interactions:
  wind: {loads: {bending: 1 kN, compression: 4 kN, torsion: 50 N m}}
  snow: {loads: {compression: 4000 N, bending: 1000 N}, expression: AISC 360 H1}
variants: {vary: {material: [steel-S235, aluminium-6060-T66]}}
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """The study, its folder and what was assembled of it."""
    root = tmp_path_factory.mktemp("mast")
    study = load_study(written(root, STUDY))
    folder = stages.folder_of(study, root / "results")
    outlines, left_out = stages.read_outlines(study)
    made = stages.make_sections(study, outlines, left_out, results=root / "results", workers=1)
    stages.keep_sections(study, folder, outlines, made)
    for variant in study.variants:
        members = stages.make_members(study, variant, made, folder)
        folder.write_members(variant.slug, members.table, members.used)
    for name in ("audit", "checks"):
        pd.DataFrame({"passed": [True]}).to_csv(folder.path / f"{name}.csv", index=False)
    whole = stages.assemble(study, folder)
    stages.keep_report(folder, whole, [])
    return study, folder, whole


def rows(whole, variant, name):
    table = whole.interactions
    return table[(table["variant"] == variant) & (table["interaction"] == name)].set_index("outline")


def carried(study, whole, variant, outline):
    """Resistance of one member by load case."""
    cases = {case.name: case for case in study.variants[0].cases}
    members = whole.members.query("variant == @variant and outline == @outline").set_index("load_case")
    return {name: members.loc[name, load_name(case)] for name, case in cases.items()}


def raised(study, whole, variant, outline):
    """1.65 times the load each case may take by itself: its resistance with 1.65 times its own weight."""
    members = whole.members.query("variant == @variant and outline == @outline").set_index("load_case")
    return {case.name: 1.65 * members.loc[case.name, "design_load"] for case in study.variants[0].cases}


def left_of_euler(section):
    """Euler's load less the share of the own weight in 18.57 E I/L², the weight a hinged post of 2 m buckles by."""
    ei, weight = 210000 * section["I2_mm4"] / 2000**2, 7850e-9 * section["area_mm2"] * 2000 * 9.80665
    return np.pi**2 * ei * (1 - weight / (18.568725 * ei))


def test_shares_add_up_and_bending_grows_with_compression(found):
    study, _, whole = found
    for outline in ("slab", "pipe"):
        has = carried(study, whole, "steel-S235", outline)
        section = whole.sections.table.set_index("outline").loc[outline]
        euler = left_of_euler(section)
        bent = 1000 / has["bending"] + 50e3 / has["torsion"]
        use = 4000 / has["compression"] + bent / (1 - 4000 / euler)
        row = rows(whole, "steel-S235", "wind").loc[outline]
        assert row["use"] == pytest.approx(use, rel=1e-6)
        up = row["load_factor"]
        again = up * 4000 / has["compression"] + up * bent / (1 - up * 4000 / euler)
        assert again == pytest.approx(1.0, rel=1e-6)
        least = raised(study, whole, "steel-S235", outline)
        assert all(0 < least[name] <= has[name] * (1 + 1e-9) for name in has)
        bent = 1000 / least["bending"] + 50e3 / least["torsion"]
        use = 1.65 * 4000 / least["compression"] + 1.65 * bent / (1 - 1.65 * 4000 / euler)
        assert row["design_use"] == pytest.approx(use, rel=1e-6)


def test_the_codes_expression_by_hand_and_only_for_its_own_material(found):
    study, _, whole = found
    has = carried(study, whole, "steel-S235", "pipe")
    section = whole.sections.table.set_index("outline").loc["pipe"]
    euler = left_of_euler(section)
    n, m = 4000 / has["compression"], 1000 / has["bending"] / (1 - 4000 / euler)
    row = rows(whole, "steel-S235", "snow").loc["pipe"]
    assert row["use"] == pytest.approx(n + 8 / 9 * m if n >= 0.2 else n / 2 + m, rel=1e-6)
    other = rows(whole, "aluminium-6060-T66", "snow")
    assert other["use"].isna().all() and other["load_factor"].isna().all()
    assert other["caveats"].str.contains("interaction-outside-scope").all()


def test_the_table_names_loads_cautions_and_what_is_used_most(found):
    _, folder, whole = found
    kept = pd.read_csv(folder.path / "interactions.csv")
    assert len(kept) == len(whole.interactions) == 2 * 2 * 2 and kept["section_id"].nunique() == 2
    assert set(kept["loads"]) == {"bending 1000 N; compression 4000 N; torsion 50 N m",
                                  "compression 4000 N; bending 1000 N"}  # fmt: skip
    assert kept["greatest_share_of"].dropna().isin(["bending", "compression", "torsion"]).all()
    assert kept.loc[kept["interaction"] == "wind", "caveats"].str.contains("linear-interaction").all()
    # Those of the resistances come along.
    assert kept["caveats"].str.contains("large-strain-torque").any()


def test_every_column_is_in_the_dictionary(found):
    from kit.places import DATA

    known = set(pd.read_csv(DATA / "columns.csv")["column"])
    assert set(found[2].interactions.columns) <= known


def test_the_write_up_shows_them_with_sources_and_cautions(found):
    _, _, whole = found
    text = interaction_telling.heading(whole.interactions).text
    assert "6.2.1(7)" in text and "AISC 360, H1-1" in text
    told = [part.text for part in interaction_telling.summaries(whole.interactions)]
    assert any("wind (bending 1000 N" in one and "hold" in one for one in told)
    assert "0 of 0 members hold; 2 not assessed" in " ".join(told)
    body = interaction_telling.best(whole.interactions).body
    assert "pipe" in body and "design" in body
    assert "kit.members.interaction.together" in whole.used
    shown = str(citations.caveats_table(whole.used, whole.members, extra=["not-a-design"]).body)
    assert "added by their shares" in shown


def test_a_study_without_them_says_nothing(found, capsys):
    from dataclasses import replace

    interaction_telling.show(found[0], replace(found[2], interactions=pd.DataFrame()))
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("bending: 1 kN, comp", "beding: 1 kN, comp", "interactions.wind.loads.beding", "did you mean 'bending'?"),
        ("bending: 1 kN, comp", "bending: 1, comp", "interactions.wind.loads.bending", "unit is missing"),
        ("torsion: 50 N m", "torsion: 50 N", "interactions.wind.loads.torsion", "unit of force"),
        ("bending: 1 kN, comp", "bending: 1 kN m, comp", "interactions.wind.loads.bending", "unit of moment"),
        ("bending: 1 kN, comp", "bending: -1 kN, comp", "interactions.wind.loads.bending", "out of range"),
        ("bending: 1 kN, compression: 4 kN, torsion: 50 N m", "bending: 1 kN", "interactions.wind.loads", "2"),
        ("expression: AISC 360 H1", "expression: AISC", "interactions.snow.expression", "'AISC' is not known"),
        ("compression: 4000 N, bending: 1000 N", "torsion: 9 N m, bending: 9 N", "interactions.snow.loads",
         "AISC 360, H1 is for an axial force and bending"),
        ("compression: {length: 2 m", "compression: {length: 3 m", "interactions.wind.loads",
         "a member has one length, not bending 2000 mm, compression 3000 mm"),
        ("torsion: {length: 2 m}", "torsion: {length: 2 m}\n  tie: {kind: tension, length: 2 m}\n", "", ""),
        ("snow: {loads", "snow: {lods", "interactions.snow.lods", "did you mean 'loads'?"),
    ],
)  # fmt: skip
def test_what_is_refused(old, new, where, said):
    assert old in STUDY
    text = STUDY.replace(old, new)
    if not where:
        checked(parse_yaml(text))
        both = text.replace("torsion: 50 N m}", "tie: 1 kN}")
        with pytest.raises(InputError, match="compression and tension at once"):
            checked(parse_yaml(both))
        return
    with pytest.raises(InputError) as caught:
        checked(parse_yaml(text))
    message = " ".join(str(caught.value).split())
    assert where in message and said in message


def test_a_variant_that_parts_the_lengths_is_refused(tmp_path):
    text = STUDY.replace(
        "material: [steel-S235, aluminium-6060-T66]", "load_cases.torsion.length: [2 m, 3 m]"
    )
    with pytest.raises(InputError, match="one length"):
        load_study(written(tmp_path, text))
