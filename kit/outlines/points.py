"""Outlines from CSV files of rings: columns ``ring, x, y``."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from kit.errors import Unusable
from kit.outlines.arcs import closed
from kit.outlines.chains import loops_once
from kit.outlines.outline import Contour, Outline, clean
from kit.outlines.specs import PointFiles
from kit.outlines.worker import Progress

COLUMNS = ("ring", "x", "y")
MOST_POINTS = 200_000


def outlines_of(path: Path, spec: PointFiles, progress: Progress) -> Iterator[Outline]:
    """The outline of one CSV file."""
    if progress.started(clean(path.stem)):
        yield Outline(
            name=clean(path.stem),
            source=clean(path.name),
            contours=rings(path),
            fill_rule="evenodd",
            unit_mm=spec.unit_mm,
        )


def rings(path: Path) -> tuple[Contour, ...]:
    """Closed rings of straight pieces, in the order they first appear.

    Raises
    ------
    Unusable
        If a column is missing or there twice, a number cannot be read, or a ring has fewer than three
        different points.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as lines:
            found = _points_of(csv.DictReader(lines, skipinitialspace=True))
    except UnicodeDecodeError:
        raise Unusable("it is not in UTF-8; save it as CSV in UTF-8") from None
    short = [name for name, points in found.items() if len(set(points)) < 3]
    if short or not found:
        raise Unusable(
            f"ring {clean(short[0]) if short else ''!r} has fewer than three different points; draw the outline"
        )
    contours = tuple(contour for points in found.values() if (contour := _ring(np.array(points))))
    return tuple(loops_once(contours)) if contours else ()


def _points_of(reader: csv.DictReader) -> dict[str, list[tuple[float, float]]]:
    header = [name.strip().lower() for name in reader.fieldnames or ()]
    for name in COLUMNS:
        if header.count(name) != 1:
            how = "several columns" if name in header else "no column"
            raise Unusable(f"it has {how} {name!r}; its columns must be ring, x, y, with commas between them")
    reader.fieldnames = header
    found: dict[str, list[tuple[float, float]]] = {}
    for number, row in enumerate(reader, start=2):
        if number > MOST_POINTS:
            raise Unusable(f"it has more than {MOST_POINTS} points; give fewer")
        found.setdefault((row["ring"] or "").strip(), []).append(_point(row, number))
    return found


def _point(row: dict[str, str], number: int) -> tuple[float, float]:
    if None in row:
        raise Unusable(
            f"line {number} has more fields than the header; write numbers with decimal points, or in quotes"
        )
    try:
        if "_" in row["x"] + row["y"]:  # 1_000 is a number in Python alone
            raise ValueError
        return float(row["x"]), float(row["y"])
    except (TypeError, ValueError):
        shown = clean(f"{row.get('x')}, {row.get('y')}", 40)
        raise Unusable(
            f"line {number}: {shown!r} is no point; write two numbers with decimal points"
        ) from None


def _ring(points: np.ndarray) -> Contour:
    if not np.isfinite(points).all():
        raise Unusable("a coordinate is not a finite number; correct the file")
    ends = np.roll(points, -1, axis=0)
    return closed(list(np.stack([points, ends], axis=1)))
