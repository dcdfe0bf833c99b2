"""A notebook runs with its own parameters, or is refused with what to do."""

import json
from pathlib import Path

import nbformat
import pytest

from kit.errors import InputError
from kit.study.notebooks import NotebookTask, check, declared_parameters, execute


def notebook(file, *cells, tagged=(0,)):
    book = nbformat.v4.new_notebook()
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    for number, source in enumerate(cells):
        cell = nbformat.v4.new_code_cell(source)
        if number in tagged:
            cell.metadata["tags"] = ["parameters"]
        book.cells.append(cell)
    nbformat.write(book, file)
    return file


def task(source, target, **parameters):
    return NotebookTask(source, target, tuple(parameters.items()))


def test_parameters_are_read_from_the_tagged_cell(tmp_path):
    file = notebook(tmp_path / "a.ipynb", "span = 600\nname = 'x'", "other = 1")
    assert declared_parameters(file) == {"span", "name"}


@pytest.mark.parametrize("tagged", [(), (0, 1)])
def test_a_notebook_without_exactly_one_parameters_cell_is_refused(tmp_path, tagged):
    file = notebook(tmp_path / "a.ipynb", "span = 600", "other = 1", tagged=tagged)
    with pytest.raises(InputError, match="cells tagged 'parameters'"):
        declared_parameters(file)


def test_an_unknown_parameter_is_refused(tmp_path):
    file = notebook(tmp_path / "a.ipynb", "span = 600")
    with pytest.raises(InputError, match="does not assign depth"):
        check(task(file, tmp_path / "b.ipynb", span=1, depth=2))


def test_a_missing_or_broken_notebook_is_refused(tmp_path):
    with pytest.raises(InputError, match="missing"):
        declared_parameters(tmp_path / "none.ipynb")
    (tmp_path / "broken.ipynb").write_text("{ not json")
    with pytest.raises(InputError, match="not a notebook"):
        declared_parameters(tmp_path / "broken.ipynb")


def test_equal_runs_leave_equal_notebooks(tmp_path):
    source = notebook(tmp_path / "a.ipynb", "span = 600", "print(span)")
    for name in ("one", "two"):
        assert execute(task(source, tmp_path / f"{name}.ipynb", span=900)) == {"error": ""}
    first, second = ((tmp_path / f"{name}.ipynb").read_bytes() for name in ("one", "two"))
    assert first == second
    printed = [cell["outputs"] for cell in json.loads(first)["cells"] if cell["outputs"]]
    assert printed[0][0]["text"] == ["900\n"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no file here that is always full")
def test_a_notebook_that_meets_a_full_disk_says_so(tmp_path):
    cell = "with open('/dev/full', 'w') as full: full.write('x' * 10_000)"
    answer = execute(task(notebook(tmp_path / "a.ipynb", "span = 600", cell), tmp_path / "b.ipynb", span=1))
    assert answer["ename"] == "InputError" and "the disk is full" in answer["error"]
    assert str(tmp_path) in answer["error"]


def test_a_notebook_that_fails_leaves_the_earlier_result_and_says_why(tmp_path):
    target = tmp_path / "b.ipynb"
    target.write_text("earlier")
    answer = execute(task(notebook(tmp_path / "a.ipynb", "span = 600", "1 / 0"), target, span=1))
    assert "ZeroDivisionError" in answer["error"]
    assert target.read_text() == "earlier"
