"""Reading a parameter file: text stays text, lines are known, nothing hostile gets through."""

import itertools
from pathlib import Path

import pytest

from kit.errors import InputError
from kit.study.yaml_reader import LARGEST_FILE, dotted, parse_yaml, read_yaml


def refusal(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        parse_yaml(text, Path("study.yml"))
    return caught.value


@pytest.mark.parametrize(
    "written",
    ["12:30", "no", "yes", "on", "1_000", "010", "0x1F", "1e3", "2020-01-01", ".inf", "=", "True", "'null'"],
)
def test_a_value_stays_the_text_that_was_written(written):
    assert parse_yaml(f"a: {written}").values == {"a": written.strip("'")}


@pytest.mark.parametrize("written", ["", "~", "null"])
def test_nothing_is_nothing(written):
    assert parse_yaml(f"a: {written}").values == {"a": None}


def test_keys_stay_text_too():
    assert parse_yaml("no: 1\n12: 2\n1.50: 3").values == {"no": "1", "12": "2", "1.50": "3"}


def test_every_key_knows_its_line():
    document = parse_yaml("a: 1\nb:\n  - c: 2\n  - c: 3\n    d: [4,\n        5]\n", Path("s.yml"))
    assert document.place(("b", 1, "c")) == "s.yml, line 4, b[1].c"
    assert document.place(("b", 1, "d", 1)) == "s.yml, line 6, b[1].d[1]"
    assert document.place(("b", 1, "missing")) == "s.yml, line 4, b[1].missing"


def test_a_key_path_is_written_with_dots_and_brackets():
    assert dotted(("outlines", 0, "dimensions", "depth")) == "outlines[0].dimensions.depth"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a: 1\nb: 2\na: 3", "study.yml, line 3, a"),
        ("a:\n  b:\n    c: 1\n    c: 2", "study.yml, line 4, a.b.c"),
        ("a: [1, {x: 1, x: 2}]", "study.yml, line 1, a[1].x"),
    ],
)
def test_a_repeated_key_is_refused_with_its_path_and_both_lines(text, place):
    error = refusal(text)
    assert error.where == place
    assert "given twice, first in line" in error.what


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("a: !!python/object/apply:os.system [true]", "tag"),
        ("a: !local 3", "tag"),
        ("a: !!float 3", "tag"),
        ("a: &x [*x]", "contains itself"),
        ("a: *nowhere", "points to nothing"),
        ("a: 1\n---\na: 2", "second document"),
        ("? [1, 2]\n: 3", "used as a key"),
        ("base: &b {x: 1}\nother:\n  <<: *b", "merge keys"),
        (": 3", "a key is missing"),
        ("a: [1", "not YAML"),
        ("a:\n\tb: 1", "not YAML"),
        ("a: b: c", "not YAML"),
        ("a: \x07", "not YAML"),
        ("- a\n- b", "no keys"),
        ("just text", "no keys"),
        ("", "nothing"),
        ("# only a comment", "nothing"),
        ("[" * 5000, "levels deep"),
        ("{a: " * 5000, "levels deep"),
    ],
)
def test_what_a_parameter_file_never_needs_is_refused(text, what):
    error = refusal(text)
    assert what in error.what
    assert error.todo and "study.yml" in error.where


def test_an_alias_is_written_out():
    assert parse_yaml("a: &x {n: 1}\nb: [*x, *x]").values == {"a": {"n": "1"}, "b": [{"n": "1"}, {"n": "1"}]}


def test_aliases_that_multiply_are_stopped_before_they_fill_the_memory():
    names = "abcdefghij"
    rows = ["a: &a [1, 1, 1, 1, 1, 1, 1, 1, 1, 1]"]
    rows += [f"{n}: &{n} [{', '.join(['*' + m] * 10)}]" for m, n in itertools.pairwise(names)]
    assert "values once aliases are written out" in refusal("\n".join(rows)).what


@pytest.mark.parametrize(
    ("content", "what"),
    [(b"a: \xff\xfe", "not UTF-8"), (b"a: " + b"x" * LARGEST_FILE, "larger than 1 MB")],
)
def test_a_file_that_is_no_parameter_file_is_refused(tmp_path, content, what):
    file = tmp_path / "s.yml"
    file.write_bytes(content)
    with pytest.raises(InputError, match=what):
        read_yaml(file)


def test_a_missing_file_and_a_folder_are_refused_by_name(tmp_path):
    for path, what in ((tmp_path / "none.yml", "missing"), (tmp_path, "a folder")):
        with pytest.raises(InputError, match=what) as caught:
            read_yaml(path)
        assert caught.value.where == str(path)


def test_a_byte_order_mark_does_not_hide_the_first_key(tmp_path):
    file = tmp_path / "s.yml"
    file.write_bytes(b"\xef\xbb\xbfstudy: a\n")
    assert read_yaml(file).values == {"study": "a"}
