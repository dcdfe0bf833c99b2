"""Tables of a write-up, and prose whose numbers are computed."""

from __future__ import annotations

import html
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import pandas as pd

from kit.writeup.figures import PART
from kit.writeup.numbers import count, heading, number, plain, share, significant

__all__ = ["Prose", "Table", "count", "number", "prose", "share", "table"]

MOST_ROWS = 200


@dataclass(frozen=True)
class Table:
    """A table with its key and caption; ``[Table](#tab:key)`` refers to it."""

    key: str
    caption: str
    body: str

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        shown = f"<table><caption>{html.escape(self.caption)}</caption>{self.body}</table>"
        return {
            "text/html": shown,
            PART: {"kind": "table", "key": self.key, "caption": self.caption, "body": self.body},
            "text/plain": self.caption,
        }


def table(
    frame: pd.DataFrame,
    key: str,
    caption: str,
    *,
    names: Mapping[str, str] | None = None,
    digits: int = 3,
    most: int = MOST_ROWS,
    numeric: Collection[str] = (),
) -> Table:
    """A table with a unit in every header and digits that fit each column.

    Parameters
    ----------
    frame : DataFrame
        What to show, in this order; the first column heads the rows.
    key, caption : str
        For cross-references, and above the table.
    names : mapping, optional
        Column → words for its header (the unit still comes from the column's name).
    digits : int
        Significant digits of the median value of each number column.
    most : int
        Rows shown; the caption says how many there are in all.
    numeric : collection of str, optional
        Columns of text that hold numbers, written already, and stand at the right like numbers.
    """
    shown = frame.head(most)
    if len(frame) > most:
        caption += f" The first {most} of {len(frame)} rows."
    cells = {column: _column(shown[column], digits) for column in shown.columns}
    cells |= {column: (cells[column][0], True) for column in numeric}
    head = "".join(_header(column, (names or {}).get(column), cells[column][1]) for column in shown.columns)
    rows = [
        _row([cells[c][0][i] for c in shown.columns], [cells[c][1] for c in shown.columns])
        for i in range(len(shown))
    ]
    return Table(key, caption, f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody>")


def _column(values: pd.Series, digits: int) -> tuple[list[str], bool]:
    """Cells as text, and whether they are numbers."""
    if pd.api.types.is_bool_dtype(values):
        return ["yes" if v else "no" for v in values], False
    if pd.api.types.is_integer_dtype(values):
        return [f"{v}" for v in values], True
    if pd.api.types.is_float_dtype(values):
        return significant(values, digits), True
    return [
        "" if v is None or (isinstance(v, float) and pd.isna(v)) or v is pd.NA else str(v) for v in values
    ], False


def _header(column: str, name: str | None, numeric: bool) -> str:
    words, unit = heading(str(column))
    label = html.escape(name or words)
    label += f' <span class="unit">[{html.escape(unit)}]</span>' if unit else ""
    return f'<th scope="col"{_class(numeric)}>{label}</th>'


def _row(cells: list[str], numeric: list[bool]) -> str:
    first = f'<th scope="row"{_class(numeric[0])}>{html.escape(cells[0])}</th>' if cells else ""
    rest = "".join(
        f"<td{_class(n)}>{html.escape(c)}</td>" for c, n in zip(cells[1:], numeric[1:], strict=True)
    )
    return f"<tr>{first}{rest}</tr>"


def _class(numeric: bool) -> str:
    return ' class="n"' if numeric else ""


@dataclass(frozen=True)
class Prose:
    """A paragraph of Markdown made of words that were typed and values that were computed."""

    text: str

    def _repr_mimebundle_(self, include=None, exclude=None) -> dict:
        return {"text/markdown": self.text, "text/plain": self.text}


def prose(template: str, **values: object) -> Prose:
    """Put computed values into a paragraph; every value is shown as plain text, whatever it holds.

    Parameters
    ----------
    template : str
        Markdown with ``{name}`` where a value goes.
    **values
        Text (from :func:`number`, :func:`count`, or a name from the study) by name.

    Examples
    --------
    >>> prose("**{best}** carries {load}.", best="heron_1", load=number(1234.5, "N")).text
    '**heron\\\\_1** carries 1230 N\\\\.'
    """
    return Prose(template.format(**{name: plain(value) for name, value in values.items()}))
