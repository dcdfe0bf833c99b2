"""Every worked example and solution runs from its first cell to its last, and is written as examples are."""

import ast
import re
from itertools import pairwise

import nbformat
import pytest

from kit.places import carried
from kit.study.notebooks import declared_parameters
from kit.teaching import hand
from kit.teaching.exercises import examples
from kit.teaching.hand import hand_check
from tests.teaching.in_process import run, said

FOLDER = carried("notebooks/study").parent / "examples"
EXAMPLES = sorted(FOLDER.glob("[0-9]*.ipynb"))
SOLUTIONS = sorted(FOLDER.glob("solutions/*.ipynb"))
BENCH = sorted(set(FOLDER.glob("*.ipynb")) - set(EXAMPLES))
ALL = [*EXAMPLES, *SOLUTIONS, *BENCH]
STUDENTS = ("your name", "Mika", "Ñandú 7")
HAND = "**By hand**"
REFUSED = "Not yet"


def name_of(path):
    return f"{path.parent.name}/{path.stem}" if path in SOLUTIONS else path.stem


def code_of(book):
    return [cell for cell in book.cells if cell.cell_type == "code"]


@pytest.mark.parametrize("example", ALL, ids=name_of)
def test_it_is_prose_and_short_calls_without_outputs(example):
    book = nbformat.read(example, 4)
    code = code_of(book)
    assert not any(cell.outputs or cell.execution_count for cell in code)
    assert not any(re.match(r"\s*(def|class) ", line) for cell in code for line in cell.source.splitlines())
    assert len(book.cells) <= 30
    assert all(len(cell.source.splitlines()) <= 15 for cell in code)
    assert declared_parameters(example)


@pytest.mark.parametrize("example", EXAMPLES, ids=name_of)
def test_its_parts_are_there_in_order(example):
    book = nbformat.read(example, 4)
    text = "\n".join(cell.source for cell in book.cells)
    parts = ("will learn", "## Settings", "hand_check", "## Exercises", "## Further reading", "%reset")
    places = [text.find(part) for part in parts]
    assert -1 not in places and places == sorted(places)
    assert re.search(r"\*(Core|Further) ·", book.cells[0].source)
    assert ("picture(" in text or "Svg(" in text) and "answer_2 = None" in text


@pytest.mark.parametrize("example", EXAMPLES, ids=name_of)
def test_words_stand_before_every_result(example):
    cells = nbformat.read(example, 4).cells
    exercises = next(n for n, cell in enumerate(cells) if cell.source.startswith("## Exercises"))
    kinds = [cell.cell_type for cell in cells[:exercises]]
    assert ("code", "code") not in list(pairwise(kinds))


def test_every_example_has_solutions_and_exercises_of_its_own():
    assert [path.name for path in SOLUTIONS] == [path.name for path in EXAMPLES]
    texts = [path.read_text(encoding="utf-8") for path in EXAMPLES]
    used = sorted(re.search(r'exercises\(\\"([a-z-]+)\\"', text)[1] for text in texts)
    assert used == examples()
    assert [path.name[:2] for path in EXAMPLES] == [f"{number:02}" for number in range(len(EXAMPLES))]


@pytest.mark.parametrize("example", EXAMPLES, ids=name_of)
def test_example_runs_and_its_hand_checks_agree(example, monkeypatch):
    made = []
    monkeypatch.setattr(
        hand, "hand_check", lambda *given, **more: made.append(hand_check(*given, **more)) or made[-1]
    )
    shown = run(example)
    sharp = [one for one in made if one.within < 0.02 - 2 * abs(one.difference)]
    assert sharp, "none of them would see an error of 2 %"
    asked = sum(cell.source.count("hand_check(") for cell in code_of(nbformat.read(example, 4)))
    assert said(shown).count(HAND) == asked > 0
    assert any("image/svg+xml" in one for one in shown)
    assert said(shown).count("No answer yet") >= 2 and "Traceback" not in said(shown)


@pytest.mark.parametrize("solution", SOLUTIONS, ids=name_of)
@pytest.mark.parametrize("student", STUDENTS)
def test_solution_is_right_for_several_students(solution, student):
    text = said(run(solution, student=student))
    assert text.count("**Right**") == text.count("**Exercise.**") >= 2 and REFUSED not in text


@pytest.mark.parametrize("bench", BENCH, ids=name_of)
def test_bench_shows_its_controls(bench):
    assert any("application/vnd.jupyter.widget-view+json" in one for one in run(bench))


def settings_of(example):
    """The lines of the settings of an example that can be changed: name, value as written, remark."""
    settings = next(c for c in nbformat.read(example, 4).cells if "parameters" in c.metadata.get("tags", ()))
    lines = (re.fullmatch(r"(\w+) = ([^#]+?)(?:  # (.*))?", line) for line in settings.source.splitlines())
    return [(line[1], ast.literal_eval(line[2]), line[3] or "") for line in lines]


def stated(example):
    """What the remarks in the settings say one may choose, ``low to high`` or ``or this, that``: (name, value)."""
    found = []
    for name, value, remark in settings_of(example):
        ends = re.match(r"([\d.]+) to ([\d.]+)", remark)
        found += [(name, type(value)(float(end))) for end in (ends.groups() if ends else ())]
        others = re.fullmatch(r"or (.+)", remark)
        found += [(name, other) for other in (others[1].split(", ") if others else ())]
    return found


@pytest.mark.parametrize("example", EXAMPLES, ids=name_of)
def test_every_number_of_the_settings_says_in_which_range_it_may_lie(example):
    numbers = {
        n for n, v, _ in settings_of(example) if isinstance(v, int | float) and not isinstance(v, bool)
    }
    assert numbers <= {name for name, _ in stated(example)}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("example", "name", "value"),
    [(example, *one) for example in EXAMPLES for one in stated(example)],
    ids=lambda one: one.stem[:2] if hasattr(one, "stem") else str(one),
)
def test_what_the_settings_say_one_may_choose_runs(example, name, value):
    run(example, **{name: value})


@pytest.mark.parametrize("character", "ZEO")
def test_any_letter_may_stand_beside_the_z(character):
    run(next(path for path in EXAMPLES if "unsymmetric" in path.stem), character=character)


@pytest.mark.slow
def test_the_study_of_ones_own_is_written_up(tmp_path):
    (study,) = (path for path in EXAMPLES if "study" in path.stem)
    run(study, write_up=True, results=str(tmp_path))
    assert (tmp_path / "class" / "report.html").stat().st_size > 100_000
