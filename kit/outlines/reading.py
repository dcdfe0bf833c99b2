"""Outlines from everything a study names."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from kit.errors import InputError
from kit.outlines.choosing import chosen
from kit.outlines.files import found_files
from kit.outlines.isolation import read_isolated
from kit.outlines.letterforms import expand
from kit.outlines.outline import LeftOut, Outline, clean
from kit.outlines.readers import SUFFIXES
from kit.outlines.shapes import outline_of
from kit.outlines.specs import FontFiles, Shape, Spec
from kit.outlines.tables import Labelled, labels_of, refuse_unknown, table


def read(
    specs: Iterable[Spec], base: Path, *, seconds: float = 20.0, workers: int = 1
) -> tuple[list[Outline], list[LeftOut]]:
    """Read every outline of a study.

    Parameters
    ----------
    specs : iterable of FontFiles, SvgFiles, DxfFiles, PointFiles, Shape
    base : pathlib.Path
        Folder that relative paths start from (the parameter file's).
    seconds : float
        Time limit for one outline.
    workers : int
        Files read at a time, each in a process of its own.

    Returns
    -------
    outlines : list of Outline
        In the order of the study, names unique.
    left_out : list of LeftOut

    Raises
    ------
    InputError
        If a file is missing, a pattern finds nothing, a range of characters runs backwards, a row of labels
        names no file or several, or a shape's dimensions are wrong.
    """
    base = Path(base)
    tasks, found, left_out, unknown = [], [], [], []
    for number, spec in enumerate(specs):
        if isinstance(spec, Shape):
            with entry(number):
                found.append([outline_of(spec)])
            continue
        files, no_files, labels = named(spec, number, base)
        left_out.extend(no_files)
        unknown.append((spec.labels, number, labels.unknown))
        to_read = [(file, spec) for file in files]
        if isinstance(spec, FontFiles) and spec.choose:
            to_read, not_chosen = chosen(files, spec, seconds, workers)
            left_out.extend(not_chosen)
        found.extend(range(len(tasks), len(tasks) + len(to_read)))
        tasks.extend((file, one, labels.by_file.get(file, ())) for file, one in to_read)
    refuse_unknown(unknown)
    results = read_isolated([task[:2] for task in tasks], seconds, workers)
    items = [
        item
        for entry in found
        for item in (entry if isinstance(entry, list) else _labelled(results[entry], tasks[entry][2]))
    ]
    outlines, same = distinct([item for item in items if isinstance(item, Outline)])
    return outlines, [*left_out, *(item for item in items if isinstance(item, LeftOut)), *same]


@contextmanager
def entry(number: int) -> Iterator[None]:
    """What is wrong with a key of one entry is said with the entry."""
    try:
        yield
    except InputError as error:
        raise InputError(error.what, f"outlines[{number}].{error.where}", error.todo) from None


def named(spec: Spec, number: int, base: Path) -> tuple[list[Path], list[LeftOut], Labelled]:
    """The files that an entry names, what it names that is no file, and the labels of the files.

    Raises
    ------
    InputError
        As :func:`read`, without opening any of the files.
    """
    with entry(number):
        if isinstance(spec, FontFiles):
            expand(spec.characters)  # a mistake here is the study's, not each font's
        files, no_files = found_files(spec.files, base, SUFFIXES[type(spec)])
        return files, no_files, labels_of(spec.labels, base, files)


def _labelled(items, labels) -> list:
    if not labels:
        return items
    return [dataclasses.replace(i, labels=labels) if isinstance(i, Outline) else i for i in items]


def distinct(outlines: Sequence[Outline]) -> tuple[list[Outline], list[LeftOut]]:
    """Outlines with unique names: equal names of different outlines get a mark of their content.

    Two outlines equal in name and content are one; the second is left out.
    """
    contents: dict[str, set[str]] = {}
    for outline in outlines:
        contents.setdefault(outline.name, set()).add(outline.content)
    kept: dict[tuple[str, str], Outline] = {}
    left_out = []
    for outline in outlines:
        key = (outline.name, outline.content)
        if key in kept:
            reason = f"the same outline of the same name was read from {kept[key].source} already; remove one"
            left_out.append(LeftOut(outline.source, outline.name, reason))
        elif len(contents[key[0]]) > 1:
            kept[key] = dataclasses.replace(outline, name=f"{outline.name} [{outline.content[:8]}]")
        else:
            kept[key] = outline
    return list(kept.values()), left_out


def excluded(outlines: Sequence[Outline], file: str, base: Path) -> tuple[list[Outline], list[LeftOut]]:
    """Take out the outlines that a CSV of ``outline, reason`` names.

    Parameters
    ----------
    outlines : sequence of Outline
    file : str
        CSV; empty: nothing is excluded.
    base : pathlib.Path

    Raises
    ------
    InputError
        If a row names no outline of the study (an exclusion that does nothing is a mistake).
    """
    reasons = exclusions(file, base)
    unknown = set(reasons) - {o.name for o in outlines}
    if unknown:
        raise InputError(
            f"{sorted(unknown)[0]!r} is not among the outlines", f"exclude ({file})", "correct the name"
        )
    left_out = [LeftOut(o.source, o.name, reasons[o.name]) for o in outlines if o.name in reasons]
    return [o for o in outlines if o.name not in reasons], left_out


def exclusions(file: str, base: Path) -> dict[str, str]:
    """Reasons by outline from a CSV of ``outline, reason``; none where no file is named."""
    rows = table(file, base, "exclude", ("outline", "reason")) if file else []
    return {clean_path(row["outline"]): clean(row["reason"] or "") or "excluded" for row in rows}


def clean_path(name: str) -> str:
    """A name of an outline as it is written by hand, blanks single."""
    return " ".join(name.split())
