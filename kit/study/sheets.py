"""Pictures of a study's outlines: the outline sheet, and repairs before and after."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from kit.errors import Unusable
from kit.outlines.making import Making
from kit.outlines.outline import LeftOut
from kit.outlines.preparing import Prepared, prepare
from kit.outlines.sheet import repairs_svg, sheet_svg
from kit.outlines.sheet_page import sheet_html
from kit.study.results import write_text

MOST_ON_ONE_PICTURE = 500
MOST_REPAIRS = 12


def keep(folder: Path, prepared: Sequence[Prepared], left_out: Sequence[LeftOut], making: Making) -> Path:
    """Write ``outlines.svg``, ``outlines.html`` where there are many, ``repairs.svg`` where there are any.

    Parameters
    ----------
    folder : Path
    prepared : sequence of Prepared
    left_out : sequence of LeftOut
    making : Making
        How they were made ready: those whose repairs changed the most are made once more, to be shown.

    Returns
    -------
    Path
        The sheet to open.
    """
    many = len(prepared) + len(left_out) > MOST_ON_ONE_PICTURE
    _write(folder / "repairs.svg", repairs_svg(_repaired(prepared, making), MOST_REPAIRS))
    _write(folder / "outlines.svg", sheet_svg(prepared, left_out))
    _write(folder / "outlines.html", sheet_html(prepared, left_out) if many else "")
    return folder / ("outlines.html" if many else "outlines.svg")


def _repaired(prepared: Sequence[Prepared], making: Making) -> list[Prepared]:
    worst = sorted(prepared, key=lambda one: -one.repaired_area_share)[:MOST_REPAIRS]
    found = []
    for one in worst:
        if one.repaired_area_share > 0:
            try:
                found.append(prepare(one.outline, making))
            except Unusable:  # it was made before: nothing is lost but its picture
                continue
    return found


def _write(file: Path, text: str) -> None:
    """Write a picture; where there is none, an earlier one does not stay."""
    if text:
        write_text(file, text)
    else:
        file.unlink(missing_ok=True)
