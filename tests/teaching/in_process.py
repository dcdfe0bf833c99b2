"""Run the cells of a notebook here, one after another, and keep what each of them shows.

A kernel and what it imports take seconds to start; here they are started once for all notebooks. The names are the
notebook's own: what one leaves behind, another does not see.
"""

from __future__ import annotations

import ast
import contextlib
import io
from pathlib import Path

import nbformat
from IPython.core.formatters import DisplayFormatter

RESET = "%reset -f"


def run(notebook: Path, **settings) -> list[dict]:
    """What each code cell shows, by media type; text that was printed is in ``text/plain`` too.

    Parameters
    ----------
    notebook : Path
    **settings
        Take the place of what the cell tagged ``parameters`` assigns; it must know them.
    """
    names: dict = {"__name__": "notebook"}
    shown = []
    with contextlib.chdir(notebook.parent):
        for number, cell in enumerate(nbformat.read(notebook, 4).cells):
            if cell.cell_type != "code":
                continue
            if RESET in cell.source:
                names.clear()
                continue
            shown.append(_show(cell.source, names, f"{notebook.name}[{number}]"))
            if "parameters" in cell.metadata.get("tags", ()):
                assert set(settings) <= set(names)
                names |= settings
    return shown


def _show(source: str, names: dict, where: str) -> dict:
    """Run a cell; its last line is shown if it is an expression."""
    tree = ast.parse(source, where)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, where, "exec"), names)
        value = None if last is None else eval(compile(ast.Expression(last.value), where, "eval"), names)
    data = {} if value is None else dict(DisplayFormatter().format(value)[0])
    return data | {"text/plain": printed.getvalue() + data.get("text/plain", "")}


def said(shown: list[dict]) -> str:
    """What was shown as prose, or as text where it was not shown as prose."""
    return "\n".join(one.get("text/markdown", one["text/plain"]) for one in shown)
