"""Tables on disk: large ones compressed, never two of one table, equal tables equal files."""

from pathlib import Path

import pandas as pd
import pytest

from kit.errors import InputError
from kit.study import results
from kit.study.results import LEDGER, Folder, as_written, file_hash, write_csv, write_whole

SMALL = pd.DataFrame({"outline": ["a", "b"], "load_N": [1.0, 2.123456789012]})


@pytest.fixture
def few_are_many(monkeypatch):
    monkeypatch.setattr(results, "LARGE", 10)


def large(rows=400):
    return pd.concat([SMALL] * (rows // 2), ignore_index=True)


def test_a_large_table_is_compressed_and_read_back(tmp_path, few_are_many):
    write_csv(large(), tmp_path / "members.csv")
    there = as_written(tmp_path / "members.csv")
    assert there.name == "members.csv.gz" and there.stat().st_size < 400
    pd.testing.assert_frame_equal(pd.read_csv(there), large(), rtol=1e-8)


@pytest.mark.parametrize("tables", [(SMALL, large()), (large(), SMALL)], ids=["growing", "shrinking"])
def test_only_the_latest_form_of_a_table_stays(tmp_path, few_are_many, tables):
    for table in tables:
        write_csv(table, tmp_path / "members.csv")
        there = sorted(path.name for path in tmp_path.iterdir())
        assert there == ["members.csv" if table is SMALL else "members.csv.gz"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no file here that is always full")
def test_on_a_full_disk_what_stood_there_stays(tmp_path):
    file = tmp_path / "table.csv"
    file.write_text("earlier")
    with pytest.raises(InputError, match="the disk is full") as raised:
        write_whole(file, lambda part: Path("/dev/full").write_text("x" * 10_000))
    assert str(tmp_path) in str(raised.value) and "--results" in str(raised.value)
    assert [path.read_text() for path in tmp_path.iterdir()] == ["earlier"]


@pytest.mark.parametrize("content", ["x", "", "[1]", "\x00"])
def test_damaged_notes_are_none_but_those_that_nothing_else_remembers(tmp_path, content):
    folder = Folder(tmp_path)
    for name in ("sections", LEDGER):
        folder.write_notes(name, {"a": 1})
        (tmp_path / ".kept" / f"{name}.json").write_text(content)
    assert folder.notes("sections") == {}
    with pytest.raises(InputError, match="damaged"):
        folder.notes(LEDGER)


def test_equal_tables_are_equal_files(tmp_path, few_are_many):
    hashes = set()
    for name in ("one", "two"):
        write_csv(large(), tmp_path / name / "members.csv")
        hashes.add(file_hash(as_written(tmp_path / name / "members.csv")))
    assert len(hashes) == 1


def test_a_stage_is_done_only_while_its_compressed_table_stays_as_it_was(tmp_path, few_are_many):
    folder = Folder(tmp_path)
    write_csv(large(), tmp_path / "members.csv")
    folder.note_done("report", "inputs", ["members.csv"])
    assert folder.holds("report", "inputs") and not folder.holds("report", "other inputs")
    as_written(tmp_path / "members.csv").write_bytes(b"cut short")
    assert not folder.holds("report", "inputs")
