"""The outline sheet: every outline small, used and left out, what cutting adds in a colour of its own."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from html import escape

import numpy as np
import shapely

from kit.outlines.flattening import flatten
from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.outlines.sheet_paths import drawn_paths, fitted, polygon_paths, ring_path

TILE, LABEL, GAP = 72, 26, 8
COLUMNS = 13
WIDTH = COLUMNS * (TILE + GAP) + GAP
DRAWN, ADDED, EDGE, INK, PAPER = "#3f4d59", "#e2711d", "#e2711d", "#1d2327", "#ffffff"
LOST = "#b9bfc4"
FINE = 0.1  # px; what path data count in
SIDE = TILE / FINE
STILL_SEEN = SIDE / 400  # finer than this is not seen
WRAP = 150


def sheet_svg(
    prepared: Sequence[Prepared],
    left_out: Sequence[LeftOut],
    by: str = "family",
    outlines: Sequence[Outline] = (),
    of: tuple[int, int] | None = None,
) -> str:
    """The sheet as one SVG text, to open in any browser.

    Parameters
    ----------
    prepared : sequence of Prepared
    left_out : sequence of LeftOut
    by : {"family", "character", "source"}
        What outlines stand together.
    outlines : sequence of Outline
        All that could be read: those that are left out are drawn from them.
    of : (used, left out), optional
        How many there are, where the sheet shows only some of them.

    Returns
    -------
    str
        Grey: as drawn. Orange: what the cutter leaves standing, and the edge as cut. Pale: left out.
    """
    body, y = [], 34.0
    for title, members in grouped(prepared, by).items():
        body.append(_text(GAP, y + 14, f"{title} ({len(members)})", 13, bold=True))
        y += 24
        rows, y = _tiles([tile(one, title) for one in members], y)
        body += rows
    lost, y = _left_out(left_out, outlines, y)
    head = _text(GAP, 22, _headline((len(prepared), len(left_out)), of), 15, bold=True)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{y + GAP:.0f}" '
        f'viewBox="0 0 {WIDTH} {y + GAP:.0f}" font-family="system-ui, sans-serif" fill="{INK}" role="img" '
        f'aria-label="Outline sheet"><rect width="100%" height="100%" fill="{PAPER}"/>'
        f"{head}{''.join(body)}{''.join(lost)}</svg>"
    )


def _headline(here: tuple[int, int], of: tuple[int, int] | None) -> str:
    used, left = of or here
    some = "" if (used, left) == here else f"; {here[0]} and {here[1]} of them, evenly chosen, are drawn here"
    return f"{used} outlines used, {left} left out{some}"


def repairs_svg(prepared: Sequence[Prepared], most: int = 12, allowed: float = 1.0) -> str:
    """Before and after, side by side, of the outlines whose repairs changed the most.

    Parameters
    ----------
    prepared : sequence of Prepared
    most : int
    allowed : float
        Share of the area that repairs may change: outlines above it are marked as left out.

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
        share = f"{100 * one.repaired_area_share:.2g} % of the area"
        note = f"{one.outline.name}: {', '.join(one.flags)}; {share}"
        note += ": left out" if one.repaired_area_share > allowed else ""
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
    return fitted(one.drawn.bounds, (TILE - 8) / FINE)


def _after(one: Prepared) -> str:
    (data,) = polygon_paths([one.drawn], *_frame(one), SIDE, STILL_SEEN)
    return f'<path d="{data}" fill="{DRAWN}" fill-rule="evenodd" transform="scale({FINE:g})"/>'


def _before(one: Prepared) -> str:
    """Contours as they were drawn, filled by their own rule, edges shown."""
    rings = flatten(one.outline.contours, 1e-3 * one.drawn.length / one.mm_per_unit)
    placed = [ring * one.mm_per_unit - one.origin for ring in rings]
    data = "".join(ring_path(ring, *_frame(one), SIDE) for ring in placed)
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
    return f"<title>{title_of(one)}</title>{picture(one)}{label(one.outline.name, group)}"


def title_of(one: Prepared) -> str:
    """Name and flags, for whoever points at the picture."""
    return escape(one.outline.name + (f": {', '.join(one.flags)}" if one.flags else ""))


def label(name: str, group: str = "") -> str:
    """The name in two short lines, without what it shares with its group."""
    name = name.removeprefix(f"{group}/").removesuffix(f"/{group}")
    lines = textwrap.wrap(name, 14, break_long_words=True, max_lines=2, placeholder="…") or [""]
    return "".join(_text(0, TILE + 10 + 11 * i, line, 9.5) for i, line in enumerate(lines))


def picture(one: Prepared) -> str:
    """The outline as drawn and, where cutting changed it, as cut, as an SVG fragment of TILE × TILE px."""
    scale, middle = fitted(shapely.total_bounds([one.polygon, one.drawn]), (TILE - 4) / FINE)
    drawn, cut = polygon_paths([one.drawn, one.polygon], scale, middle, SIDE, STILL_SEEN)
    paths = f'<path d="{drawn}" fill="{DRAWN}"/>'
    if not same(one):
        paths = f'<path d="{cut}" fill="{ADDED}" stroke="{EDGE}" stroke-width="8"/>{paths}'
    return f'<g transform="scale({FINE:g})" fill-rule="evenodd">{paths}</g>'


def same(one: Prepared) -> bool:
    """Whether cutting left the outline as it was drawn."""
    return one.polygon is one.drawn or shapely.equals_exact(one.polygon, one.drawn)


def _tiles(tiles: Sequence[str], y: float) -> tuple[list[str], float]:
    """Tiles in rows, and the height below them."""
    body = []
    for i, one in enumerate(tiles):
        row, column = divmod(i, COLUMNS)
        place = f"translate({GAP + column * (TILE + GAP)} {y + row * (TILE + LABEL):g})"
        body.append(f'<g transform="{place}">{one}</g>')
    return body, y + -(-len(tiles) // COLUMNS) * (TILE + LABEL) + GAP


def _left_out(left_out: Sequence[LeftOut], outlines: Sequence[Outline], y: float) -> tuple[list[str], float]:
    """Reasons, and under each the outlines it holds for: drawn where they could be read, else named."""
    if not left_out:
        return [], y
    known = {(one.source, one.name): one for one in outlines}
    by_reason: dict[str, list[LeftOut]] = {}
    for one in left_out:
        by_reason.setdefault(one.reason, []).append(one)
    body, y = [_text(GAP, y + 14, f"Left out ({len(left_out)})", 13, bold=True)], y + 24
    for reason, members in by_reason.items():
        for line in textwrap.wrap(reason, WRAP):
            body.append(_text(GAP, y + 12, line, 11, bold=True))
            y += 15
        pictures = {one: _lost(known.get((one.source, one.outline))) for one in members}
        tiles = [shown + label(one.outline) for one, shown in pictures.items() if shown]
        if tiles:
            rows, y = _tiles(tiles, y + 4)
            body += rows
        names = [one.outline or one.source for one, shown in pictures.items() if not shown]
        for line in textwrap.wrap(" · ".join(names), WRAP):
            body.append(_text(2 * GAP, y + 11, line, 10))
            y += 14
        y += 4
    return body, y


def _lost(outline: Outline | None) -> str:
    """An outline that is left out, just as it was drawn; empty where it cannot be shown."""
    paths = drawn_paths(outline, SIDE, 2 / FINE, STILL_SEEN) if outline else []
    shapes = "".join(f'<path d="{data}" fill-rule="{rule}"/>' for data, rule in paths)
    style = f'fill="{LOST}" stroke="{DRAWN}" stroke-width="6"'
    title = f"<title>{escape(outline.name)}</title>" if shapes else ""
    return f'<g transform="scale({FINE:g})" {style}>{title}{shapes}</g>' if shapes else ""


def _text(x: float, y: float, text: str, size: float, bold: bool = False) -> str:
    weight = ' font-weight="600"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}"{weight}>{escape(text)}</text>'
