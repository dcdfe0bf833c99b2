"""Run a stored study again, in a folder of its own, and say what differs from what is stored."""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from kit.errors import InputError
from kit.study.differences import ABSENT, DIFFERS, Difference, compare
from kit.study.inputs import input_files, names_of
from kit.study.resolving import Study, load_study
from kit.study.results import KEPT, LEDGER, PLAN, Folder, as_written, file_hash

DONE, DOUBT = 0, 3
PARAMETERS, CRATE, PACKAGES = "parameters.yml", "ro-crate-metadata.json", "environment.txt"
EXAMPLES = 3


@dataclass(frozen=True)
class Repeated:
    """What running a study again showed.

    Attributes
    ----------
    differences : list of Difference
        One for each table.
    inputs, packages : tuple of str
        Input files and package versions that are not as they were.
    """

    differences: list[Difference]
    inputs: tuple[str, ...]
    packages: tuple[str, ...]

    @property
    def status(self) -> int:
        """0 if every table is identical or within the tolerance, 3 otherwise."""
        return DOUBT if any(one.verdict in (DIFFERS, ABSENT) for one in self.differences) else DONE


def repeat(results: Path, workers: int | None = None) -> Repeated:
    """Run a stored study again and compare, table by table; the stored results stay as they are.

    Parameters
    ----------
    results : Path
        Results folder of one study, with its ``parameters.yml``.
    workers : int, optional
        Processes at once.

    Raises
    ------
    InputError
        If the folder holds no results of a study, or its inputs cannot be read any more.
    """
    from kit.study.run import run_study

    study = stored_study(results)
    with tempfile.TemporaryDirectory(prefix="section-study-") as scratch:
        again = Folder(study.results_folder(Path(scratch)))
        _take_predictions(results, again.path)
        run_study(study, results=Path(scratch), workers=workers)
        return Repeated(
            compare(results, again.path), changed_inputs(results, study), _packages(results, again.path)
        )


def stored_study(results: Path) -> Study:
    """The study of a results folder, as it was resolved.

    Raises
    ------
    InputError
        If there is no such folder, or it holds no results.
    """
    missing = [
        name
        for name in (PARAMETERS, "sections.csv", "members.csv")
        if not as_written(results / name).is_file()
    ]
    if missing:
        raise InputError(
            f"there are no results of a study here: {missing[0]} is missing",
            str(results),
            "name the folder of one study, such as results/NAME, after a run that went to its end",
        )
    return load_study(results / PARAMETERS)


def _take_predictions(results: Path, again: Path) -> None:
    """Predictions are made once, before the tests: a repeated study judges the same ones."""
    if (results / PLAN).is_dir():
        shutil.copytree(results / PLAN, again / PLAN)
        ledger = results / KEPT / f"{LEDGER}.json"
        if ledger.exists():
            (again / KEPT).mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ledger, again / KEPT / ledger.name)


def changed_inputs(results: Path, study: Study) -> tuple[str, ...]:
    """Input files whose content is not what the stored study read, by the SHA-256 it kept."""
    try:
        graph = json.loads((results / CRATE).read_text(encoding="utf-8"))["@graph"]
    except (OSError, ValueError, KeyError):
        return ("what was read then is not known: there is no readable ro-crate-metadata.json",)
    then = {
        str(one.get("name")): one.get("sha256")
        for one in graph
        if str(one.get("@id", "")).startswith("#input-")
    }
    return tuple(
        f"{name} {'is new' if name not in then else 'has changed'}"
        for name, path in names_of(input_files(study)).items()
        if then.get(name) != file_hash(path)
    )


def _packages(before: Path, after: Path) -> tuple[str, ...]:
    """Package versions that differ."""
    files = [folder / PACKAGES for folder in (before, after)]
    if not all(file.exists() for file in files):
        return ("the versions of then are not known: there is no environment.txt",)
    old, new = (set(file.read_text(encoding="utf-8").splitlines()) for file in files)
    return tuple(
        [f"then {line}" for line in sorted(old - new)] + [f"now {line}" for line in sorted(new - old)]
    )


def told(found: Repeated) -> str:
    """The findings on one screen."""
    lines = [f"{one.table}.csv: {_about(one)}" for one in found.differences]
    lines += [f"input: {one}" for one in found.inputs] or ["inputs: as they were"]
    lines += [f"package: {one}" for one in found.packages[:10]] or ["packages: as they were"]
    agree = (
        "the stored results are repeated" if found.status == DONE else "the stored results are not repeated"
    )
    return "\n".join([*lines, agree])


def _about(one: Difference) -> str:
    """One table's verdict and the first things that differ."""
    words = [one.verdict]
    if one.greatest and one.verdict != ABSENT:
        words.append(f"greatest relative difference {one.greatest:.1e}")
    for name, items in (("new", one.added), ("gone", one.removed), ("columns", one.columns)):
        if items:
            words.append(f"{len(items)} {name}: {'; '.join(items[:EXAMPLES])}")
    if len(one.changed):
        first = one.changed.head(EXAMPLES).itertuples()
        shown = "; ".join(f"{row.row}, {row.column}: {row.before} → {row.after}" for row in first)
        words.append(f"{len(one.changed)} values: {shown}")
    return ", ".join(words)
