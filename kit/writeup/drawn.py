"""The best and the worst outlines of each load case, drawn large and to one scale, beside the reference."""

from __future__ import annotations

import html

import numpy as np
import pandas as pd
import shapely

from kit.study.resolving import Study
from kit.study.stages import Assembled
from kit.writeup import look
from kit.writeup.figures import Picture
from kit.writeup.findings import compared
from kit.writeup.numbers import number
from kit.writeup.silhouettes import mark_path
from kit.writeup.tables import Prose

TILE, GAP, WORDS, HEAD = 128, 14, 44, 34
DETAIL = 0.002
TITLE = "The best and the worst of each load case"


def best_and_worst(study: Study, found: Assembled) -> Picture | Prose:
    """A row a load case: the best outlines by merit, the reference, the worst.

    Load cases whose merits are all equal have neither and are left out.
    """
    variant = found.members["variant"].iloc[0]
    every = compared(found)
    members = every[every["variant"] == variant]
    shortlist = study.model.report.shortlist
    # One at least, so that a row says something; six and three where the study says nothing.
    best, worst = max(shortlist.best, 1), shortlist.worst
    rows = [(case, *_ends(part, best, worst)) for case, part in members.groupby("load_case", sort=False)]
    rows = [row for row in rows if len(row[1])]
    if not rows:
        return Prose("No load case has a best and a worst outline to draw.")
    outline, orientation = study.reference
    whole = found.members[found.members["variant"] == variant]
    is_reference = (whole["outline"] == outline) & ((whole["orientation_deg"] - orientation) % 360 == 0)
    reference = whole[is_reference].drop_duplicates("load_case").set_index("load_case", drop=False)
    origin = dict(zip(members["load_case"], members["case"], strict=True))
    marks = found.sections.marks()
    scale = _scale([one for _, *ends in rows for part in ends for one in part["section_id"]], marks)
    lines = [_line(case, top, reference.loc[[origin[case]]], low, (marks, scale)) for case, top, low in rows]
    caption = (
        f"By merit in the variant “{variant}”, all to one scale; the number is the merit, R the reference."
    )
    return Picture("best-and-worst", _sheet(lines), TITLE, caption, _words(rows))


def _ends(part: pd.DataFrame, best: int, worst: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    known = part[np.isfinite(part["merit"].astype(float))]
    known = known.sort_values(["merit", "section_id"], ascending=[False, True], kind="stable")
    if known.empty or known["merit"].max() - known["merit"].min() <= 1e-6 * known["merit"].max():
        return known.iloc[:0], known.iloc[:0]
    top = known.head(best)
    return top, known.iloc[max(len(top), len(known) - worst) :]


def _scale(sections: list[str], marks) -> float:
    """Pixels per millimetre at which the greatest of them fills a tile."""
    extents = [max(b[2] - b[0], b[3] - b[1]) for b in (marks[one].bounds for one in dict.fromkeys(sections))]
    return (TILE - 8) / max(extents)


def _line(case: str, top: pd.DataFrame, reference: pd.DataFrame, low: pd.DataFrame, how: tuple) -> tuple:
    tiles = [_tile(row, how, f"{place}") for place, row in enumerate(top.itertuples(), start=1)]
    middle = [_tile(row, how, "R") for row in reference.itertuples()]
    return case, tiles, middle, [_tile(row, how, "worst") for row in low.itertuples()]


def _tile(row, how: tuple, place: str) -> str:
    marks, scale = how
    shape = marks[row.section_id]
    half = scale * _half(shape)
    merit = number(float(row.merit)) if np.isfinite(row.merit) else "not assessed"
    name = str(row.outline)
    name = name if len(name) <= 22 else f"{name[:8]}…{name[-13:]}"  # its end says which character, how turned
    text = f'<text x="{TILE / 2:g}" text-anchor="middle" y="{TILE + 15}">{html.escape(name)}</text>'
    text += (
        f'<text x="{TILE / 2:g}" text-anchor="middle" y="{TILE + 31}" class="q">{html.escape(place)} · '
        f"{html.escape(merit)}</text>"
    )
    return (
        f'<g transform="translate({TILE / 2:g},{TILE / 2:g}) scale({half:.3f})"><path fill-rule="evenodd" '
        f'd="{_fine(shape)}"/></g>{text}'
    )


def _half(shape: shapely.Polygon) -> float:
    left, bottom, right, top = shape.bounds
    return max(right - left, top - bottom) / 2


def _fine(shape: shapely.Polygon) -> str:
    """The outline's path in thousandths of its half size (marks are drawn in hundredths)."""
    half = _half(shape)
    left, bottom, right, top = shape.bounds
    fine = shape.simplify(DETAIL * half)
    middle = np.array([(left + right) / 2, (bottom + top) / 2])
    rings = [fine.exterior, *fine.interiors]
    parts = []
    for ring in rings:
        points = (np.asarray(ring.coords)[:-1, :2] - middle) / half
        parts.append("M" + "L".join(f"{x:.3f},{-y:.3f}" for x, y in points) + "Z")
    return "".join(parts) or mark_path(shape)


def _sheet(lines: list[tuple]) -> str:
    most = max(len(tiles) + len(middle) + len(low) for _, tiles, middle, low in lines)
    width = most * (TILE + GAP) + 2 * GAP
    height = len(lines) * (HEAD + TILE + WORDS)
    body = []
    for place, (case, tiles, middle, low) in enumerate(lines):
        top = place * (HEAD + TILE + WORDS)
        body.append(f'<text x="0" y="{top + 20}" class="h">{html.escape(str(case))}</text>')
        body.append(f'<path class="l" d="M0 {top + 27.5}H{width}"/>')
        at = 0.0
        for group in (tiles, middle, low):
            for tile in group:
                body.append(f'<g transform="translate({at:g},{top + HEAD})">{tile}</g>')
                at += TILE + GAP
            at += GAP
    style = (
        f"text{{font:12px {look.LABEL_FONT.replace(chr(34), chr(39))};fill:{look.INK}}}.q{{fill:{look.QUIET}}}"
        f".h{{font-size:14px;font-weight:650}}.l{{stroke:{look.HAIR};fill:none}}path{{fill:{look.INK}}}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}"><style>{style}</style>{"".join(body)}</svg>'
    )


def _words(rows: list[tuple]) -> str:
    said = []
    for case, top, low in rows:
        text = (
            f"{case}: best {', '.join(f'{r.outline} ({number(float(r.merit))})' for r in top.itertuples())}"
        )
        if len(low):
            text += (
                f"; worst {', '.join(f'{r.outline} ({number(float(r.merit))})' for r in low.itertuples())}"
            )
        said.append(text)
    return ". ".join(said) + "."
