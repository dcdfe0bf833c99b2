"""Reading what a study names: every input is accounted for, nothing else is read."""

import csv
import os
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from drawn import outline, square
from hypothesis import given, settings
from hypothesis import strategies as st
from typefaces import collection, font

from kit.errors import InputError, Unusable
from kit.outlines import Choose, FontFiles, PointFiles, Shape, SvgFiles, excluded, read
from kit.outlines.choosing import draw
from kit.outlines.files import found_files
from kit.outlines.isolation import read_isolated
from kit.outlines.outline import LeftOut, Outline, clean, pack, unpack
from kit.outlines.points import rings
from kit.outlines.reading import distinct
from kit.outlines.worker import Progress, items_of

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
    '<rect width="{w}" height="9"/></svg>'
)


def drawing(path: Path, width: float = 9) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(SQUARE.format(w=width), encoding="utf-8")
    return path


def test_one_study_of_every_kind(tmp_path):
    font(tmp_path / "made.ttf")
    drawing(tmp_path / "drawings" / "a.svg")
    (tmp_path / "ring.csv").write_text("ring, x, y\no,0,0\no,9,0\no,9,9\no,0,9\nh,3,3\nh,6,3\nh,6,6\n")
    found, left_out = read(
        [
            FontFiles(("*.ttf",), ("H-I", "z")),
            SvgFiles(("drawings",)),
            PointFiles(("ring.csv",)),
            Shape("bar", "rectangle", (("depth", 2.0), ("width", 1.0))),
        ],
        tmp_path,
    )
    assert [o.name for o in found] == ["Made Here Regular/H", "Made Here Regular/I", "a", "ring", "bar"]
    assert [(x.source, x.outline) for x in left_out] == [("made.ttf", "Made Here Regular/z")]


@pytest.mark.parametrize(
    "name", ["missing.ttf", "*.nothing", "nowhere/**/*.ttf", "", "installed:no_such_pkg/a.ttf"]
)
def test_files_that_are_not_there_stop_the_study(name, tmp_path):
    with pytest.raises(InputError) as caught:
        read([FontFiles((name,))], tmp_path)
    assert name in str(caught.value)


def test_a_range_that_runs_backwards_stops_the_study(tmp_path):
    font(tmp_path / "made.ttf")
    with pytest.raises(InputError, match="Z-A"):
        read([FontFiles(("made.ttf",), ("Z-A",))], tmp_path)


def test_modules_in_the_working_folder_are_not_run(tmp_path, monkeypatch):
    (tmp_path / "numpy.py").write_text("raise SystemExit('a stranger was run')")
    drawing(tmp_path / "a.svg")
    monkeypatch.chdir(tmp_path)
    assert len(read([SvgFiles(("a.svg",))], tmp_path)[0]) == 1


def test_files_in_installed_packages():
    found, _ = read([FontFiles(("installed:matplotlib/cmr10.ttf",), ("A",))], Path())
    assert found[0].source == "cmr10.ttf"
    for outside in ("installed:matplotlib/../numpy/__init__.py", "installed:matplotlib/", "installed:os/x"):
        with pytest.raises(InputError):
            found_files((outside,), Path(), (".ttf",))


def test_globs_folders_and_repeats(tmp_path):
    for name in ("b/x.svg", "a/y.svg", "a/deep/z.SVG", "a/other.txt"):
        drawing(tmp_path / name)
    names = lambda *patterns: [p.name for p in found_files(patterns, tmp_path, (".svg",))[0]]  # noqa: E731
    assert names("**/*.svg") == ["y.svg", "x.svg"] or names("**/*.svg") == ["z.SVG", "y.svg", "x.svg"]
    assert names("a") == ["z.SVG", "y.svg"]
    assert names("a/y.svg", "a/*.svg") == ["y.svg"]
    assert names(str(tmp_path / "b" / "*.svg")) == ["x.svg"]


def test_a_name_with_brackets_is_a_name_where_there_is_such_a_file(tmp_path):
    for name in ("Sans[wdth,wght].svg", "w.svg", "a.svg"):
        (tmp_path / name).write_text("<svg/>")
    names = lambda pattern: [p.name for p in found_files((pattern,), tmp_path, (".svg",))[0]]  # noqa: E731
    assert names("Sans[wdth,wght].svg") == ["Sans[wdth,wght].svg"]
    assert names("[aw].svg") == ["a.svg", "w.svg"]


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of POSIX")
def test_folders_links_and_pipes_named_like_files(tmp_path):
    drawing(tmp_path / "elsewhere" / "secret.svg")
    here = tmp_path / "here"
    drawing(here / "good.svg")
    (here / "folder.svg").mkdir()
    (here / "link.svg").symlink_to(tmp_path / "elsewhere" / "secret.svg")
    (here / "tree").symlink_to(tmp_path / "elsewhere")
    os.mkfifo(here / "pipe.svg")
    found, left_out = read([SvgFiles(("here/**/*.svg",))], tmp_path)
    assert [o.name for o in found] == ["good"]
    assert {x.source for x in left_out} == {"folder.svg", "link.svg", "pipe.svg"}
    by_folder = read([SvgFiles(("here",))], tmp_path)
    assert {x.source for x in by_folder[1]} == {"folder.svg", "link.svg", "pipe.svg"}
    assert by_folder[0] == found
    # A link that is named itself was meant.
    assert read([SvgFiles(("here/link.svg",))], tmp_path)[0][0].name == "link"


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="a file nobody may read")
def test_files_without_permission(tmp_path):
    drawing(tmp_path / "a.svg").chmod(0)
    _, left_out = read([SvgFiles(("a.svg",))], tmp_path)
    assert "permission" in left_out[0].reason


def test_labels_and_exclusions(tmp_path):
    drawing(tmp_path / "a.svg", 5), drawing(tmp_path / "b.svg", 6)
    (tmp_path / "labels.csv").write_text("file,maker,age\na.svg,we,new\n")
    (tmp_path / "exclude.csv").write_text("outline,reason\nb,too plain\n")
    found, _ = read([SvgFiles(("*.svg",), labels="labels.csv")], tmp_path)
    assert found[0].labels == (("maker", "we"), ("age", "new")) and found[1].labels == ()
    kept, out = excluded(found, "exclude.csv", tmp_path)
    assert [o.name for o in kept] == ["a"] and out == [LeftOut("b.svg", "b", "too plain")]
    (tmp_path / "exclude.csv").write_text("outline,reason\nnobody,x\n")
    with pytest.raises(InputError, match="nobody"):
        excluded(found, "exclude.csv", tmp_path)
    (tmp_path / "labels.csv").write_text("wrong,maker\n1,2\n")
    with pytest.raises(InputError, match="file"):
        read([SvgFiles(("*.svg",), labels="labels.csv")], tmp_path)


def test_labels_of_files_of_one_name_go_by_the_more_exact_path(tmp_path):
    for i, folder in enumerate(("one", "two", "three")):
        (tmp_path / folder).mkdir()
        drawing(tmp_path / folder / "f.svg", 5 + i)
    table, spec = tmp_path / "labels.csv", SvgFiles(("*/f.svg",), labels="labels.csv")

    def labelled(*rows):
        table.write_text("\n".join(["file,age", *rows]))
        return [dict(o.labels).get("age") for o in read([spec], tmp_path)[0]]

    assert labelled("f.svg,old", "three/f.svg,newest", "two/f.svg,new") == ["old", "newest", "new"]
    assert labelled(f"{tmp_path}/one/f.svg,old") == ["old", None, None]
    for rows, word in [
        (("f.svg,old",), "name of 3 files"),
        (("f.svg,old", "two/f.svg,new"), "name of 2 files"),
        (("two/f.svg,new", "two/f.svg,old"), "more than one row"),
        (("two/g.svg,new",), "none of the files"),
        ((",new",), "none of the files"),
    ]:
        with pytest.raises(InputError, match=word):
            labelled(*rows)


def test_entries_may_share_a_table_of_labels(tmp_path):
    drawing(tmp_path / "a.svg", 5), drawing(tmp_path / "b.svg", 6)
    (tmp_path / "labels.csv").write_text("file,maker\nb.svg,they\na.svg,we\n")
    specs = [SvgFiles((name,), labels="labels.csv") for name in ("a.svg", "b.svg")]
    assert [o.labels for o in read(specs, tmp_path)[0]] == [(("maker", "we"),), (("maker", "they"),)]


def test_equal_names_are_told_apart_by_content_and_equal_outlines_are_one():
    one, other = outline(square(3)), outline(square(4))
    kept, left_out = distinct([one, other, one])
    assert len({o.name for o in kept}) == 2 and all(o.content[:8] in o.name for o in kept)
    assert len(left_out) == 1 and "already" in left_out[0].reason
    # The same names come out whatever the order, and however many there are.
    assert {o.name for o in distinct([other, one])[0]} == {o.name for o in kept}


def test_capitals_and_small_letters_are_different_names(tmp_path):
    font(tmp_path / "made.ttf")
    found, _ = read([FontFiles(("made.ttf",), ("I", "i"))], tmp_path)
    assert [o.name for o in found] == ["Made Here Regular/I", "Made Here Regular/i"]


def test_content_is_what_decides_and_names_take_no_part():
    import dataclasses

    one = outline(square(3))
    same = dataclasses.replace(one, name="other", content="")
    assert same.content == one.content
    for change in (
        {"fill_rule": "evenodd"},
        {"unit_mm": 2.0},
        {"cap_height": 5.0},
        {"embedding": "restricted"},
    ):
        assert dataclasses.replace(one, content="", **change).content != one.content


def test_outlines_travel_between_processes_unchanged():
    import pickle

    one = outline(square(3), square(1, 1, 1, -1))
    back = pickle.loads(pickle.dumps(one))
    assert back == one and len(back.contours) == 2
    assert all(
        (a == b).all()
        for x, y in zip(one.contours, back.contours, strict=True)
        for a, b in zip(x, y, strict=True)
    )
    assert unpack(*pack(())) == ()


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("a\nb", "a b"),
        ("a\x00\x1fb", "a b"),
        ("../../x", "..-..-x"),
        ("a\u202eb", "a b"),
        ("é", "é"),
        ("x" * 300, "x" * 119 + "…"),
    ],
)
def test_names_are_cleaned(raw, shown):
    assert clean(raw) == shown


def test_names_survive_a_csv_round_trip(tmp_path):
    import csv

    names = [clean(n) for n in ('a,"b"', "x\r\ny", "=1+1", "é\u0301", "\ufeffz")]
    with (tmp_path / "n.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([n] for n in names)
    with (tmp_path / "n.csv").open(newline="", encoding="utf-8") as file:
        assert [row[0] for row in csv.reader(file)] == names


def test_a_sampling_frame_draws_families_with_its_seed(tmp_path):
    for i in range(6):
        for style in ("Regular", "Bold"):
            font(tmp_path / f"f{i}{style}.ttf", names={"familyName": f"Face {i}", "styleName": style})
    (tmp_path / "broken.ttf").write_bytes(b"broken")
    spec = FontFiles(("*.ttf",), ("I",), choose=Choose(styles=("regular",), families=3, seed=7))
    found, left_out = read([spec], tmp_path)
    families = {o.family for o in found}
    assert len(found) == 3 == len(families) and {o.style for o in found} == {"Regular"}
    assert families == {o.family for o in read([spec], tmp_path)[0]}
    assert [x.source for x in left_out] == ["broken.ttf"]
    assert draw(list("abcdefgh"), 4, 1) != draw(list("abcdefgh"), 4, 2)
    assert draw(["a", "b"], 5, 1) == ["a", "b"]


def test_a_sampling_frame_holds_inside_a_collection(tmp_path):
    names = [("A", "Regular"), ("A", "Bold"), ("B", "Regular")]
    members = [
        font(tmp_path / f"{i}.otf", names={"familyName": family, "styleName": style})
        for i, (family, style) in enumerate(names)
    ]
    collection(tmp_path / "all.ttc", *members)

    def faces(**choose):
        found, left_out = read([FontFiles(("all.ttc",), ("I",), choose=Choose(**choose))], tmp_path)
        assert not left_out
        return [(o.family, o.style) for o in found]

    assert faces(styles=("Regular",)) == [("A", "Regular"), ("B", "Regular")]
    assert faces(styles=("bold",)) == [("A", "Bold")]
    drawn = {tuple(faces(families=1, seed=seed)) for seed in range(8)}
    assert drawn == {(("A", "Regular"), ("A", "Bold")), (("B", "Regular"),)}


def test_a_hang_and_a_crash_cost_one_item_each(tmp_path, monkeypatch):
    (tmp_path / "sitecustomize.py").write_text(FAULTY, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    for name in ("one.svg", "hang.svg", "two.svg", "crash.svg", "memory.svg", "three.svg"):
        drawing(tmp_path / name)
    tasks = [
        (tmp_path / n, SvgFiles(()))
        for n in ("one.svg", "hang.svg", "two.svg", "crash.svg", "memory.svg", "three.svg")
    ]
    start = time.monotonic()
    results = read_isolated(tasks, seconds=3.0)
    assert time.monotonic() - start < 30
    assert [len(items) for items in results] == [1] * 6
    kinds = [type(items[0]) for items in results]
    assert kinds == [Outline, LeftOut, Outline, LeftOut, LeftOut, Outline]
    assert "longer than 3 s" in results[1][0].reason and "crashed" in results[3][0].reason


# Loaded by the reading process alone, which starts a fresh interpreter.
FAULTY = """
import os, sys, time
if "kit.outlines.worker" in " ".join(sys.orig_argv):
    import kit.outlines.svg as svg
    real = svg.drawing
    def faulty(data, name, *rest):
        if name == "hang":
            time.sleep(60)
        if name == "crash":
            os._exit(11)
        if name == "memory":
            bytearray(10**11)
        return real(data, name, *rest)
    svg.drawing = faulty
"""


def test_a_reader_that_says_nothing_is_no_silent_loss(tmp_path):
    (tmp_path / "v.ttf").write_bytes(font(tmp_path / "whole.ttf").read_bytes())
    ((lost,),) = read_isolated([(tmp_path / "v.ttf", FontFiles((), ()))])
    assert isinstance(lost, LeftOut) and lost.source == "v.ttf" and lost.reason


def test_two_workers_give_the_same_as_one(tmp_path):
    for i in range(7):
        drawing(tmp_path / f"{i}.svg", 1 + i)
    (tmp_path / "3.svg").write_text("broken")
    one, two = (read([SvgFiles(("*.svg",))], tmp_path, workers=n) for n in (1, 2))
    assert one == two and len(one[0]) == 6 and len(one[1]) == 1


@pytest.mark.parametrize("encoding", ["utf-16", "latin-1"])
def test_a_points_file_in_another_encoding_says_so(tmp_path, encoding):
    (tmp_path / "p.csv").write_bytes("ring,x,y\né,0,0\né,9,0\né,9,9\n".encode(encoding))
    with pytest.raises(Unusable, match="UTF-8"):
        rings(tmp_path / "p.csv")


def test_points_files_that_are_wrong(tmp_path):
    for text, word in [
        ("ring,x\n1,2\n", "'y'"),
        ("ring,x,y\na,1,2\na,3,4\n", "three different points"),
        ("ring,x,y\na,1,2\na,3,4\na,1,2\na,3,4\n", "three different points"),
        ("ring,x,y,x\na,1,2,8\na,3,4,9\na,1,5,7\n", "several columns 'x'"),
        ("ring;x;y\na;1;2\na;3;4\na;1;5\n", "commas between them"),
        ("ring,x,y\na,1_0,2\na,3,4\na,1,5\n", "line 2: '1_0, 2' is no point"),
        ("ring,x,y\na,1,5,2\na,3,5,4\na,0,5,1\n", "line 2 has more fields"),
        ("ring,x,y\na,1,2\na,x,4\na,1,1\n", "line 3"),
        ("ring,x,y\na,1,2\na,inf,4\na,1,1\n", "finite"),
        ("", "'ring'"),
        ("ring,x,y\na,0,0\na,4,0\na,0,4\nb,1,1\nb,9,1\nb,1,9\n", "overlap"),
    ]:
        (tmp_path / "p.csv").write_text(text)
        _, left_out = read([PointFiles(("p.csv",))], tmp_path)
        assert word in left_out[0].reason, text


numbers = st.one_of(st.integers(-9, 9).map(str), st.floats().map(repr), st.text(max_size=4))
rows_of_points = st.lists(st.tuples(st.sampled_from(["a", "b", ""]), numbers, numbers), max_size=9)


@settings(max_examples=60, deadline=None)
@given(rows_of_points)
def test_any_table_of_points_is_one_outline_or_one_reason(tmp_path_factory, rows):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    with path.open("w", encoding="utf-8", newline="", errors="replace") as file:
        csv.writer(file).writerows([("ring", "x", "y"), *rows])
    (item,) = items_of(path, PointFiles(()), Progress(lambda *_: None))
    if isinstance(item, LeftOut):
        assert item.source == "any.csv" and item.reason
    else:
        assert all(np.isfinite(piece).all() for contour in item.contours for piece in contour)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=300))
def test_any_name_becomes_one_printable_line_without_path_or_markup_of_its_own(name):
    shown = clean(name)
    assert len(shown) <= 120 and shown == shown.strip() and clean(shown) == shown
    assert not set(shown) & set("/\\\n\r\t\0\u2028\u202e")
