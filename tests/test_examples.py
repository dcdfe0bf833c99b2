"""Every worked example runs from its first cell to its last, and is written as the examples are."""

import nbformat
import pytest

from kit.places import carried
from kit.study.notebooks import NotebookTask, declared_parameters, execute

EXAMPLES = sorted(carried("notebooks/study").parent.glob("examples/*.ipynb"))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_example_is_prose_and_calls(example):
    book = nbformat.read(example, 4)
    code = [cell for cell in book.cells if cell.cell_type == "code"]
    assert not any(cell.outputs or cell.execution_count for cell in code)
    assert not any(line.startswith("def ") for cell in code for line in cell.source.splitlines())
    assert len(book.cells) <= 30
    assert all(len(cell.source.splitlines()) <= 15 for cell in code)
    assert declared_parameters(example)


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_example_runs(example, tmp_path):
    assert execute(NotebookTask(example, tmp_path / example.name, ())) == {"error": ""}
