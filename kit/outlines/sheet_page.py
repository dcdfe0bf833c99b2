"""The outline sheet of thousands: one page that scrolls, by family or by character."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from kit.outlines.outline import LeftOut
from kit.outlines.preparing import Prepared
from kit.outlines.sheet import GAP, INK, LABEL, PAPER, TILE, grouped, label, picture, title_of

ORDERS = ("family", "character")
STYLE = (
    f"body{{font:14px system-ui,sans-serif;color:{INK};background:{PAPER};margin:1rem}}"
    f".tiles{{display:grid;grid-template-columns:repeat(auto-fill,{TILE + GAP}px);gap:{GAP}px}}"
    # What is out of sight is neither laid out nor painted.
    f"details{{content-visibility:auto;contain-intrinsic-size:auto {TILE + LABEL + 40}px;margin:.5rem 0}}"
    "summary{font-weight:600;cursor:pointer}.store{position:absolute}.order{display:none}"
    "td,th{text-align:left;vertical-align:top;padding:.2rem 1rem .2rem 0}"
    "label{margin:0 1.2rem 0 .3rem}"
    + "".join(f"#by-{by}:checked~#order-{by}{{display:block}}" for by in ORDERS)
)


def sheet_html(prepared: Sequence[Prepared], left_out: Sequence[LeftOut]) -> str:
    """The sheet as one self-contained page, groups that fold, for thousands of outlines.

    Parameters
    ----------
    prepared : sequence of Prepared
    left_out : sequence of LeftOut

    Returns
    -------
    str
        HTML; colours as in `sheet_svg`. The page holds no scripts and asks for nothing: each outline is
        drawn once and shown in both orders, between which the reader chooses.
    """
    places = {id(one): number for number, one in enumerate(prepared)}
    symbols = "".join(
        f"<symbol id='o{number}'><title>{title_of(one)}</title>{picture(one)}</symbol>"
        for number, one in enumerate(prepared)
    )
    chosen = "".join(
        f"<input type='radio' name='by' id='by-{by}'{' checked' if by == ORDERS[0] else ''}>"
        f"<label for='by-{by}'>by {by}</label>"
        for by in ORDERS
    )
    orders = "".join(
        f"<div class='order' id='order-{by}'>{_groups(grouped(prepared, by), places)}</div>" for by in ORDERS
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Outline sheet</title>'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<style>{STYLE}</style></head><body><h1>Outline sheet</h1>"
        f"<p>{len(prepared)} outlines used, {len(left_out)} left out. Grey: as drawn. "
        f"Orange: what the cutter leaves standing, and the edge as cut.</p>"
        f"<svg class='store' width='0' height='0' aria-hidden='true'>{symbols}</svg>"
        f"{chosen}{orders}{_left_out_table(left_out)}</body></html>"
    )


def _groups(groups: dict[str, list[Prepared]], places: dict[int, int]) -> str:
    return "".join(
        f"<details open><summary>{escape(title)} ({len(members)})</summary><div class='tiles'>"
        + "".join(_tile(one, title, places[id(one)]) for one in members)
        + "</div></details>"
        for title, members in groups.items()
    )


def _tile(one: Prepared, group: str, number: int) -> str:
    used = f"<use href='#o{number}' width='{TILE}' height='{TILE}'/>"
    return f"<svg width='{TILE}' height='{TILE + LABEL}' role='img'>{used}{label(one, group)}</svg>"


def _left_out_table(left_out: Sequence[LeftOut]) -> str:
    if not left_out:
        return ""
    cells = ((one.outline or "whole file", one.source, one.reason) for one in left_out)
    rows = "".join("<tr>" + "".join(f"<td>{escape(text)}</td>" for text in row) + "</tr>" for row in cells)
    return (
        f"<details open><summary>Left out ({len(left_out)})</summary><table>"
        f"<tr><th>Outline</th><th>Source</th><th>Reason</th></tr>{rows}</table></details>"
    )
