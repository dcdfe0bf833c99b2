"""The outline sheet of thousands: one page that scrolls, by family or by character."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence

import shapely

from kit.outlines.outline import LeftOut, Outline
from kit.outlines.preparing import Prepared
from kit.outlines.sheet import ADDED, DRAWN, EDGE, GAP, INK, LABEL, PAPER, TILE, grouped, same
from kit.outlines.sheet_paths import drawn_paths, fitted, polygon_paths
from kit.places import DATA

ORDERS = ("family", "character")
SIDE, MARGIN = 200, 4  # steps of a picture: 0.36 px
SEEN = 1.0  # steps
VISIBLE = 8.0  # steps squared, 1 px²: what cutting changes below that is not drawn
CARD = (340, TILE)
STYLE = (
    f"body{{font:14px system-ui,sans-serif;color:{INK};background:{PAPER};margin:0 1rem 1rem}}"
    f"#bar{{position:sticky;top:0;background:{PAPER};padding:.5rem 0;border-bottom:1px solid #ccc;z-index:1}}"
    "#bar label{margin-right:1rem}#links{max-height:5.2rem;overflow:auto;margin-top:.3rem}"
    "#links button{border:0;background:#eee;padding:.1rem .45rem;margin:.1rem 0;font:inherit;cursor:pointer}"
    f".tiles,.cards{{display:grid;gap:{GAP}px;align-content:start;margin-bottom:{GAP}px}}"
    f".tiles{{grid-template-columns:repeat(auto-fill,{TILE}px)}}"
    f".cards{{grid-template-columns:repeat(auto-fill,{CARD[0]}px)}}"
    f".tile{{width:{TILE}px;height:{TILE + LABEL}px;overflow:hidden;font-size:10px;line-height:1.1}}"
    f".card{{display:flex;gap:{GAP}px;height:{CARD[1]}px;overflow:auto;font-size:11px;line-height:1.2}}"
    ".card i{margin-left:.6em}.card p{margin:.2em 0}"
    f"svg{{width:{TILE}px;height:{TILE}px;flex:none;fill-rule:evenodd}}.tile span{{display:block}}"
    f".drawn{{fill:{DRAWN}}}.cut{{fill:{ADDED};stroke:{EDGE};stroke-width:2}}"
    f".nonzero,.evenodd{{fill:#b9bfc4;stroke:{DRAWN};stroke-width:1.5}}.nonzero{{fill-rule:nonzero}}"
    "details{margin:.5rem 0;scroll-margin-top:8rem}summary{font-weight:600;cursor:pointer;padding:.2rem 0}"
)


def sheet_html(
    prepared: Sequence[Prepared], left_out: Sequence[LeftOut], outlines: Sequence[Outline] = ()
) -> str:
    """The sheet as one self-contained page, groups that fold, for tens of thousands of outlines.

    Parameters
    ----------
    prepared : sequence of Prepared
    left_out : sequence of LeftOut
    outlines : sequence of Outline
        All that could be read: those that are left out are drawn from them.

    Returns
    -------
    str
        HTML; colours as in `sheet_svg`. The page asks for nothing; the one script it carries, which no
        other may join, draws what is near the window.
    """
    script = (DATA / "sheet.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    data = json.dumps(_data(prepared, left_out, outlines), ensure_ascii=False, separators=(",", ":"))
    orders = "".join(f'<option value="{by}">by {by}</option>' for by in ORDERS)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Outline sheet</title>'
        '<meta http-equiv="Content-Security-Policy" '
        f"content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'\">"
        f"<style>{STYLE}</style></head><body><h1>Outline sheet</h1>"
        f"<p>{len(prepared)} outlines used, {len(left_out)} left out. Grey: as drawn. Orange: what the cutter "
        "leaves standing, and the edge as cut, where that can be seen at this size. Pale: left out.</p>"
        f'<div id="bar"><label>Order <select id="order">{orders}</select></label>'
        '<label>Groups with <input id="filter" type="search" placeholder="part of the name"></label>'
        '<label>Flag <select id="flag"><option value="">any or none</option></select></label>'
        '<label><input id="folded" type="checkbox"> folded</label><span id="shown"></span>'
        '<div id="links"></div></div><noscript><p>This page draws its outlines by a script that it carries: '
        "let it run, or read the tables.</p></noscript>"
        '<div id="groups"></div>'
        f'<script id="data" type="application/json">{_inert(data)}</script><script>{script}</script></body></html>'
    )


def _inert(data: str) -> str:
    """JSON that can hold no tag and no comment, whatever the names in it say."""
    return data.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _data(prepared: Sequence[Prepared], left_out: Sequence[LeftOut], outlines: Sequence[Outline]) -> dict:
    places = {id(one): number for number, one in enumerate(prepared)}
    families: dict[str, int] = {}
    flags: dict[str, int] = {"": 0}
    return {
        "side": SIDE, "gap": GAP, "tile": (TILE, TILE + LABEL), "card": CARD,
        "outlines": [_row(one, families, flags) for one in prepared],
        "families": list(families),
        "flags": list(flags),
        "words": sorted({word for said in flags for word in said.split(", ") if word}),
        "orders": {
            by: [(title, [places[id(one)] for one in found]) for title, found in grouped(prepared, by).items()]
            for by in ORDERS
        },
        **_left(left_out, outlines),
    }  # fmt: skip


def _row(one: Prepared, families: dict[str, int], flags: dict[str, int]) -> tuple:
    """What the script draws an outline from: name (0 where it is family, stroke, character), … as cut."""
    outline = one.outline
    family = f"{outline.family} {outline.style}".strip()
    usual = outline.name == f"{family}/{outline.character}"
    number = families.setdefault(family, len(families))
    said = flags.setdefault(", ".join(one.flags), len(flags))
    return (0 if usual else outline.name, number, outline.character, said, *_paths(one))


def _paths(one: Prepared) -> tuple[str, str]:
    scale, middle = fitted(shapely.total_bounds([one.polygon, one.drawn]), SIDE - 2 * MARGIN)
    changed = one.cut_area_share * one.drawn.area * scale**2
    seen = not same(one) and (changed >= VISIBLE or len(one.polygon.interiors) != len(one.drawn.interiors))
    found = polygon_paths([one.drawn, one.polygon][: 1 + seen], scale, middle, SIDE, SEEN)
    return found[0], found[1] if seen else ""


def _left(left_out: Sequence[LeftOut], outlines: Sequence[Outline]) -> dict:
    """What is left out; reasons and pictures that repeat, such as a box for every letter, are held once."""
    known = {(one.source, one.name): one for one in outlines}
    reasons: dict[str, int] = {}
    pictures: dict[tuple, int] = {(): 0}
    rows = []
    for one in left_out:
        outline = known.get((one.source, one.outline))
        paths = tuple(drawn_paths(outline, SIDE, MARGIN, SEEN)) if outline else ()
        reason = reasons.setdefault(one.reason, len(reasons))
        rows.append((one.outline, one.source, reason, pictures.setdefault(paths, len(pictures))))
    return {"left": rows, "reasons": list(reasons), "pictures": list(pictures)}
