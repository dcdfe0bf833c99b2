"""A watched process: its start, its limits and the pipe to it."""

import io

import pytest

from kit.errors import InputError
from kit.isolation import Child, Ended, Silent, receive, send

WORKER = ("kit.study.worker", None, "tests.study.hostile_tasks:act")

# Loaded by the child alone: its first start ends, so long as the file it finds is there.
DIES_ONCE = """
import os, pathlib, sys
if "kit.study.worker" in " ".join(sys.orig_argv):
    mark = pathlib.Path({mark!r})
    if mark.exists():
        {then}
        os._exit(7)
"""


def faulty_start(folder, monkeypatch, then):
    mark = folder / "mark"
    mark.touch()
    (folder / "sitecustomize.py").write_text(DIES_ONCE.format(mark=str(mark), then=then), encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(folder))


def test_messages_come_back_in_order():
    child = Child(*WORKER)
    try:
        for value in (2.0, 3.0):
            child.send(("square", value))
        assert [child.receive(20.0) for _ in range(2)] == [("done", 4.0), ("done", 9.0)]
    finally:
        child.stop()


def test_a_crash_and_a_hang_are_told_apart():
    child = Child(*WORKER)
    child.send(("hang", 0.0))
    with pytest.raises(Silent):
        child.receive(0.2)
    child.stop()
    with pytest.raises(Ended):
        child.send(("square", 1.0))
    child = Child(*WORKER)
    child.send(("crash", 0.0))
    with pytest.raises(Ended) as ended:
        child.receive(20.0)
    assert ended.value.code == 11
    child.stop()


def test_a_process_that_ends_while_it_starts_is_started_once_more(tmp_path, monkeypatch):
    faulty_start(tmp_path, monkeypatch, then="mark.unlink()")
    child = Child(*WORKER)
    child.send(("square", 5.0))
    assert child.receive(20.0) == ("done", 25.0)
    child.stop()


def test_a_process_that_never_starts_is_told_with_what_to_do(tmp_path, monkeypatch):
    faulty_start(tmp_path, monkeypatch, then="pass")
    with pytest.raises(InputError, match=r"2 times.*exit code 7") as caught:
        Child(*WORKER)
    assert "fewer --workers" in caught.value.todo


def test_a_message_cut_short_is_the_end_of_the_other_side():
    whole = io.BytesIO()
    send(whole, {"a": 1})
    assert receive(io.BytesIO(whole.getvalue())) == {"a": 1}
    for size in range(len(whole.getvalue())):
        with pytest.raises(EOFError):
            receive(io.BytesIO(whole.getvalue()[:size]))


def test_modules_in_the_working_folder_are_not_run(tmp_path, monkeypatch):
    (tmp_path / "struct.py").write_text("raise SystemExit(9)", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    Child(*WORKER).stop()
