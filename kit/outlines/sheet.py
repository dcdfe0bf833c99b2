"""The outline sheet: every outline small, used and left out, what cutting adds in a colour of its own."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape

import numpy as np
import shapely
from shapely import Polygon

from kit.outlines.flattening import flatten
from kit.outlines.outline import LeftOut
from kit.outlines.preparing import Prepared

TILE, LABEL, GAP = 72, 26, 8
COLUMNS = 13
WIDTH = COLUMNS * (TILE + GAP) + GAP
DRAWN, ADDED, EDGE, INK, PAPER = "#3f4d59", "#e2711d", "#e2711d", "#1d2327", "#ffffff"
FINE = 0.1  # px; what path data count in
STILL_SEEN = TILE / 400  # px: finer than this is not seen
WRAP = 150


def sheet_svg(prepared: Sequence[Prepared], left_out: Sequence[LeftOut], by: str = "family") -> str:
    """The sheet as one SVG text, to open in any browser.

    Parameters
    ----------
    prepared : sequence of Prepared
    left_out : sequence of LeftOut
    by : {"family", "character", "source"}
        What outlines stand together.

    Returns
    -------
    str
        Grey: as drawn. Orange: what the cutter leaves standing, and the edge as cut.
    """
    body, y = [], 34.0
    for title, members in grouped(prepared, by).items():
        body.append(_text(GAP, y + 14, f"{title} ({len(members)})", 13, bold=True))
        y += 24
        for i, one in enumerate(members):
            row, column = divmod(i, COLUMNS)
            place = f"translate({GAP + column * (TILE + GAP)} {y + row * (TILE + LABEL):g})"
            body.append(f'<g transform="{place}">{tile(one, title)}</g>')
        y += -(-len(members) // COLUMNS) * (TILE + LABEL) + GAP
    lost, y = _left_out_text(left_out, y)
    head = _text(GAP, 22, f"{len(prepared)} outlines used, {len(left_out)} left out", 15, bold=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{y + GAP:.0f}" '
        f'viewBox="0 0 {WIDTH} {y + GAP:.0f}" font-family="system-ui, sans-serif" fill="{INK}" role="img" '
        f'aria-label="Outline sheet"><rect width="100%" height="100%" fill="{PAPER}"/>'
        f"{head}{''.join(body)}{''.join(lost)}</svg>"
    )


def repairs_svg(prepared: Sequence[Prepared], most: int = 12) -> str:
    """Before and after, side by side, of the outlines whose repairs changed the most.

    Parameters
    ----------
    prepared : sequence of Prepared
    most : int

    Returns
    -------
    str
        SVG; empty where nothing was repaired.
    """
    worst = sorted((p for p in prepared if p.repaired_area_share > 0), key=lambda p: -p.repaired_area_share)[
        :most
    ]
    rows = []
    for i, one in enumerate(worst):
        y = 8 + i * (TILE + GAP)
        note = (
            f"{one.outline.name}: {', '.join(one.flags)}; {100 * one.repaired_area_share:.2g} % of the area"
        )
        rows.append(f'<g transform="translate({GAP} {y})">{_before(one)}</g>')
        rows.append(f'<g transform="translate({2 * GAP + TILE} {y})">{_after(one)}</g>')
        rows.append(_text(4 * GAP + 2 * TILE, y + TILE / 2, note, 12))
    height = 16 + len(worst) * (TILE + GAP)
    if not worst:
        return ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}" '
        f'viewBox="0 0 {WIDTH} {height}" font-family="system-ui, sans-serif" fill="{INK}">'
        f'<rect width="100%" height="100%" fill="{PAPER}"/>'
        f"{''.join(rows)}</svg>"
    )


def _frame(one: Prepared) -> tuple[float, np.ndarray]:
    box = one.drawn.bounds
    scale = (TILE - 8) / max(box[2] - box[0], box[3] - box[1])
    return scale, np.array([box[0] + box[2], box[1] + box[3]]) / 2


def _after(one: Prepared) -> str:
    data = _path(one.drawn, *_frame(one))
    return f'<path d="{data}" fill="{DRAWN}" fill-rule="evenodd" transform="scale({FINE:g})"/>'


def _before(one: Prepared) -> str:
    """Contours as they were drawn, filled by their own rule, edges shown."""
    rings = flatten(one.outline.contours, 1e-3 * one.drawn.length / one.mm_per_unit)
    placed = [ring * one.mm_per_unit - one.origin for ring in rings]
    data = "".join(_ring_path(ring, *_frame(one)) for ring in placed)
    rule = one.outline.fill_rule
    style = f'fill="{DRAWN}" fill-rule="{rule}" stroke="{EDGE}" stroke-width="6"'
    return f'<path d="{data}" {style} transform="scale({FINE:g})"/>'


def grouped(prepared: Sequence[Prepared], by: str) -> dict[str, list[Prepared]]:
    """Outlines that stand together: drawings first, letterforms by family (or character), shapes last.

    >>> grouped([], "family")
    {}
    """
    groups: dict[tuple[int, str], list[Prepared]] = {}
    for one in prepared:
        outline = one.outline
        if by == "source":
            key = (1, outline.source)
        elif outline.source == "shape":
            key = (2, "Standard shapes")
        elif not outline.family:
            key = (0, "Drawings")
        else:
            key = (1, outline.character if by == "character" else f"{outline.family} {outline.style}")
        groups.setdefault(key, []).append(one)
    return {title: groups[order, title] for order, title in sorted(groups)}


def tile(one: Prepared, group: str = "") -> str:
    """One outline as an SVG fragment of TILE × TILE px and its name under it, without its group's."""
    return f"<title>{title_of(one)}</title>{picture(one)}{label(one, group)}"


def title_of(one: Prepared) -> str:
    """Name and flags, for whoever points at the picture."""
    return escape(one.outline.name + (f": {', '.join(one.flags)}" if one.flags else ""))


def label(one: Prepared, group: str = "") -> str:
    """The name in two short lines, without what it shares with its group."""
    name = one.outline.name.removeprefix(f"{group}/").removesuffix(f"/{group}")
    lines = textwrap.wrap(name, 14, break_long_words=True, max_lines=2, placeholder="…") or [""]
    return "".join(_text(0, TILE + 10 + 11 * i, line, 9.5) for i, line in enumerate(lines))


def picture(one: Prepared) -> str:
    """The outline as drawn and, where cutting changed it, as cut, as an SVG fragment of TILE × TILE px."""
    box = shapely.total_bounds([one.polygon, one.drawn])
    scale = (TILE - 4) / max(box[2] - box[0], box[3] - box[1])
    middle = (box[:2] + box[2:]) / 2
    drawn = f'<path d="{_path(one.drawn, scale, middle)}" fill="{DRAWN}"/>'
    if not one.drawn.equals(one.polygon):
        cut = _path(one.polygon, scale, middle)
        drawn = f'<path d="{cut}" fill="{ADDED}" stroke="{EDGE}" stroke-width="8"/>{drawn}'
    return f'<g transform="scale({FINE:g})" fill-rule="evenodd">{drawn}</g>'


def _path(polygon: Polygon, scale: float, middle: np.ndarray) -> str:
    """Path data in px, y down, with the points a small picture can show."""
    simple = polygon.simplify(STILL_SEEN / scale)
    rings = (np.asarray(ring.coords)[:-1] for ring in (simple.exterior, *simple.interiors))
    return "".join(_ring_path(ring, scale, middle) for ring in rings)


def _ring_path(ring: np.ndarray, scale: float, middle: np.ndarray) -> str:
    """Whole numbers of a tenth of a px, each point from the one before it: a third of the room."""
    points = np.rint(((ring - middle) * (scale, -scale) + TILE / 2) / FINE).astype(int)
    steps = "".join(f"{x:d} {y:d} " for x, y in np.diff(points, axis=0).tolist() if x or y)
    return f"M{points[0, 0]} {points[0, 1]}l{steps.replace(' -', '-').rstrip()}z"


def _left_out_text(left_out: Sequence[LeftOut], y: float) -> tuple[list[str], float]:
    """Reasons, and under each the outlines it holds for."""
    if not left_out:
        return [], y
    by_reason: dict[str, list[str]] = {}
    for one in left_out:
        by_reason.setdefault(one.reason, []).append(one.outline or one.source)
    body, y = [_text(GAP, y + 14, f"Left out ({len(left_out)})", 13, bold=True)], y + 24
    for reason, names in by_reason.items():
        for line in textwrap.wrap(reason, WRAP):
            body.append(_text(GAP, y + 12, line, 11, bold=True))
            y += 15
        for line in textwrap.wrap(" · ".join(names), WRAP):
            body.append(_text(2 * GAP, y + 11, line, 10))
            y += 14
        y += 4
    return body, y


def _text(x: float, y: float, text: str, size: float, bold: bool = False) -> str:
    weight = ' font-weight="600"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}"{weight}>{escape(text)}</text>'
