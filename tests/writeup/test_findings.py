"""Findings in numbers: who leads, who dropped out, what could change the order – on tables made by hand."""

from io import StringIO
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from kit.study.ranking import by_complete_faces, by_group
from kit.writeup import charts, dropouts, findings, telling
from kit.writeup.tables import Prose, Table
from tests.writeup import invented


def members(merits: dict[str, list[float]], case: str = "bending", variant: str = "v") -> pd.DataFrame:
    """A row an outline and orientation-free merit, mass 1 kg, load as the merit."""
    rows = [
        {
            "variant": variant, "load_case": case, "kind": case, "section_id": f"{name} @0", "outline": name,
            "orientation_deg": 0.0, "merit": merit, "mass_kg": 1.0 + place, "resistance_N": merit * (1 + place),
            "family": name.split("/")[0] if "/" in name else "", "character": name[-1] if "/" in name else "",
            "limit_state": "yield", "limit_states_checked": "yield", "content": name,
        }
        for place, (name, merit) in enumerate(merits.items())
    ]  # fmt: skip
    return pd.DataFrame(rows)


def found(table: pd.DataFrame, left: list[tuple] = (), **more) -> SimpleNamespace:
    sections = table.drop_duplicates("outline")[["section_id", "outline", "family", "character"]]
    left_out = pd.DataFrame(list(left), columns=["source", "outline", "reason"])
    return SimpleNamespace(
        members=table, sections=SimpleNamespace(table=sections, left_out=left_out, provisional=False), **more
    )


STUDY = SimpleNamespace(reference=("a", 0.0))


def said(part) -> str:
    return (part.text if isinstance(part, Prose) else part.body).replace("\\", "")


def test_the_leader_is_named_with_its_merit_and_how_many_beat_the_reference():
    text = said(findings.summary(STUDY, found(members({"a": 1.0, "b": 1.5, "c": 0.5}))))
    assert "bending: b, 1.50 times the reference. 1 of 3 carry more than a." in text.replace("**", "")


def test_where_all_are_equal_nobody_is_called_first():
    table = members({"a": 1.0, "b": 1.0 + 1e-9, "c": 1.0 - 1e-9}, case="tension")
    text = said(findings.summary(STUDY, found(table)))
    assert "all outlines carry the same load at equal mass; none leads" in text


def test_a_tie_at_the_top_names_both():
    text = said(findings.summary(STUDY, found(members({"a": 1.0, "b": 1.5, "c": 1.5 + 1e-10}))))
    assert "b and c, 1.50 times" in text


def test_leaders_that_change_between_variants_are_told_apart():
    table = pd.concat(
        [members({"a": 1.0, "b": 1.5}, variant="short"), members({"a": 1.0, "b": 0.5}, variant="long")]
    )
    text = said(findings.summary(STUDY, found(table)))
    assert "b in short, 1.50 times the reference; a in long, 1.00 times" in text


def test_nothing_assessed_is_said_and_stops_nothing():
    one = found(
        members({"a": np.nan, "b": np.nan}), ranks=pd.DataFrame(columns=["level", "variant", "load_case"])
    )
    assert "none of 2 members could be assessed" in said(findings.summary(STUDY, one))
    for part in (
        findings.leads(one),
        findings.agreement(one),
        findings.normalisations(one),
        findings.stability(one),
    ):
        assert isinstance(part, Prose) and part.text
    assert "No member could be compared" in said(dropouts.bias(one))


def test_leaders_are_named_apart_where_more_was_checked_for_some():
    table = members({"a": 1.0, "b": 1.5, "c": 9.0, "d": 2.0})
    table.loc[[2, 3], "limit_states_checked"] = "yield; bearing"
    text = said(findings.summary(STUDY, found(table))).replace("**", "")
    assert "bending, bearing not checked: b, 1.50 times the reference. 1 of 2 carry more than a." in text
    assert "bending, bearing checked: c, 9.00 times the reference." in text
    assert "a was checked for other limit states" in text
    assert "c" in findings.leads(found(table)).body and ">50 %<" in findings.leads(found(table)).body


def turned(table: pd.DataFrame, angle: float = 90.0) -> pd.DataFrame:
    again = table.assign(orientation_deg=angle, section_id=table["outline"] + f" @{angle:g}")
    return pd.concat([table, again], ignore_index=True)


def test_where_the_study_turns_outlines_the_turn_is_named():
    table = turned(members({"a": 1.0, "b": 1.5}))
    table.loc[3, "merit"] = 0.1
    text = said(findings.summary(STUDY, found(table)))
    assert "b · 0°, 1.50 times the reference" in text and "the reference, a · 0°, at" in text


def test_an_outline_and_the_same_one_turned_lead_together():
    table = turned(members({"a": 1.0, "pipe": 1.5, "c": 1.2}))
    table.loc[4, "merit"] *= 1 + 1e-15
    body = findings.leads(found(table)).body
    assert "pipe · 0° and pipe · 90°" in body and ">25 %<" in body and "c · 0°" in body


def test_leaders_that_tie_in_one_variant_are_the_same_leaders_in_another():
    one = members({"a": 1.0, "b": 0.5, "c": 2.0, "d": 2.0 + 1e-12}, variant="v")
    two = members({"a": 1.0, "b": 0.5, "c": 2.0 + 1e-12, "d": 2.0}, variant="w")
    body = findings.agreement(found(pd.concat([one, two]))).body
    assert ">yes<" in body and ">no<" not in body


def test_a_variant_without_any_merit_is_not_counted_among_all():
    parts = [members({"a": 1.0, "b": 1.5}, variant="v"), members({"a": 1.0, "b": 1.4}, variant="w")]
    text = said(
        findings.summary(STUDY, found(pd.concat([*parts, members({"a": np.nan, "b": np.nan}, variant="x")])))
    )
    assert "b in v, w, 1.40 to 1.50 times" in text and "in all" not in text


def test_members_that_have_a_load_but_no_reference_to_compare_with_are_not_called_unassessed():
    table = members({"a": np.nan, "b": np.nan}).assign(resistance_N=[0.0, 7.0])
    text = said(findings.summary(STUDY, found(table)))
    assert (
        "2 of 2 members could be assessed but not compared: a itself could not be assessed, or carries"
        in text
    )
    checks = pd.DataFrame({"passed": [True]})
    assert "compared with the reference" in telling.doubts(found(table, checks=checks, audit=checks))[0]


def test_where_nothing_leads_the_comparisons_are_told_all_the_same():
    table = members({"a": 1.0, "b": 1.0})
    ranks = table.assign(level="outline")
    text = said(findings.comparisons(found(table, ranks=ranks)))
    assert "1 comparison of a pair is implied" in text and "leads" not in text


def test_one_outline_is_told_in_the_singular():
    text = said(findings.summary(STUDY, found(members({"a": 1.0}))))
    assert "1 outline was made into 1 section" in text and "1 member was evaluated in 1 variant" in text


def test_too_few_outlines_to_compare_orders_is_not_called_agreement():
    few = said(findings.normalisations(found(members({"a": 1.0, "b": 2.0, "c": 3.0}))))
    assert "too few" in few
    assert "tells apart" in said(findings.normalisations(found(members({"a": 1.0, "b": 1.0, "c": 1.0}))))


def test_drawings_that_drop_out_are_counted_too():
    body = dropouts.attrition(
        found(members({"heron": 1.0, "seal": np.nan}), [("owl.svg", "owl", "open")])
    ).body
    row = pd.read_html(StringIO(f"<table>{body}</table>"), flavor="bs4")[0].iloc[0]
    assert list(row[["group", "outlines", "left out", "share lost"]]) == ["drawings and shapes", 3, 1, "67 %"]


def test_a_material_that_is_not_assessed_at_all_says_nothing_of_the_mass_of_outlines():
    light = members({"a": np.nan, "b": np.nan}, variant="light").assign(mass_kg=0.1)
    text = said(dropouts.bias(found(pd.concat([members({"a": 1.0, "b": 2.0}), light]))))
    assert (
        "2 of 4 members" in text
        and "2 of them in load cases in which none could" in text
        and "times" not in text
    )
    mixed = members({"a": 1.0, "b": 2.0, "c": np.nan}).assign(mass_kg=[1.0, 1.0, 3.0])
    assert "is 3.0 times that of the others" in said(dropouts.bias(found(mixed)))


def test_what_complete_faces_change_is_told():
    table = members({"a Book/A": 1.0, "a Book/B": 2.0, "b Book/A": 9.0, "b Book/B": np.nan}).assign(
        style="Book"
    )
    ranks = pd.concat([by_group(table, "character"), by_complete_faces(table, "character")])
    study = SimpleNamespace(model=SimpleNamespace(ranking=SimpleNamespace(group_by=("character",))))
    text = said(dropouts.complete_faces(study, found(table, ranks=ranks)))
    assert "on the 1 face complete" in text and "of 2 ranks by character 2 change, by 1 place at most" in text
    whole = members({"a Book/A": 1.0, "a Book/B": 2.0}).assign(style="Book")
    assert dropouts.complete_faces(study, found(whole, ranks=by_group(whole, "character"))) is None


def test_hostile_names_stay_text():
    text = findings.summary(STUDY, found(members({"a": 1.0, invented.HOSTILE: 2.0}))).text
    assert "<img" not in text.replace("\\<img", "") and "](javascript" not in text.replace(
        "\\]\\(javascript", ""
    )


@pytest.mark.parametrize(
    ("other", "tau"),
    [([1, 2, 3, 4], 1.0), ([4, 3, 2, 1], -1.0), ([2, 1, 4, 3], 1 / 3), ([1, 1, 1, 1], np.nan)],
)
def test_agreement_is_kendalls_tau_counted_by_hand(other, tau):
    # 6 pairs: [2, 1, 4, 3] turns two of them round, so (4 - 2) / 6.
    assert findings.tau_b(pd.Series([1.0, 2, 3, 4]), pd.Series(other, dtype=float)) == pytest.approx(
        tau, nan_ok=True
    )


def test_the_normalisation_that_reverses_the_order_is_seen():
    table = members({"a": 4.0, "b": 3.0, "c": 2.0, "d": 1.0})
    table["mass_kg"], table["resistance_N"] = [1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0, 4.5]
    assert '<td class="n">−1.0</td>' in findings.normalisations(found(table)).body


def test_attrition_counts_outlines_left_out_and_members_not_assessed():
    table = members({"Fa Book/A": 1.0, "Fa Book/B": np.nan, "Fb Book/A": 1.2, "plain": 1.0})
    table["family"] = ["Fa", "Fa", "Fb", ""]
    left = [("fa.ttf", "Fa Book/C", "a wall"), ("bad.svg", "bad", "open")]
    shown = dropouts.attrition(found(table, left))
    assert isinstance(shown, Table)
    rows = pd.read_html(StringIO(f"<table>{shown.body}</table>"), flavor="bs4")[0]
    fa = rows[rows["item"] == "Fa"].iloc[0]
    assert (fa["outlines"], fa["left out"], fa["without a merit in some load case"], fa["share lost"]) == (
        3,
        1,
        1,
        "67 %",
    )
    assert set(rows.loc[rows["group"] == "character", "item"]) == {"B", "C"}


def test_nothing_lost_is_said():
    assert "nothing dropped out" in said(dropouts.attrition(found(members({"a": 1.0, "b": 2.0}))))


def test_a_variant_that_failed_stands_first_among_the_doubts():
    checks = pd.DataFrame({"passed": [True]})
    one = found(members({"a": np.nan}), failed=(("long", "ValueError: odd"),), checks=checks, audit=checks)
    first, second = telling.doubts(one)
    assert "“long” failed" in first and "ValueError: odd" in first
    assert "No member could be assessed" in second


def test_the_letter_map_says_which_differs_more_letter_or_family():
    table = pd.concat([members({f"{face}/{c}": m for c, m in zip("AB", merits, strict=True)})
                       for face, merits in {"Fa": (1.0, 3.0), "Fb": (1.1, 3.3)}.items()])  # fmt: skip
    figure = charts.letter_map(table)
    assert "median merit by character from 1.05 (A) to 3.15 (B)" in figure.alternative
    assert "by family from 2 (Fa) to 2.2 (Fb)" in figure.alternative
    assert figure.spec()["concat"]


@pytest.mark.parametrize("merits", [{"a": 1.0}, {"Fa/A": 1.0, "Fa/B": 2.0}, {"Fa/A": np.nan, "Fb/B": np.nan}])
def test_without_letters_to_compare_the_map_says_why(merits):
    assert charts.letter_map(members(merits)).alternative


def scattered(table: pd.DataFrame) -> pd.DataFrame:
    return table.assign(
        merit_low=table["merit"] * 0.9, merit_high=table["merit"] * 1.1, flip_probability=[0.4, 0.3, np.nan]
    )


def test_where_all_merits_are_equal_no_first_stands_in_the_table_of_stability():
    apart = scattered(members({"a": 1.0, "b": 2.0, "c": 3.0}))
    equal = scattered(members({"a": 1.0, "b": 1.0 + 1e-12, "c": 1.0}, case="tension"))
    both = findings.stability(found(pd.concat([apart, equal], ignore_index=True)))
    assert ">bending<" in both.body and ">c<" in both.body and "tension" not in both.body
    assert "no order" in said(findings.stability(found(equal)))


def uncertain_ranks(groups: int = 3) -> pd.DataFrame:
    """Ranks of outlines whose merits have intervals, and of a character whose rank has none."""
    rows = pd.DataFrame(
        {
            "variant": "v", "load_case": "bending", "level": "outline", "item": ["a", "b", "c", "d"],
            "orientation_deg": 0.0, "rank": [1, 2, 3, 4], "rank_low": np.nan, "rank_high": np.nan,
            "merit": [4.0, 2.0, 1.0, 0.5], "merit_low": [3.0, 1.5, 0.8, 0.4], "merit_high": [5.0, 2.5, 1.2, 0.6],
            "families": 1,
        }
    )  # fmt: skip
    letters = rows.assign(level="character", families=groups, merit_low=np.nan, merit_high=np.nan)
    return pd.concat([rows, letters], ignore_index=True)


def test_where_no_rank_has_an_interval_the_merits_show_theirs():
    figure = charts.rank_intervals(uncertain_ranks())
    drawn = next(rows for rows in figure.spec()["datasets"].values() if "merit_low" in rows[0])
    assert [(r["name"], r["merit_low"], r["merit_high"]) for r in drawn][:2] == [("a", 3, 5), ("b", 1.5, 2.5)]
    assert "merit" in figure.title.lower() and "merit 4, between 3 and 5" in figure.alternative
    assert "at most 3 families" in figure.caption and "dot is the rank" not in figure.caption


def test_panels_stand_in_the_order_of_the_study():
    both = pd.concat([uncertain_ranks(), uncertain_ranks().assign(variant="a long one")])
    titles = [p["title"]["subtitle"] for p in charts.rank_intervals(both, ["a long one"]).spec()["concat"]]
    assert titles == ["a long one", "v"]
    titles = [p["title"]["subtitle"] for p in charts.rank_intervals(both).spec()["concat"]]
    assert titles == ["v", "a long one"]


def test_where_nothing_has_an_interval_nothing_is_drawn_and_the_reason_is_said():
    bare = uncertain_ranks().assign(merit_low=np.nan, merit_high=np.nan)
    assert "five" not in (text := charts.rank_intervals(bare).alternative) and "5 are the least" in text
    assert "ranks.csv" in text


def test_equal_merits_get_no_ranks_drawn():
    ranks = invented.ranks(invented.members(invented.sections(invented.polygons())))
    flat = ranks.assign(load_case="tension", merit=1.0)
    figure = charts.rank_intervals(pd.concat([ranks, flat]))
    assert "tension" not in figure.alternative and "no order" in figure.caption
    assert "no order to show" in charts.rank_intervals(flat).alternative


def many_panels(panels: int) -> pd.DataFrame:
    ranks = invented.ranks(invented.members(invented.sections(invented.polygons())))
    one = ranks[(ranks["variant"] == ranks["variant"].iloc[0]) & (ranks["load_case"] == "bending")]
    return pd.concat([one.assign(variant=f"v{i}") for i in range(panels)], ignore_index=True)


def test_panels_that_are_not_drawn_are_not_said_to_be():
    assert "first 12 of 15 panels" in charts.rank_intervals(many_panels(15)).caption
    assert "panels" not in charts.rank_intervals(many_panels(3)).caption


def test_ranks_of_rows_checked_for_different_limit_states_stand_in_panels_of_their_own():
    ranks = many_panels(1)
    ranks["limit_states_checked"] = ["yield", "yield; bearing"] * (len(ranks) // 2)
    titles = [panel["title"]["text"] for panel in charts.rank_intervals(ranks).spec()["concat"]]
    assert sorted(titles) == ["bending, bearing checked", "bending, bearing not checked"]
