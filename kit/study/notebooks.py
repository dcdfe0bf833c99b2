"""Study notebooks run by papermill: checked before, executed by `kit.study.engine`, cleaned after."""

from __future__ import annotations

import ast
import sys
from dataclasses import dataclass
from pathlib import Path

from kit.errors import InputError
from kit.study import disk

# jsonschema's optional rfc3987_syntax costs about a second at every start and is not needed for notebooks.
sys.modules.setdefault("rfc3987_syntax", None)


@dataclass(frozen=True)
class NotebookTask:
    """One notebook to run: from where, to where, with which parameters."""

    source: Path
    target: Path
    parameters: tuple[tuple[str, object], ...]


def declared_parameters(notebook: Path) -> set[str]:
    """Names assigned in the one cell tagged ``parameters``.

    Raises
    ------
    InputError
        If the notebook is missing or unreadable, or has no such cell or more than one: papermill would
        only log it and run with the defaults.
    """
    import nbformat

    try:
        cells = nbformat.read(notebook, as_version=4).cells
    except FileNotFoundError:
        raise InputError(
            "the notebook is missing", str(notebook), "put it back, or install the kit again"
        ) from None
    except Exception as error:
        raise InputError(f"not a notebook that can be read: {error}", str(notebook), "put it back") from error
    tagged = [cell for cell in cells if "parameters" in cell.metadata.get("tags", [])]
    if len(tagged) != 1:
        raise InputError(
            f"it has {len(tagged)} cells tagged 'parameters'",
            str(notebook),
            "tag exactly one code cell 'parameters' (in JupyterLab: property inspector, cell tags)",
        )
    assigned = [node for node in ast.walk(ast.parse(tagged[0].source)) if isinstance(node, ast.Assign)]
    return {target.id for node in assigned for target in node.targets if isinstance(target, ast.Name)}


def check(task: NotebookTask) -> None:
    """Refuse a notebook that does not know a parameter it would be given."""
    unknown = sorted({name for name, _ in task.parameters} - declared_parameters(task.source))
    if unknown:
        raise InputError(
            f"its parameters cell does not assign {', '.join(unknown)}",
            str(task.source),
            "assign every parameter a default there",
        )


def execute(task: NotebookTask) -> dict:
    """Run one notebook; only a notebook that ran to its end is left at the target.

    Returns
    -------
    dict
        ``{"error": ""}``, or the message of what went wrong and, in ``partial``, the notebook up to there.
    """
    import papermill
    from papermill.exceptions import PapermillExecutionError

    from kit.study import engine

    task.target.parent.mkdir(parents=True, exist_ok=True)
    part = task.target.with_suffix(".part.ipynb")
    try:
        papermill.execute_notebook(
            task.source,
            part,
            dict(task.parameters),
            engine_name=engine.NAME,
            kernel_name="python3",
            progress_bar=False,
            cwd=task.source.parent,
        )
    except PapermillExecutionError as error:
        if error.ename == "OSError" and disk.is_full(error.evalue):
            return _refused(disk.full(task.target.parent))
        _clean(part)
        if error.ename == "InputError" or not _went_on(part):
            return {"error": f"{error.ename}: {error.evalue}", "ename": error.ename, "partial": str(part)}
    except Exception as error:
        if disk.is_full(error):
            return _refused(disk.full(task.target.parent))
        return {"error": f"{type(error).__name__}: {error}", "partial": str(part) if part.exists() else ""}
    else:
        _clean(part)
    part.replace(task.target)
    return {"error": ""}


def _refused(error: InputError) -> dict:
    return {"error": str(error), "ename": InputError.__name__}


def _went_on(notebook: Path) -> bool:
    """Whether every step that failed is one the notebook goes on without (tagged ``raises-exception``).

    What papermill wrote into the notebook about the failure is taken out: the write-up says it in its own words.
    """
    import nbformat

    document = nbformat.read(notebook, as_version=4)
    document.cells = [
        cell for cell in document.cells if "papermill-error-cell-tag" not in cell.metadata.get("tags", [])
    ]
    failed = [
        cell
        for cell in document.cells
        if any(output.output_type == "error" for output in cell.get("outputs", []))
    ]
    if not all("raises-exception" in cell.metadata.get("tags", []) for cell in failed):
        return False
    nbformat.write(document, notebook)
    return True


def _clean(notebook: Path) -> None:
    """Take out times, paths and random ids, so that equal runs leave equal notebooks."""
    import nbformat

    document = nbformat.read(notebook, as_version=4)
    document.metadata.pop("papermill", None)
    for number, cell in enumerate(document.cells):
        cell["id"] = f"cell-{number}"
        for key in ("papermill", "execution"):
            cell.metadata.pop(key, None)
    nbformat.write(document, notebook)
