"""The walls of the shortlist: who is on it, what happens to their rows, and that ranks stay fair."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from shapely import box

from kit.members.cases import BendingCase, CompressionCase, TorsionCase
from kit.members.materials import Service, library
from kit.sections.halfwave_record import CurveRecord
from kit.study import fanout, walls
from kit.study.ranking import by_outline
from kit.study.stages import assemble, folder_of, make_members, open_study

ALUMINIUM, TIMBER = library()["aluminium-6060-T66"], library()["timber-C24"]
TUBE = box(0, 0, 60, 60) - box(1, 1, 59, 59)
COLUMN = CompressionCase("column", length_mm=600.0)


def names(few, count=10):
    """Members of one variant and load case, s0 the best."""
    rows = [
        ("v", "bending", f"s{i}", f"o{i}", f"c{i}", 0.0, 2.0 - i / 10, "full plasticity")
        for i in range(count)
    ]
    columns = ["variant", "load_case", "section_id", "outline", "content", "orientation_deg", "merit"]
    return pd.DataFrame(rows, columns=[*columns, "limit_states_checked"]).sample(frac=1, random_state=few)


def study_of(best, worst, by=None, outline="o5"):
    keys = SimpleNamespace(best=best, worst=worst, by=by)
    variant = SimpleNamespace(name="v", cases=(SimpleNamespace(name="bending"),))
    model = SimpleNamespace(report=SimpleNamespace(shortlist=keys))
    return SimpleNamespace(model=model, variants=(variant,), reference=(outline, 0.0))


def test_shortlist_is_the_best_the_worst_and_the_reference():
    found = walls.shortlisted(study_of(2, 1), names(1))
    assert list(found["section_id"]) == ["s0", "s1", "s9", "s5"]


def test_reference_among_the_best_stands_once():
    assert list(walls.shortlisted(study_of(2, 0, outline="o1"), names(2))["section_id"]) == ["s0", "s1"]


def two_cases():
    """Two load cases with opposite orders; s2 is drawn as s1 is, s9 has no merit in the second."""
    first = names(6).sort_values("section_id")
    second = first.assign(load_case="compression", merit=1.0 / first["merit"])
    second.loc[second["section_id"] == "s9", "merit"] = np.nan
    return pd.concat([first, second], ignore_index=True)


def test_the_place_of_a_row_is_that_of_its_own_load_case():
    members = two_cases()
    found = walls.places(members, {f"s{i}": f"c{i}" for i in range(10)})
    assert found["v", "bending", "s0"] == "1 of 10" and found["v", "compression", "s0"] == "9 of 9"
    assert found["v", "compression", "s8"] == "1 of 9"
    assert ("v", "compression", "s9") not in found


def test_identical_outlines_share_a_place_and_count_once():
    members = two_cases()
    alike = members["section_id"].isin(["s1", "s2"])
    members.loc[alike, "merit"] = 1.9
    found = walls.places(members, {f"s{i}": f"c{1 if i == 2 else i}" for i in range(10)})
    assert found["v", "bending", "s1"] == found["v", "bending", "s2"] == "2 of 9"


def test_members_without_a_merit_are_not_on_it():
    members = names(3)
    members.loc[members["section_id"] == "s0", "merit"] = np.nan
    assert walls.shortlisted(study_of(1, 0), members)["section_id"].iloc[0] == "s1"


def test_more_asked_for_than_there_are_gives_each_once():
    assert len(walls.shortlisted(study_of(50, 50), names(4, 6))) == 6


def test_spans_and_loadings_share_one_curve_and_restraint_does_not():
    lopsided = box(0, 0, 60, 10).union(box(0, 0, 10, 100))
    free = [walls.wall_task(lopsided, BendingCase("b", span_mm=s), ALUMINIUM) for s in (500.0, 2400.0)]
    held = walls.wall_task(lopsided, BendingCase("b", span_mm=500.0, restraint="sideways"), ALUMINIUM)
    assert walls.key_of(free[0], "x") == walls.key_of(free[1], "x") != walls.key_of(held, "x")


@pytest.mark.parametrize(
    ("case", "material", "word"),
    [
        (TorsionCase("t", length_mm=500.0), ALUMINIUM, "no stress"),
        (CompressionCase("c", length_mm=500.0, eccentricity_x_mm=5.0), ALUMINIUM, "eccentric"),
        (COLUMN, TIMBER, "elastic constants"),
    ],
)
def test_what_cannot_be_analysed_says_why(case, material, word):
    assert word in walls.wall_task(TUBE, case, material)


def test_curves_are_computed_once_and_kept(tmp_path, monkeypatch):
    where = walls.Where(tmp_path / "store.sqlite", 1, fanout.Limits(60.0))
    tasks = [walls.wall_task(TUBE, COLUMN, ALUMINIUM), "not assessed: for a reason"] * 2
    first = walls.compute(tasks, where)
    with monkeypatch.context() as patched:
        patched.setattr(fanout, "each", lambda *_, **__: pytest.fail("computed again"))
        assert walls.compute(tasks, where) == first
    assert isinstance(first.found[0], CurveRecord)
    assert first.found[1] == "not assessed: for a reason"
    strains = first.strains(pd.RangeIndex(4))
    assert np.isfinite(strains["local_critical_strain"][0])
    solid = walls.compute([walls.wall_task(box(0, 0, 50, 80), COLUMN, ALUMINIUM)], where)
    kinds = [walls.column(kind) for kind in walls.KINDS]
    assert np.isinf(solid.strains(pd.RangeIndex(1))[kinds]).all(axis=None)
    assert strains.loc[1].isna().all()


def test_analysis_that_fails_costs_its_own_row_only(tmp_path):
    where = walls.Where(tmp_path / "store.sqlite", 1, fanout.Limits(60.0))
    odd = walls.WallTask(TUBE.wkb, 0.495, walls.LinearStress(-1.0))
    found = walls.compute([odd, walls.wall_task(TUBE, COLUMN, ALUMINIUM)], where).found
    assert "not assessed" in found[0]
    assert isinstance(found[1], CurveRecord)


STUDY = """
study: thin
title: Thin walls
outlines:
  - {from: shape, name: solid, shape: rectangle, dimensions: {depth: 60 mm, width: 24 mm}}
  - {from: shape, name: thin, shape: square-tube, dimensions: {depth: 60 mm, wall: 0.8 mm}}
  - {from: shape, name: thick, shape: square-tube, dimensions: {depth: 60 mm, wall: 5 mm}}
reference: {outline: solid}
preparation: {process: extruded, fit: {scale: 1}}
material: aluminium-6060-T66
load_cases:
  compression: {length: 400 mm}
  torsion: {length: 400 mm}
report: {local_buckling: WHICH, shortlist: {best: 1, worst: 0, by: compression}}
"""


@dataclass(frozen=True)
class Ran:
    members: pd.DataFrame
    ranks: pd.DataFrame
    closer: object


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """The members and ranks of one small study, by what it asks of the walls."""
    from kit.study import stages

    root, found = tmp_path_factory.mktemp("walls"), {}
    for which in ("none", "shortlist", "all"):
        file = root / f"{which}.yml"
        file.write_text(STUDY.replace("WHICH", which), encoding="utf-8")
        study = open_study(file)
        folder = folder_of(study, root / "results")
        outlines, left_out = stages.read_outlines(study)
        made = stages.make_sections(study, outlines, left_out, results=root / "results", workers=1)
        stages.keep_sections(study, folder, outlines, made)
        variant = study.variants[0]
        members = make_members(study, variant, made, folder)
        folder.write_members(variant.slug, members.table, members.used)
        checked = pd.DataFrame({"passed": [True]})
        checked.to_csv(folder.path / "audit.csv", index=False)
        checked.to_csv(folder.path / "checks.csv", index=False)
        whole = assemble(study, folder)
        found[which] = Ran(whole.members.set_index(["load_case", "outline"]), whole.ranks, whole.closer)
    return found


def test_thin_tube_carries_less_once_its_walls_are_looked_at(ran):
    before, after = (ran[w].members.loc[("compression", "thin")] for w in ("none", "shortlist"))
    assert before["limit_state"] != "local" == after["limit_state"]
    assert after["resistance_N"] < 0.8 * before["resistance_N"]
    assert "local; distortional" in after["limit_states_checked"]
    assert "walls-outside-merit" in after["caveats"]


def test_merits_and_ranks_of_all_rows_stay_comparable(ran):
    before, after = ran["none"], ran["shortlist"]
    pd.testing.assert_series_equal(after.members["merit"], before.members["merit"], check_exact=True)
    pd.testing.assert_frame_equal(after.ranks, before.ranks)
    assert (
        after.members.loc[("compression", "thin"), "merit_with_walls"]
        < 0.8 * after.members.loc[("compression", "thin"), "merit"]
    )


def test_the_table_of_the_shortlist_gives_places_as_the_ranks_do(ran):
    found = ran["shortlist"]
    ranks = found.ranks[found.ranks["level"] == "outline"].set_index(["load_case", "item"])
    told = found.closer.table.assign(outline=lambda rows: rows["section_id"].str.split(" ").str[0])
    assert len(told) >= 2 and set(told["load_case"]) == {"compression"}
    for row in told.itertuples():
        there = ranks.loc[(row.load_case, row.outline)]
        reference = " (reference)" if row.outline == "solid" else ""
        assert row.place == f"{there['rank']} of {there['of']}{reference}"


def test_rows_off_the_shortlist_and_other_load_cases_are_left_alone(ran):
    before, after = ran["none"].members, ran["shortlist"].members
    for place in (("compression", "thick"), ("torsion", "thin")):
        assert after.loc[place, "limit_states_checked"] == before.loc[place, "limit_states_checked"]
        assert np.isnan(after.loc[place, "merit_with_walls"])


def test_all_outlines_when_asked_are_ranked_with_their_walls(ran):
    members = ran["all"].members
    assert ran["all"].closer is None
    assert members.loc[("compression", "thin"), "merit"] == pytest.approx(
        ran["shortlist"].members.loc[("compression", "thin"), "merit_with_walls"]
    )
    assert members.loc["compression", "limit_states_checked"].str.contains("local").all()
    ranks = ran["all"].ranks.query("load_case == 'compression'")
    assert set(ranks["of"]) == {3}


def test_rank_of_a_shortlisted_row_is_among_all_others():
    members = names(5).assign(merit_with_walls=np.nan)
    first = members["section_id"] == "s0"
    members.loc[first, ["merit_with_walls", "limit_states_checked"]] = [
        1.0,
        "full plasticity; local; distortional",
    ]
    assert set(by_outline(members)["of"]) == {10}


def test_a_reference_that_carries_nothing_gives_no_merit_with_walls(monkeypatch):
    monkeypatch.setattr(walls, "load_at", lambda table, *_: np.where(table["area_mm2"] == 1.0, 0.0, 5.0))
    known = pd.DataFrame(
        {"section_id": ["s0", "s1"], "outline": ["o0", "o1"], "orientation_deg": 0.0, "area_mm2": [1.0, 2.0]},
    ).set_index("section_id", drop=False)
    known = known.assign(**{walls.column(kind): 1.0 for kind in walls.KINDS})
    variant = SimpleNamespace(material=ALUMINIUM, service=Service())
    study = SimpleNamespace(reference=("o0", 0.0))
    assert np.isnan(walls._merit(study, variant, COLUMN, known)).all()
    assert walls._merit(SimpleNamespace(reference=("o1", 0.0)), variant, COLUMN, known).tolist() == [0.0, 1.0]
