"""SVG drawings: what a viewer fills, as one outline; what cannot be reproduced is refused with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from kit.errors import Unusable
from kit.outlines.arcs import closed
from kit.outlines.outline import Contour, Outline, clean
from kit.outlines.specs import SvgFiles
from kit.outlines.svgcolour import SEEN, opacity, paint
from kit.outlines.svggradient import refuse_clear
from kit.outlines.svglengths import Space, length, moved, number
from kit.outlines.svgpath import Subpath, transform_matrix
from kit.outlines.svgseen import (
    SVG,
    is_shown,
    is_visible,
    link_of,
    placed,
    refuse_effects,
    refuse_kind,
    refuse_moving,
    refuse_outside,
    refuse_sized,
    tag_of,
)
from kit.outlines.svgshapes import SHAPES, shape_subpaths
from kit.outlines.svgstyle import INITIAL, Rule, computed, sheet_of
from kit.outlines.svgviews import nested_view, page_view
from kit.outlines.worker import Progress
from kit.outlines.xmlsafe import parse

DEEPEST, MOST_SHAPES = 60, 20_000


@dataclass(frozen=True)
class Painted:
    """One filled shape: its contours in page units (y down), fill rule and shade."""

    contours: tuple[Contour, ...]
    rule: str
    shade: str


@dataclass
class Page:
    """A drawing while it is walked through."""

    spec: SvgFiles
    by_id: dict = field(default_factory=dict)
    rules: list[Rule] = field(default_factory=list)
    shapes: list[Painted] = field(default_factory=list)
    visited: int = 0


def outlines_of(path: Path, spec: SvgFiles, progress: Progress) -> Iterator[Outline]:
    """The outline of one SVG file."""
    if progress.started(clean(path.stem)):
        yield drawing(path.read_bytes(), clean(path.stem), clean(path.name), spec)


def drawing(data: bytes, name: str, source: str, spec: SvgFiles) -> Outline:
    """The outline of an SVG document: everything it fills, united.

    Raises
    ------
    Unusable
        If what a viewer shows cannot be reproduced, with the reason.
    """
    root = parse(data)
    if tag_of(root) != "svg":
        raise Unusable("it is no SVG drawing (its outermost element is not svg); save it as SVG")
    if not root.tag.startswith(SVG):
        raise Unusable('viewers do not show it: its first element lacks xmlns="http://www.w3.org/2000/svg"')
    page = _page(root, spec)
    style = computed("svg", root.attrib, INITIAL, page.rules)
    refuse_effects(style, root)
    if root.get("transform", "").strip():
        raise Unusable("all of it is moved by a transform of its page; put the transform on a group inside")
    view, unit = page_view(root, style, spec.unit_mm)
    space = Space(view.matrix, view.size, opacity(style.get("opacity", "1"), "opacity"))
    if space.opacity >= SEEN:
        _walk_children(root, page, space, style, 0)
    refuse_outside(_contours(page.shapes), view.seen, view.matrix, "the page")
    return _outline(page, (name, source, unit))


def _page(root, spec: SvgFiles) -> Page:
    refuse_moving(root)
    page = Page(spec)
    for element in root.iter():
        if isinstance(element.get("id"), str):
            page.by_id.setdefault(element.get("id"), element)
        if tag_of(element) == "style":
            page.rules += sheet_of(element)
    page.rules.sort(key=lambda rule: rule.weight)
    return page


def _outline(page: Page, of: tuple[str, str, float | None]) -> Outline:
    name, source, unit = of
    if not page.shapes:
        raise Unusable("nothing is filled in it; give its shapes a fill")
    shades = sorted({shape.shade for shape in page.shapes})
    if len(shades) > 1:
        shown = ", ".join(clean(shade, 20) for shade in shades[:4])
        raise Unusable(
            f"it is painted in several colours ({shown}); leave one, and cut holes out of the shape itself"
        )
    contours = _contours(page.shapes)
    flipped = tuple(tuple(piece * (1.0, -1.0) for piece in contour) for contour in contours)
    groups = tuple((len(shape.contours), shape.rule) for shape in page.shapes)
    return Outline(
        name=name,
        source=source,
        contours=flipped,
        fill_rule=page.shapes[0].rule,
        unit_mm=unit,
        groups=groups if len(groups) > 1 else (),
    )


def _contours(shapes: list[Painted]) -> tuple[Contour, ...]:
    return tuple(contour for shape in shapes for contour in shape.contours)


def _walk(element, page: Page, space: Space, parent: dict[str, str], depth: int, used_by=None) -> None:
    """Add what an element and all below it paints; `used_by` is the use element that shows it."""
    page.visited += 1
    if depth > DEEPEST or page.visited > MOST_SHAPES:
        raise Unusable("it uses itself, or repeats parts, without end; draw the parts out")
    tag = tag_of(element)
    known = tag in (*SHAPES, "use", "g", "a", "svg") or (tag == "symbol" and used_by is not None)
    if tag and not element.tag.startswith(SVG):
        return
    style = computed(tag, element.attrib, parent, page.rules)
    if not is_shown(style):
        return
    space = space.faded(opacity(style.get("opacity", "1"), "opacity"))
    if space.opacity < SEEN:
        return
    refuse_kind(element)
    if not known:
        return
    refuse_effects(style, element)
    refuse_sized(style, element)
    space = space.moved(transform_matrix(element.get("transform", "")))
    if tag in SHAPES:
        _paint(tag, element, page, space, style)
    elif tag == "use":
        _use(element, page, space, style, depth)
    elif tag in ("svg", "symbol"):
        _framed(element, page, space, (style, used_by), depth)
    else:
        _walk_children(element, page, space, style, depth)


def _walk_children(element, page: Page, space: Space, style: dict[str, str], depth: int) -> None:
    for child in element:
        _walk(child, page, space, style, depth + 1)


def _use(element, page: Page, space: Space, style: dict[str, str], depth: int) -> None:
    link = link_of(element)
    target = page.by_id.get(link[1:]) if link.startswith("#") else None
    if target is None:
        raise Unusable(
            f"it uses {clean(link, 40)!r}, which is not in the drawing itself; copy that part into it"
        )
    there = moved(number(element, "x", space), number(element, "y", space))
    _walk(target, page, space.moved(there), style, depth + 1, element)


def _framed(element, page: Page, space: Space, of: tuple[dict[str, str], object], depth: int) -> None:
    """A nested drawing or a symbol, which is cut off at its own edge."""
    style, used_by = of
    view = nested_view(element, used_by, space)
    if view is None:
        return
    inside, before = replace(space.moved(view.matrix), size=view.size), len(page.shapes)
    _walk_children(element, page, inside, style, depth)
    if style.get("overflow", "hidden").lower() not in ("visible", "auto"):
        what = "the nested drawing or symbol that holds it"
        refuse_outside(_contours(page.shapes[before:]), view.seen, inside.matrix, what)


def _paint(tag: str, element, page: Page, space: Space, style: dict[str, str]) -> None:
    """Add the filled contours of a basic shape or a path, and its stroke where that is asked for."""
    fill = None if tag == "line" else paint(style, "fill", space.opacity)
    stroke = paint(style, "stroke", space.opacity) if page.spec.strokes != "ignore" else None
    width = length(style["stroke-width"], "stroke-width", space) if stroke else 0.0
    if not is_visible(style) or not (fill or width):
        return
    subpaths = shape_subpaths(tag, element, space)
    if not subpaths:
        return
    if width and page.spec.strokes == "refuse":
        kind = "its fill is widened by a stroke" if fill else "it is drawn in strokes without fill"
        raise Unusable(f"{kind}; turn strokes into paths, or say strokes: outline or strokes: ignore")
    if fill:
        refuse_clear(fill.colour, page.by_id, page.rules)
        _add(page, _filled(subpaths, space), _fill_rule(style), fill.shade)
    if width:
        _refuse_gradient(stroke.colour)
        _add(page, _stroked(subpaths, width, style, space), "evenodd", stroke.shade)


def _add(page: Page, contours: list[Contour], rule: str, shade: str) -> None:
    kept = tuple(contour for contour in contours if contour)
    if kept:
        page.shapes.append(Painted(kept, rule, shade))


def _filled(subpaths: list[Subpath], space: Space) -> list[Contour]:
    return [closed([placed(piece, space.matrix) for piece in subpath.pieces]) for subpath in subpaths]


def _stroked(subpaths: list[Subpath], width: float, style: dict[str, str], space: Space) -> list[Contour]:
    from kit.outlines.svgstroke import stroked  # few drawings need it

    return stroked(subpaths, width, style, space.matrix)


def _refuse_gradient(stroke: str) -> None:
    if stroke.startswith("url("):
        raise Unusable("its stroke is painted with a gradient or pattern; give it a plain colour")


def _fill_rule(style: dict[str, str]) -> str:
    rule = style["fill-rule"].lower()
    if rule not in ("nonzero", "evenodd"):
        raise Unusable(f"its fill-rule {clean(rule, 20)!r} is none; write nonzero or evenodd")
    return rule
