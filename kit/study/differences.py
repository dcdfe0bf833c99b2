"""What differs between two results folders: rows joined by what they are about, numbers within a tolerance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from kit.errors import InputError
from kit.study.resolving import Study
from kit.study.results import Folder, as_written, file_hash

IDENTICAL, WITHIN, DIFFERS, ABSENT = "identical", "within tolerance", "differs", "not there"
TOLERANCE = 1e-6
# Below this share of a column's greatest number, differences count against that share: a product moment of
# a symmetric section is rounding alone.
FLOOR = 1e-4
KEYS = {
    "sections": ["section_id"],
    "members": ["variant", "load_case", "section_id"],
    "ranks": ["variant", "load_case", "level", "item", "orientation_deg", "limit_states_checked"],
    "left-out": ["source", "outline", "reason"],
    "audit": ["section_id", "quantity", "route"],
    "checks": ["id"],
    "trials": ["piece"],
}
"""Tables that are compared, and the columns that say what a row is about."""
COMPARED = ("sections", "members", "ranks")
"""Tables that one study is compared with an earlier one by."""
MEANT = "name the results folder of an earlier run, such as a copy of results/NAME"


@dataclass(frozen=True)
class Difference:
    """What differs in one table.

    Attributes
    ----------
    table, verdict : str
        The table's name; ``identical`` (byte by byte), ``within tolerance``, ``differs`` or ``not there``.
    added, removed : tuple of str
        Rows that only the later or only the earlier table has, in words.
    columns : tuple of str
        Columns that only one of the two has.
    changed : DataFrame
        ``row`` (in words), ``column``, ``before``, ``after``, ``relative`` (infinite where text or a missing
        number changed), greatest first; every difference above the tolerance.
    greatest : float
        Greatest relative difference of any number, also below the tolerance.
    """

    table: str
    verdict: str
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    changed: pd.DataFrame = field(default_factory=pd.DataFrame)
    greatest: float = 0.0


def compare(
    before: Path, after: Path, names: Iterable[str] = tuple(KEYS), tolerance: float = TOLERANCE
) -> list[Difference]:
    """Compare the CSV tables of two results folders; a table that neither has is passed over.

    Parameters
    ----------
    before, after : Path
        Results folders of one study each.
    names : iterable of str
        Tables, keys of :data:`KEYS`.
    tolerance : float
        Relative difference of numbers that counts as agreement.
    """
    found = []
    for name in names:
        files = [as_written(folder / f"{name}.csv") for folder in (before, after)]
        there = [file.exists() for file in files]
        if all(there):
            found.append(_compared(name, *files, tolerance))
        elif any(there):
            found.append(Difference(name, ABSENT, columns=("only later" if there[1] else "only earlier",)))
    return found


def _compared(name: str, before: Path, after: Path, tolerance: float) -> Difference:
    if file_hash(before) == file_hash(after):
        return Difference(name, IDENTICAL)
    return tables(name, read_table(before), read_table(after), tolerance)


def read_table(file: Path) -> pd.DataFrame:
    """A table of the results; names such as "NA" stay text."""
    try:
        return pd.read_csv(file, keep_default_na=False, na_values={}, low_memory=False)
    except (OSError, ValueError) as unreadable:
        raise InputError(
            f"this table cannot be read: {unreadable}",
            str(file),
            "name the results folder of a study that has run to its end",
        ) from None


def tables(name: str, before: pd.DataFrame, after: pd.DataFrame, tolerance: float = TOLERANCE) -> Difference:
    """Compare two tables row by row.

    Parameters
    ----------
    name : str
        Key of :data:`KEYS`: it says which columns name a row.
    before, after : DataFrame
        In any order of rows; a repeated name is matched in order.
    """
    key = [column for column in KEYS[name] if column in before and column in after]
    old, new = _indexed(before, key), _indexed(after, key)
    common = new.index[new.index.isin(old.index)]
    shared = [column for column in new.columns if column in old.columns]
    parts, greatest = [], 0.0
    for column in shared:
        part, most = _column(column, old.loc[common, column], new.loc[common, column], tolerance)
        parts.append(part)
        greatest = max(greatest, most)
    changed = pd.concat(parts) if parts else pd.DataFrame(columns=["row", "column", "relative"])
    changed = changed.sort_values("relative", ascending=False, kind="stable", ignore_index=True)
    added = tuple(_named(row) for row in new.index[~new.index.isin(old.index)])
    removed = tuple(_named(row) for row in old.index[~old.index.isin(new.index)])
    columns = tuple(sorted(set(old.columns) ^ set(new.columns)))
    same = not (len(changed) or added or removed or columns)
    return Difference(name, WITHIN if same else DIFFERS, added, removed, columns, changed, greatest)


def _indexed(table: pd.DataFrame, key: Sequence[str]) -> pd.DataFrame:
    """Rows by the columns that name them and by their number among rows of one name."""
    names = table[list(key)].map(_text)
    again = names.groupby(list(key), sort=False).cumcount()
    rows = pd.Index(list(zip(*(names[column] for column in key), again, strict=True)), tupleize_cols=False)
    return table.drop(columns=list(key)).set_axis(rows, axis=0)


def _text(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _named(row: tuple) -> str:
    *words, again = row
    return ", ".join(word for word in words if word) + (f" ({again + 1})" if again else "")


def _column(column: str, old: pd.Series, new: pd.Series, tolerance: float) -> tuple[pd.DataFrame, float]:
    """Rows of one column that differ by more than the tolerance, and the greatest difference there is."""
    numbers = [pd.to_numeric(values, errors="coerce").to_numpy(float) for values in (old, new)]
    texts = [values.map(str).to_numpy(object) for values in (old, new)]
    both = np.isfinite(numbers[0]) & np.isfinite(numbers[1])
    with np.errstate(invalid="ignore"):
        size = np.fmax(np.abs(numbers[0]), np.abs(numbers[1]))
    scale = FLOOR * float(np.max(size[both], initial=0.0))
    gap = np.zeros(len(size))
    gap[both] = np.abs(numbers[0][both] - numbers[1][both]) / np.maximum(
        np.maximum(size[both], scale), 1e-300
    )
    relative = np.where(both, gap, np.where(texts[0] == texts[1], 0.0, np.inf))
    at = np.flatnonzero(relative > tolerance)
    rows = pd.DataFrame(
        {
            "row": [_named(old.index[i]) for i in at],
            "column": column,
            "before": old.to_numpy(object)[at],
            "after": new.to_numpy(object)[at],
            "relative": relative[at],
        }
    )
    return rows, float(np.max(gap, initial=0.0))


def earlier_folder(study: Study, folder: Folder) -> Path | None:
    """The folder named by ``report.compare_with``; None where the study compares with nothing.

    Raises
    ------
    InputError
        If there are no results in it, or it is the folder this very run writes.
    """
    named = study.model.report.compare_with
    if not named:
        return None
    earlier = (study.base / named).resolve()
    place = study.document.place(("report", "compare_with"))
    if earlier == folder.path.resolve():
        raise InputError("these are the results this run writes itself", place, MEANT)
    missing = [name for name in COMPARED if not as_written(earlier / f"{name}.csv").is_file()]
    if missing:
        raise InputError(f"{earlier} holds no {missing[0]}.csv", place, MEANT)
    return earlier


def earlier_tables(study: Study, folder: Folder) -> tuple[str, ...]:
    """Content of the earlier results that a study compares itself with; empty where there are none."""
    earlier = earlier_folder(study, folder)
    return tuple(file_hash(as_written(earlier / f"{name}.csv")) for name in COMPARED) if earlier else ()
