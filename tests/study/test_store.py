"""The store keeps what it was given, whatever happens to its file."""

import random
import sqlite3
import subprocess
import sys
import textwrap

import pytest

from kit.errors import InputError
from kit.study.store import Store, content_key, solver_version


def test_reads_back_what_was_written_exactly(tmp_path):
    record = {"J_mm4": 0.1 + 0.2, "flags": "sharp", "ring": [[1e-300, 2.0]]}
    with Store(tmp_path / "store.sqlite") as store:
        store.write({"a": record})
    with Store(tmp_path / "store.sqlite") as again:
        assert again.read(["a", "missing"]) == {"a": record}


def test_many_keys_in_one_question(tmp_path):
    with Store(tmp_path / "s.sqlite") as store:
        store.write({str(i): {"i": i} for i in range(1234)})
        assert len(store.read(map(str, range(2000)))) == 1234


def test_a_damaged_record_is_not_returned(tmp_path):
    with Store(tmp_path / "s.sqlite") as store:
        store.write({"good": {"x": 1}, "bad": {"x": 2}})
    raw = sqlite3.connect(tmp_path / "s.sqlite")
    raw.execute("UPDATE records SET body = ? WHERE key = 'bad'", (b"rubbish",))
    raw.commit()
    raw.close()
    with Store(tmp_path / "s.sqlite") as store:
        assert store.read(["good", "bad"]) == {"good": {"x": 1}}
        assert store.damaged == 1
        store.write({"bad": {"x": 2}})
        assert store.read(["bad"]) == {"bad": {"x": 2}}


def test_a_damaged_file_is_put_aside_and_work_goes_on(tmp_path):
    file = tmp_path / "s.sqlite"
    file.write_bytes(b"this is not a database" * 100)
    with Store(file) as store:
        store.write({"a": {"x": 1}})
        assert store.read(["a"]) == {"a": {"x": 1}}
    assert file.with_suffix(".damaged").read_bytes().startswith(b"this is not")


@pytest.mark.parametrize("seed", range(6))
def test_damage_inside_the_file_costs_at_most_what_it_hit(tmp_path, seed):
    """Bytes overwritten anywhere beyond the header: work goes on, and what is read back is what was written."""
    file = tmp_path / "s.sqlite"
    records = {f"k{i}": {"body": [i + j / 7 for j in range(300)]} for i in range(200)}
    with Store(file) as store:
        store.write(records)
    content = bytearray(file.read_bytes())
    places = random.Random(seed)
    page = places.randrange(1, len(content) // 16384) * 16384
    for _ in range(64):
        content[page + places.randrange(64)] = places.randrange(256)
    file.write_bytes(content)
    with Store(file) as store:
        sound = store.read(records)
        assert all(records[key] == record for key, record in sound.items())
        store.write({key: record for key, record in records.items() if key not in sound})
        assert store.read(records).items() <= records.items()
        store.write(records)
        assert store.read(records) == records


@pytest.mark.parametrize("table", ["records(a)", "records(key, sum, body, more)", "other(a)"])
def test_another_kind_of_table_is_put_aside(tmp_path, table):
    file = tmp_path / "s.sqlite"
    raw = sqlite3.connect(file)
    raw.execute(f"CREATE TABLE {table}")
    raw.commit()
    raw.close()
    with Store(file) as store:
        store.write({"a": {"x": 1}})
        assert store.read(["a"]) == {"a": {"x": 1}}


def test_a_body_that_is_no_bytes_is_damaged(tmp_path):
    with Store(tmp_path / "s.sqlite") as store:
        store.write({"a": {"x": 1}})
        store._connection.execute("UPDATE records SET body = 'text'")
        assert store.read(["a"]) == {} and store.damaged == 1


def test_processes_that_open_and_write_at_the_same_moment(tmp_path):
    script = textwrap.dedent(
        """
        import sys, time
        from pathlib import Path
        from kit.study.store import Store
        Path(sys.argv[1]).with_name(sys.argv[2]).touch()
        while not Path(sys.argv[1]).with_name("go").exists():
            pass
        with Store(Path(sys.argv[1])) as store:
            for i in range(100):
                store.write({f"{sys.argv[2]}-{i}": {"i": i}})
        """
    )
    for attempt in map(str, range(3)):
        folder = tmp_path / attempt
        folder.mkdir()
        file = folder / "s.sqlite"
        arguments = [[sys.executable, "-c", script, str(file), name] for name in "abcd"]
        writers = [subprocess.Popen(words) for words in arguments]
        while not all((folder / name).exists() for name in "abcd"):
            assert all(writer.poll() is None for writer in writers)
        (folder / "go").touch()
        assert [writer.wait(timeout=60) for writer in writers] == [0, 0, 0, 0]
        with Store(file) as store:
            assert len(store) == 400


def test_a_folder_that_cannot_be_written_is_a_clear_error(tmp_path):
    (tmp_path / "s.sqlite").mkdir()
    with pytest.raises(InputError, match="store of results cannot be used"):
        Store(tmp_path / "s.sqlite")


def test_equal_content_gives_equal_keys_and_different_content_does_not():
    assert content_key("a", 1.0) == content_key("a", 1.0)
    assert content_key("a", 1.0) != content_key("a", 1.5)
    assert content_key("ab", "c") != content_key("a", "bc")
    assert solver_version() == solver_version()
