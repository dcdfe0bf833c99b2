"""A stored study run again: what agrees, what differs, and what is said of it."""

import os
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from kit.cli import main
from kit.errors import InputError
from kit.study import differences, repeating
from kit.study.differences import ABSENT, DIFFERS, IDENTICAL, WITHIN, compare, tables
from kit.study.inputs import names_of
from kit.study.repeating import Repeated, repeat, stored_study, told
from kit.writeup import crate
from tests.study.files import SMALL, written


def members(merit: list[float], names: list[str] | None = None) -> pd.DataFrame:
    names = names or [f"o{i}" for i in range(len(merit))]
    return pd.DataFrame(
        {"variant": "v", "load_case": "bending", "section_id": names, "merit": merit, "limit_state": "yield"}
    )


def test_rows_are_joined_by_what_they_are_about_not_by_their_place():
    before = members([1.0, 2.0, 3.0], ["a", "b", "c"])
    found = tables("members", before, before.iloc[::-1])
    assert (found.verdict, found.added, found.removed, len(found.changed)) == (WITHIN, (), (), 0)


def test_a_number_counts_as_changed_from_the_tolerance_on():
    before = members([1.0, 2.0])
    assert tables("members", before, members([1.0, 2.0 * (1 + 5e-7)])).verdict == WITHIN
    found = tables("members", before, members([1.0, 2.0 * (1 + 5e-6)]))
    assert found.verdict == DIFFERS
    assert found.changed["row"].tolist() == ["v, bending, o1"]
    assert found.greatest == pytest.approx(5e-6, rel=1e-3)


def test_rounding_beside_zero_is_no_difference_but_a_real_product_moment_is():
    large = [2e6, 3e6, 1e-5]
    assert tables("members", members(large), members([2e6, 3e6, -3e-5])).verdict == WITHIN
    assert tables("members", members(large), members([2e6, 3e6, 50.0])).verdict == DIFFERS


def test_a_number_that_went_missing_is_the_greatest_change():
    found = tables("members", members([1.0, 2.0]), members([np.nan, 2.1]))
    assert found.changed["relative"].tolist() == [np.inf, pytest.approx(0.1 / 2.1)]


def test_rows_and_columns_that_came_or_went_are_named():
    found = tables("members", members([1.0, 2.0]), members([1.0, 5.0], ["o0", "new"]).assign(more=1))
    assert (found.added, found.removed, found.columns) == (
        ("v, bending, new",),
        ("v, bending, o1",),
        ("more",),
    )


def test_a_repeated_name_is_matched_in_order():
    twice = members([1.0, 2.0], ["same", "same"])
    assert tables("members", twice, twice).verdict == WITHIN
    assert tables("members", twice, twice.iloc[:1]).removed == ("v, bending, same (2)",)


def test_a_name_like_a_missing_value_stays_a_name(tmp_path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        members([1.0, 2.0], ["NA", "nan"]).to_csv(tmp_path / folder / "members.csv", index=False)
    (tmp_path / "b" / "members.csv").write_text(
        (tmp_path / "b" / "members.csv").read_text() + "v,bending,NaN,1,yield\n"
    )
    (found,) = compare(tmp_path / "a", tmp_path / "b")
    assert found.added == ("v, bending, NaN",)


def test_a_table_only_one_of_them_has_is_said(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    members([1.0]).to_csv(tmp_path / "b" / "members.csv", index=False)
    (found,) = compare(tmp_path / "a", tmp_path / "b")
    assert (found.verdict, found.columns) == (ABSENT, ("only later",))
    assert Repeated([found], (), ()).status == 3


@pytest.mark.parametrize("there", [[], ["parameters.yml"], ["parameters.yml", "sections.csv"]])
def test_a_folder_without_results_is_refused_with_what_to_do(tmp_path, capsys, there):
    for name in there:
        (tmp_path / name).write_text("study: a\n")
    with pytest.raises(InputError, match="no results of a study"):
        stored_study(tmp_path)
    assert main(["repeat", str(tmp_path)]) == 2
    assert "results/NAME" in capsys.readouterr().err


@pytest.fixture(scope="module")
def done(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("repeat")
    file = written(folder, SMALL)
    assert main(["run", str(file), "--results", str(folder / "results"), "--workers", "2"]) == 0
    return folder / "results" / "small"


def test_a_study_repeats_byte_by_byte(done, capsys):
    before = {path: path.read_bytes() for path in done.rglob("*") if path.is_file()}
    assert main(["repeat", str(done), "--workers", "1"]) == 0
    said = capsys.readouterr().out
    for name in ("sections", "members", "ranks", "left-out"):
        assert f"{name}.csv: {IDENTICAL}" in said
    assert "inputs: as they were" in said and "packages: as they were" in said
    assert {path: path.read_bytes() for path in done.rglob("*") if path.is_file()} == before


def test_what_does_not_repeat_is_named_with_status_3(done, tmp_path, capsys):
    stored = tmp_path / "small"
    shutil.copytree(done, stored)
    table = pd.read_csv(stored / "members.csv")
    table.loc[0, "mass_kg"] *= 1.01
    table.iloc[:-1].to_csv(stored / "members.csv", index=False)
    (stored / "environment.txt").write_text("numpy==0.0.1\n")
    found = repeat(stored, 2)
    assert found.status == 3
    verdicts = {one.table: one.verdict for one in found.differences}
    assert verdicts["members"] == DIFFERS and verdicts["sections"] == IDENTICAL
    said = told(found)
    assert "mass_kg" in said and "1 new" in said and "then numpy==0.0.1" in said and "not repeated" in said


def test_every_table_that_is_compared_has_columns_that_name_its_rows(done):
    for name, key in differences.KEYS.items():
        file = done / f"{name}.csv"
        if file.exists():
            assert set(key) <= set(differences.read_table(file).columns), name


def test_files_of_one_name_are_told_apart_by_their_folders(tmp_path):
    paths = [
        tmp_path / name for name in ("a/Regular.ttf", "b/Regular.ttf", "a/x/Bold.ttf", "c/a/Regular.ttf")
    ]
    found = names_of(paths)
    assert list(found.values()) != [] and set(found.values()) == set(paths)
    assert {found["b/Regular.ttf"], found["Bold.ttf"], found["c/a/Regular.ttf"]} == {
        paths[1],
        paths[2],
        paths[3],
    }


def test_a_name_that_is_no_text_is_named_all_the_same():
    (name,) = names_of([Path(os.fsdecode(b"/faces/Caf\xe9.ttf"))])
    assert name.encode("utf-8") and name.endswith(".ttf") and name.startswith("Caf")


def test_inputs_of_one_name_are_as_they_were_where_neither_has_changed(tmp_path, monkeypatch):
    files = [tmp_path / "a" / "Regular.ttf", tmp_path / "b" / "Regular.ttf"]
    for file in files:
        file.parent.mkdir()
        file.write_bytes(str(file).encode())
    crate.write_crate(tmp_path, {}, names_of(files), "run")
    monkeypatch.setattr(repeating, "input_files", lambda study: files)
    assert repeating.changed_inputs(tmp_path, None) == ()
    files[1].write_bytes(b"other")
    assert repeating.changed_inputs(tmp_path, None) == ("b/Regular.ttf has changed",)


def test_values_without_end_are_compared_without_a_word():
    with np.errstate(all="raise"):
        same = tables("members", members([np.inf, 1.0]), members([np.inf, 1.0]))
    assert (same.verdict, len(same.changed)) == (WITHIN, 0)
