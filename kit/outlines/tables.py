"""Tables that a study names beside its outlines: labels of files, outlines that are excluded."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.errors import InputError
from kit.outlines.outline import clean
from kit.outlines.specs import Labels


@dataclass(frozen=True)
class Labelled:
    """Labels of the files of one entry.

    Attributes
    ----------
    by_file : dict of path → labels
    unknown : frozenset of str
        What rows name that is no file of the entry; it may be one of another entry with the same table.
    """

    by_file: dict[Path, Labels]
    unknown: frozenset[str]


def labels_of(file: str, base: Path, files: Sequence[Path]) -> Labelled:
    """Labels by file, from a CSV whose first column, ``file``, holds names, or paths where names are alike.

    The row that gives more of a file's path counts.

    Raises
    ------
    InputError
        If a row names several files, or two rows name one as exactly.
    """
    names = [
        ((row["file"] or "").strip(), row) for row in (table(file, base, "labels", ("file",)) if file else ())
    ]
    matched = [(*_matches(name, base, files), name, row) for name, row in names]
    found: dict[Path, Labels] = {}
    for _, meant, name, row in sorted(matched, key=lambda one: -one[0]):
        left = [path for path in meant if path not in found]
        if len(left) > 1:
            what = f"{name!r} is the name of {len(left)} files"
            raise InputError(what, f"labels ({file})", "write their paths, a row for each")
        if meant and not left:
            raise InputError(f"{name!r} has more than one row", f"labels ({file})", "delete all but one")
        pairs = ((k, v) for k, v in row.items() if k not in (None, "file"))
        found.update((path, tuple((clean(k), clean(v or "")) for k, v in pairs)) for path in left)
    return Labelled(found, frozenset(name for _, meant, name, _ in matched if not meant))


def _matches(name: str, base: Path, files: Sequence[Path]) -> tuple[int, list[Path]]:
    """How many parts of a path a name gives, and the files it means: a whole path counts most."""
    whole = [path for path in files if name and path == Path(base) / name]
    if whole:
        return len(whole[0].parts), whole
    parts = Path(name).parts
    return len(parts), [path for path in files if parts and path.parts[-len(parts) :] == parts]


def refuse_unknown(entries: Iterable[tuple[str, int, frozenset[str]]]) -> None:
    """Refuse what no entry with the same table of labels knows: such a row would do nothing.

    Parameters
    ----------
    entries : iterable of (table, number of the entry, names it does not know)

    Raises
    ------
    InputError
    """
    unknown: dict[str, tuple[int, frozenset[str]]] = {}
    for file, number, names in entries:
        first, before = unknown.get(file, (number, names))
        unknown[file] = (first, before & names)
    for file, (number, names) in unknown.items():
        if names:
            raise InputError(
                f"{min(names)!r} is none of the files that are read", f"outlines[{number}].labels ({file})",
                "correct the name, or delete the row",
            )  # fmt: skip


def table(file: str, base: Path, key: str, columns: tuple[str, ...]) -> list[dict[str, str]]:
    """Rows of a CSV that a key of the study names, with at least the given columns."""
    path = Path(base) / file
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            reader = csv.DictReader(lines, skipinitialspace=True)
            rows, header = list(reader), reader.fieldnames or []
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = getattr(error, "strerror", None) or error
        raise InputError(f"{file!r} cannot be read ({why})", key, "give a CSV file in UTF-8") from None
    missing = [column for column in columns if column not in header]
    if missing:
        raise InputError(
            f"{file!r} has no column {missing[0]!r}", key, f"its columns must be {', '.join(columns)}"
        )
    return rows
