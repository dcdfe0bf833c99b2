"""Cells run in this process give the outputs that a kernel gives, and leave nothing behind."""

import nbformat
import papermill
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from kit.study import engine


def executed(folder, *cells, **parameters):
    kernel = {"name": "python3", "language": "python", "display_name": "Python 3"}
    settings = new_code_cell("x = 1", metadata={"tags": ["parameters"]})
    document = new_notebook(cells=[settings, *cells], metadata={"kernelspec": kernel})
    source, target = folder / "source.ipynb", folder / "target.ipynb"
    nbformat.write(document, source)
    papermill.execute_notebook(source, target, parameters, engine_name=engine.NAME, progress_bar=False)
    return nbformat.read(target, as_version=4)


def outputs(document):
    return [cell.outputs for cell in document.cells if cell.cell_type == "code"]


def test_parameters_text_and_the_last_value_arrive_in_order(tmp_path):
    text = "import sys\nprint('one'); print('two'); print('aside', file=sys.stderr)\nx"
    *_, shown = outputs(executed(tmp_path, new_markdown_cell("# Words"), new_code_cell(text), x=5))
    assert [(o.output_type, o.get("name")) for o in shown] == [
        ("stream", "stdout"),
        ("stream", "stderr"),
        ("execute_result", None),
    ]
    assert shown[0].text == "one\ntwo\n" and shown[2].data["text/plain"] == "5"


def test_a_display_that_is_updated_keeps_its_place(tmp_path):
    text = (
        "from IPython.display import HTML, display\n"
        "handle = display(HTML('before'), display_id=True)\nprint('between')\nhandle.update(HTML('after'))"
    )
    *_, shown = outputs(executed(tmp_path, new_code_cell(text)))
    assert shown[0].data["text/html"] == "after" and shown[1].text == "between\n"


def test_nothing_of_one_notebook_is_left_for_the_next(tmp_path):
    executed(tmp_path, new_code_cell("left = 1"))
    *_, shown = outputs(executed(tmp_path, new_code_cell("'left' in globals()")))
    assert shown[0].data["text/plain"] == "False"


def test_an_error_stops_the_notebook_and_is_kept_in_it(tmp_path):
    with pytest.raises(papermill.PapermillExecutionError, match="division by zero"):
        executed(tmp_path, new_code_cell("1 / 0"), new_code_cell("print('not reached')"))
    *_, failed, after = outputs(nbformat.read(tmp_path / "target.ipynb", as_version=4))
    assert failed[0].ename == "ZeroDivisionError" and after == []


def test_a_step_that_may_fail_does_not_stop_the_rest(tmp_path):
    with pytest.raises(papermill.PapermillExecutionError):
        executed(
            tmp_path,
            new_code_cell("1 / 0", metadata={"tags": [engine.GOES_ON]}),
            new_code_cell("print('reached')"),
        )
    *_, after = outputs(nbformat.read(tmp_path / "target.ipynb", as_version=4))
    assert after[0].text == "reached\n"
