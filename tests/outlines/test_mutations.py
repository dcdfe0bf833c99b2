"""Broken files of every kind: each is accounted for, none crashes or hangs the reader or the preparation."""

import random
import time
from collections import Counter
from pathlib import Path

import ezdxf
import matplotlib
import pytest
from fontTools.ttLib import TTFont
from typefaces import collection, font

from kit.errors import Unusable
from kit.outlines import DxfFiles, FontFiles, Making, PointFiles, SvgFiles, prepare
from kit.outlines.isolation import read_isolated
from kit.outlines.outline import Outline

pytestmark = pytest.mark.filterwarnings("error")  # a number that is none must not travel on unseen

SECONDS = 10.0
FIT = Making(fit=("envelope", (100.0, 100.0)), cutter_radius_mm=1.0)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90"><defs>'
    '<circle id="c" r="9"/></defs><g transform="translate(20 20) rotate(10)"><path fill-rule="evenodd" '
    'd="M0 0h40v40h-40zM10 10C20 10 20 20 30 20A5 5 0 0 1 10 30z"/></g><use href="#c" x="60" y="40"/>'
    '<rect x="20" y="35" width="45" height="10" rx="2"/></svg>'
)


@pytest.fixture(autouse=True)
def no_clock(monkeypatch):
    """The same seed breaks the same bytes on any day: no dates and no random names in the files."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    monkeypatch.setattr(ezdxf.options, "write_fixed_meta_data_for_testing", True)


def whole_files(folder: Path) -> list[tuple[bytes, str, object]]:
    """Sound files to break: content, suffix and how they are read."""
    plain = font(folder / "plain.ttf")
    letters = FontFiles((), ("H", "O", "Ħ"))
    face = TTFont(plain)
    face.flavor = "woff2"
    face.save(folder / "w.woff2")
    drawing = ezdxf.new(units=4)
    drawing.modelspace().add_lwpolyline(
        [(0, 0, 0), (40, 0, 1), (40, 20, 0), (0, 20, 0)], format="xyb", close=True
    )
    drawing.modelspace().add_circle((20, 10), 4)
    corners = [(4, 0), (4, 4), (0, 4), (-4, 4), (-4, 0), (-4, -4), (0, -4), (4, -4), (4, 0)]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    drawing.modelspace().add_rational_spline(
        [(x + 8, y + 10, 0) for x, y in corners], [1, 0.7] * 4 + [1], degree=2, knots=knots
    )
    drawing.saveas(folder / "d.dxf")
    collection(folder / "c.ttc", plain, plain)
    points = "ring,x,y\n" + "".join(f"a,{x},{y}\n" for x, y in [(0, 0), (9, 0), (9, 5), (3, 7), (0, 9)])
    shipped = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "cmr10.ttf"
    return [
        (plain.read_bytes(), ".ttf", letters),
        (font(folder / "c.otf", cff=True).read_bytes(), ".otf", FontFiles((), ("H", "O"))),
        (font(folder / "v.ttf", axes=True).read_bytes(), ".ttf", FontFiles((), ("I",), (("wght", (650,)),))),
        ((folder / "w.woff2").read_bytes(), ".woff2", letters),
        (shipped.read_bytes(), ".ttf", FontFiles((), ("A", "g"))),
        ((folder / "c.ttc").read_bytes(), ".ttc", letters),
        (SVG.encode(), ".svg", SvgFiles((), strokes="outline")),
        ((folder / "d.dxf").read_bytes(), ".dxf", DxfFiles(())),
        (points.encode(), ".csv", PointFiles(())),
    ]


def broken(data: bytes, rng: random.Random) -> bytes:
    """The file cut short, or with bits, bytes or blocks changed."""
    data, kind = bytearray(data), rng.choice((0, 1, 1, 1, 2, 3, 3, 4, 4, 5))
    place = rng.randrange(len(data))
    if kind == 0:
        return bytes(data[:place])
    if kind == 1:
        for _ in range(rng.randint(1, 8)):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    elif kind == 2:
        data[place : place + rng.randint(1, 64)] = rng.randbytes(rng.randint(0, 64))
    elif kind == 3:
        data[place : place + 4] = rng.choice(
            [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"1e99", b"NaN "]
        )
    elif kind == 4:
        there = rng.randrange(len(data))
        data[place : place + 32] = data[there : there + 32]
    else:
        data[: rng.randint(1, 300)] = b""
    return bytes(data)


def mutation_run(folder: Path, count: int, seed: int) -> Counter:
    """Read and prepare so many broken files; what became of them, by kind."""
    rng = random.Random(seed)
    sources = whole_files(folder)
    tasks = []
    for i in range(count):
        data, suffix, spec = sources[i % len(sources)]
        path = folder / f"broken{i}{suffix}"
        path.write_bytes(broken(data, rng))
        tasks.append((path, spec))
    totals = Counter(files=count)
    for (path, _), items in zip(tasks, read_isolated(tasks, seconds=SECONDS), strict=True):
        assert items, f"{path.name} was lost without a word"
        totals["files with an outline"] += any(isinstance(item, Outline) for item in items)
        for item in items:
            totals[became(item)] += 1
    return totals


def became(item) -> str:
    """What became of one item: a sound section, or why not."""
    if not isinstance(item, Outline):
        assert item.reason and item.source
        return "stopped from outside" if "hostile" in item.reason else "left out in reading"
    start = time.monotonic()
    try:
        made = prepare(item, FIT)
    except Unusable as reason:
        assert str(reason)
        return "left out in preparing"
    finally:
        assert time.monotonic() - start < 6 * SECONDS
    assert made.polygon.is_valid and made.polygon.area > 0
    return "sound sections"


def test_a_few_broken_files(tmp_path):
    totals = mutation_run(tmp_path, 64, seed=5)
    assert totals["sound sections"] > 0 and totals["left out in reading"] > 0


@pytest.mark.slow
def test_two_thousand_broken_files(tmp_path, capsys):
    totals = mutation_run(tmp_path, 2000, seed=1)
    with capsys.disabled():
        print("\nbroken files:", dict(totals))
    assert totals["files"] == 2000


def test_the_files_to_break_are_the_same_every_time(tmp_path):
    first, again = tmp_path / "first", tmp_path / "again"
    first.mkdir(), again.mkdir()
    for one, other in zip(whole_files(first), whole_files(again), strict=True):
        assert one[0] == other[0], one[1]


def test_sound_files_are_sound(tmp_path):
    for i, (data, suffix, spec) in enumerate(whole_files(tmp_path)):
        path = tmp_path / f"whole{i}{suffix}"
        path.write_bytes(data)
        (items,) = read_isolated([(path, spec)])
        assert [became(item) for item in items] == ["sound sections"] * len(items), (path.name, items)
