"""Ranks are plain counting: checked by hand on tables small enough to read."""

import numpy as np
import pandas as pd
import pytest

from kit.study.ranking import (
    COMPLETE,
    LEAST_FAMILIES,
    Resampling,
    by_complete_faces,
    by_group,
    by_outline,
    checked_apart,
    comparable,
    complete,
    overall,
)


def members(rows):
    frame = pd.DataFrame(rows, columns=["outline", "family", "character", "merit"])
    return frame.assign(
        variant="v",
        load_case="bending",
        limit_states_checked="yield",
        orientation_deg=0.0,
        content=frame["outline"],
    )


def test_best_merit_is_rank_one_and_ties_share_the_better_rank():
    ranks = by_outline(
        members([("a", "f", "A", 1.0), ("b", "f", "B", 3.0), ("c", "f", "C", 1.0), ("d", "f", "D", 0.5)])
    )
    assert dict(zip(ranks["item"], ranks["rank"], strict=True)) == {"b": 1, "a": 2, "c": 2, "d": 4}
    assert (ranks["of"] == 4).all()


def test_no_merit_no_rank():
    ranks = by_outline(members([("a", "f", "A", np.nan), ("b", "f", "B", 3.0)]))
    assert list(ranks["item"]) == ["b"]


def test_rows_checked_for_different_limit_states_are_not_ranked_together():
    table = members([("a", "f", "A", 1.0), ("b", "f", "B", 3.0)])
    table.loc[0, "limit_states_checked"] = "yield deflection"
    assert list(by_outline(table)["rank"]) == [1, 1]


def test_identical_outlines_count_once():
    table = members([("a", "f", "A", 1.0), ("a again", "g", "A", 1.0), ("b", "f", "B", 0.5)])
    table["content"] = ["same", "same", "other"]
    assert (by_outline(table)["of"] == 2).all()


def test_a_family_of_many_styles_does_not_outvote_the_others():
    rows = [("heavy1", "heavy", "A", 9.0), ("heavy2", "heavy", "A", 9.0), ("heavy3", "heavy", "A", 9.0)]
    rows += [("x", "x", "A", 1.0), ("y", "y", "A", 2.0)]
    assert by_group(members(rows), "character")["merit"].item() == pytest.approx(2.0)


def test_few_families_give_no_interval():
    ranks = by_group(members([("x", "x", "A", 1.0), ("y", "y", "A", 2.0)]), "character")
    assert ranks[["rank_low", "merit_high"]].isna().all(axis=None)


def test_intervals_cover_the_middle_and_are_the_same_for_the_same_seed():
    generator = np.random.default_rng(7)
    rows = [
        (f"{family}{letter}", f"family {family}", letter, place + generator.normal(0, 0.3))
        for family in range(3 * LEAST_FAMILIES)
        for place, letter in enumerate("ABC")
    ]
    first, again = (by_group(members(rows), "character", Resampling(400, 3)) for _ in range(2))
    pd.testing.assert_frame_equal(first, again)
    assert list(first["item"]) == ["C", "B", "A"]
    assert ((first["merit_low"] <= first["merit"]) & (first["merit"] <= first["merit_high"])).all()
    assert ((first["rank_low"] <= first["rank"]) & (first["rank"] <= first["rank_high"])).all()


def test_bootstrap_of_the_median_agrees_with_the_order_statistics():
    # The exact bootstrap distribution of a median of n distinct values: P(median* ≤ x_(k)) is binomial
    # (B. Efron, The Jackknife, the Bootstrap and Other Resampling Plans, SIAM, 1982, ch. 10).
    from scipy.stats import binom

    n, samples = 15, 4000
    rows = [(f"{i}", f"family {i}", "A", float(i)) for i in range(n)]
    ranks = by_group(members(rows), "character", Resampling(samples, 5))
    below = np.array([1 - binom.cdf(n // 2, n, (k + 1) / n) for k in range(n)])
    exact_low, exact_high = np.searchsorted(below, 0.025), np.searchsorted(below, 0.975)
    assert ranks["merit_low"].item() == pytest.approx(exact_low, abs=1)
    assert ranks["merit_high"].item() == pytest.approx(exact_high, abs=1)


def test_overall_is_the_weighted_geometric_mean():
    table = pd.concat([members([("a", "f", "A", 4.0), ("b", "f", "B", 1.0)])] * 2, ignore_index=True)
    table["load_case"] = ["bending", "bending", "torsion", "torsion"]
    table.loc[2, "merit"] = 1.0
    ranks = overall(table, {"bending": 1.0, "torsion": 1.0})
    assert ranks.set_index("item")["merit"].to_dict() == pytest.approx({"a": 2.0, "b": 1.0})
    assert list(ranks["rank"]) == [1, 2]


def test_members_without_a_merit_are_counted_as_dropped_from_their_group():
    table = members([("x", "x", "A", 1.0), ("y", "y", "A", np.nan), ("z", "z", "B", 1.0)])
    table.loc[1, "limit_states_checked"] = ""
    ranks = by_group(table, "character").set_index("item")
    assert ranks["dropped"].to_dict() == {"A": 1, "B": 0}


def test_routes_to_the_same_question_compare_and_different_questions_do_not():
    closed = comparable("full plasticity; lateral-torsional buckling")
    assert closed == comparable("full plasticity; second-order bending and twist")
    assert closed != comparable("full plasticity")
    assert comparable("") == ""


def test_without_resampling_there_is_no_interval():
    rows = [(f"{family}", f"family {family}", "A", float(family)) for family in range(20)]
    assert by_group(members(rows), "character", Resampling(unit="none"))["rank_low"].isna().all()
    assert by_group(members(rows), "character", Resampling(unit="outline"))["merit_low"].notna().all()


def test_families_are_ranked_by_their_median_letter_and_letters_are_resampled():
    rows = [
        (f"{family}{letter}", family, letter, value)
        for family, value in (("stout", 2.0), ("slight", 1.0))
        for letter in "ABCDEFG"
    ]
    ranks = by_group(members(rows), "family").set_index("item")
    assert ranks["rank"].to_dict() == {"stout": 1, "slight": 2}
    assert ranks.loc["stout", ["merit_low", "merit_high"]].tolist() == [2.0, 2.0]


def test_merits_that_differ_by_rounding_only_share_a_rank():
    table = members([("a", "f", "A", 1.0 + 2e-16), ("b", "f", "B", 1.0 - 3e-12), ("c", "f", "C", 0.9)])
    assert list(by_outline(table)["rank"]) == [1, 1, 3]
    assert list(by_group(table, "character")["rank"]) == [1, 1, 3]


def test_what_was_checked_for_some_only_is_named_and_what_for_all_is_not():
    table = members([("a", "f", "A", 1.0), ("b", "f", "B", 3.0), ("c", "f", "C", np.nan)])
    table["limit_states_checked"] = [
        "yield; bearing; twisting under the load",
        "yield; lateral-torsional buckling",
        "",
    ]
    assert list(checked_apart(table)) == ["bearing checked", "bearing not checked", "bearing not checked"]
    assert list(checked_apart(table.drop(index=0))) == ["", ""]


def test_a_variant_that_checks_everything_is_named_like_the_rows_it_compares_with():
    some = members([("a", "f", "A", 1.0), ("b", "f", "B", 3.0)])
    some["limit_states_checked"] = ["yield; bearing", "yield"]
    every = members([("a", "f", "A", 1.0)]).assign(variant="w", limit_states_checked="yield; bearing")
    told = checked_apart(pd.concat([some, every], ignore_index=True))
    assert list(told) == ["bearing checked", "bearing not checked", "bearing checked"]


def two_cases(merits: dict[str, tuple[float, float]]) -> pd.DataFrame:
    parts = [
        members([(name, "f", name, pair[i]) for name, pair in merits.items()]).assign(load_case=case)
        for i, case in enumerate(("bending", "torsion"))
    ]
    return pd.concat(parts, ignore_index=True)


def test_over_several_load_cases_too_different_limit_states_make_different_ranks():
    table = two_cases({"a": (4.0, 1.0), "b": (1.0, 1.0), "c": (9.0, 1.0)})
    table.loc[2, "limit_states_checked"] = "yield; bearing"
    ranks = overall(table, {"bending": 1.0, "torsion": 1.0}).set_index("item")
    assert ranks["rank"].to_dict() == {"a": 1, "b": 2, "c": 1}
    assert ranks["of"].to_dict() == {"a": 2, "b": 2, "c": 1}


def test_a_load_case_without_weight_does_not_decide_whatever_its_merit_is():
    table = two_cases({"a": (0.0, 2.0), "b": (4.0, 0.0)})
    ranks = overall(table, {"bending": 0.0, "torsion": 1.0}).set_index("item")
    assert ranks["merit"].to_dict() == {"a": pytest.approx(2.0), "b": 0.0}


def faces(lost: set[str]) -> pd.DataFrame:
    """Three faces with two letters; those lost have no merit. Without the face "c" the order turns round."""
    rows = [
        ("a", "A", 1.0),
        ("a", "B", 2.0),
        ("b", "A", 1.0),
        ("b", "B", 2.0),
        ("c", "A", 9.0),
        ("c", "B", 1.0),
    ]
    table = members([(f"{f} Book/{c}", f, c, np.nan if f + c in lost else m) for f, c, m in rows])
    table.loc[table["merit"].isna(), "limit_states_checked"] = ""
    return table.assign(style="Book")


def test_ranks_are_repeated_on_the_faces_complete_in_every_character():
    table = faces({"cB"})
    assert set(complete(table)["family"]) == {"a", "b"}
    again = by_complete_faces(table, "character").set_index("item")
    assert set(again["level"]) == {f"character{COMPLETE}"} and (again["families"] == 2).all()
    assert again["rank"].to_dict() == {"B": 1, "A": 2}


def test_where_every_face_is_complete_or_none_nothing_is_repeated():
    assert by_complete_faces(faces(set()), "character").empty
    assert by_complete_faces(faces({"aA", "bB", "cB"}), "character").empty


def test_a_face_that_lost_a_character_in_one_variant_is_not_complete():
    table = pd.concat([faces(set()), faces({"aA"}).assign(variant="w")], ignore_index=True)
    assert set(complete(table)["family"]) == {"b", "c"}


def test_a_load_case_that_none_was_assessed_in_makes_no_face_incomplete():
    every = {f + c for f in "abc" for c in "AB"}
    table = pd.concat([faces({"cB"}), faces(every).assign(load_case="torsion")], ignore_index=True)
    assert set(complete(table)["family"]) == {"a", "b"}
