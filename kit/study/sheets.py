"""Pictures of a study's outlines: the outline sheet, and repairs before and after."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kit.outlines.making import Making
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import OVER_REPAIRED, Prepared
from kit.outlines.sheet import repairs_svg, sheet_svg
from kit.outlines.sheet_page import sheet_html
from kit.study import readying
from kit.study.fanout import Limits
from kit.study.results import write_text

MOST_ON_ONE_PICTURE = 300
MOST_REPAIRS = 12
MOST_TRIED = 48


@dataclass(frozen=True)
class Shown:
    """What a sheet shows.

    Attributes
    ----------
    prepared : sequence of Prepared
    left_out : sequence of LeftOut
    outlines : sequence of Outline
        All that could be read: those that are left out are drawn from them.
    """

    prepared: Sequence[Prepared]
    left_out: Sequence[LeftOut]
    outlines: Sequence[Outline] = ()

    @property
    def many(self) -> bool:
        """Whether they are too many for one picture."""
        return len(self.prepared) + len(self.left_out) > MOST_ON_ONE_PICTURE

    def fewer(self) -> Shown:
        """As many as one picture holds, evenly out of all: used ones first, then left-out ones."""
        used = _evenly(self.prepared, MOST_ON_ONE_PICTURE * 2 // 3)
        return Shown(used, _evenly(self.left_out, MOST_ON_ONE_PICTURE - len(used)), self.outlines)


def _evenly(items: Sequence, most: int) -> Sequence:
    return items if len(items) <= most else [items[i * len(items) // most] for i in range(most)]


def keep(folder: Path, shown: Shown, making: Making, limits: Limits | None = None) -> Path:
    """Write ``outlines.html``, ``outlines.svg`` (of many, a part), ``repairs.svg`` where there are any.

    Parameters
    ----------
    folder : Path
    shown : Shown
    making : Making
        How they were made ready: those whose repairs changed the most are made once more, to be shown.
    limits : Limits, optional
        What one outline may cost in that.

    Returns
    -------
    Path
        The sheet to open.
    """
    everything = shown.prepared, shown.left_out
    few = shown.fewer() if shown.many else shown
    by = "character" if shown.many else "family"  # of a thousand families a few outlines fill no row each
    counts = tuple(map(len, everything))
    sheet = sheet_svg(few.prepared, few.left_out, by, outlines=shown.outlines, of=counts)
    _write(folder / "outlines.svg", sheet)
    _write(folder / "outlines.html", sheet_html(*everything, shown.outlines))
    repaired = _repaired(shown, making, limits or Limits())
    _write(folder / "repairs.svg", repairs_svg(repaired, MOST_REPAIRS, making.most_repair_share))
    return folder / "outlines.html"


def _repaired(shown: Shown, making: Making, limits: Limits) -> list[Prepared]:
    """The most repaired outlines, and those that needed more repair than is allowed, made once more."""
    refused = {(one.source, one.outline) for one in shown.left_out if one.reason.startswith(OVER_REPAIRED)}
    again = [one for one in shown.outlines if (one.source, one.name) in refused][:MOST_TRIED]
    mended = [one for one in shown.prepared if one.repaired_area_share > 0]
    again += [one.outline for one in sorted(mended, key=lambda one: -one.repaired_area_share)][:MOST_REPAIRS]
    if not again:
        return []
    lenient = dataclasses.replace(making, most_repair_share=math.inf)
    return [one for one in readying.ready(again, lenient, limits) if isinstance(one, Prepared)]


def _write(file: Path, text: str) -> None:
    """Write a picture; where there is none, an earlier one does not stay."""
    if text:
        write_text(file, text)
    else:
        file.unlink(missing_ok=True)
