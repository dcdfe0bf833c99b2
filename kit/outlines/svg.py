"""SVG drawings: what a viewer fills, as one outline; what cannot be reproduced is refused with its reason."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from kit.errors import Unusable
from kit.outlines.arcs import closed, ellipse_arc, rounded
from kit.outlines.outline import Contour, Outline, clean
from kit.outlines.specs import SvgFiles
from kit.outlines.svgpath import NUMBER, path_contours, transform_matrix
from kit.outlines.svgseen import placed, refuse_effects, refuse_kind, refuse_outside, refuse_pattern, tag_of
from kit.outlines.svgstyle import INITIAL, Rule, computed, is_zero, paint, style_sheet
from kit.outlines.worker import Progress
from kit.outlines.xmlsafe import parse

SVG, XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}"
MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "px": 25.4 / 96, "q": 0.25}
LENGTH = re.compile(rf"\s*({NUMBER})\s*([A-Za-z]*|%)\s*")
SHAPES = ("path", "rect", "circle", "ellipse", "polygon", "polyline", "line")
UNSEEN = ("defs", "symbol", "title", "desc", "metadata", "style", "clipPath", "mask", "marker", "pattern")
UNSEEN += ("linearGradient", "radialGradient", "filter", "view", "namedview")
DEEPEST, MOST_SHAPES = 60, 20_000


@dataclass(frozen=True)
class Painted:
    """One filled shape: its contours in page units (y down), fill rule and colour."""

    contours: tuple[Contour, ...]
    rule: str
    colour: str


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
    page = Page(spec)
    for element in root.iter():
        if isinstance(element.get("id"), str):
            page.by_id.setdefault(element.get("id"), element)
        if tag_of(element) == "style":
            page.rules += style_sheet("".join(element.itertext()))
    page.rules.sort(key=lambda rule: rule.weight)
    matrix, unit = _page_units(root, spec)
    style = computed("svg", root.attrib, INITIAL, page.rules)
    refuse_effects(style)
    _walk_children(root, page, matrix, style, 0)
    return _outline(page, root, (name, source, unit), matrix)


def _outline(page: Page, root, of: tuple[str, str, float | None], matrix: np.ndarray) -> Outline:
    name, source, unit = of
    if not page.shapes:
        raise Unusable("nothing is filled in it; give its shapes a fill")
    colours = sorted({shape.colour for shape in page.shapes})
    if len(colours) > 1:
        shown = ", ".join(clean(c, 20) for c in colours[:4])
        raise Unusable(
            f"it is painted in several colours ({shown}); leave one, and cut holes out of the shape itself"
        )
    contours = tuple(contour for shape in page.shapes for contour in shape.contours)
    _refuse_off_page(contours, root, matrix)
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


def _walk(element, page: Page, matrix: np.ndarray, parent: dict[str, str], depth: int) -> None:
    """Add what an element and all below it paints."""
    page.visited += 1
    if depth > DEEPEST or page.visited > MOST_SHAPES:
        raise Unusable("it uses itself, or repeats parts, without end; draw the parts out")
    tag = tag_of(element)
    if tag in UNSEEN or not isinstance(element.tag, str) or not element.tag.startswith((SVG, tag)):
        return
    style = computed(tag, element.attrib, parent, page.rules)
    if style.get("display", "inline") == "none" or is_zero(style.get("opacity", "1")):
        return
    refuse_kind(element)
    refuse_effects(style, tag in SHAPES or tag == "use")
    matrix = matrix @ transform_matrix(element.get("transform", ""))
    if tag in SHAPES:
        _paint(tag, element, page, matrix, style)
    elif tag == "use":
        _use(element, page, matrix, style, depth)
    elif tag in ("g", "a"):
        _walk_children(element, page, matrix, style, depth)
    elif tag == "svg":
        before = len(page.shapes)
        _walk_children(element, page, matrix @ _viewport(element, element), style, depth)
        _refuse_cut_off(page.shapes[before:], (element, element), style, matrix)


def _walk_children(element, page: Page, matrix, style, depth: int) -> None:
    for child in element:
        _walk(child, page, matrix, style, depth + 1)


def _use(element, page: Page, matrix: np.ndarray, style: dict[str, str], depth: int) -> None:
    link = element.get("href", element.get(f"{XLINK}href", ""))
    target = page.by_id.get(link[1:]) if link.startswith("#") else None
    if target is None:
        raise Unusable(
            f"it uses {clean(link, 40)!r}, which is not in the drawing itself; copy that part into it"
        )
    x, y = _number(element, "x"), _number(element, "y")
    matrix = matrix @ _moved(x, y)
    if tag_of(target) != "symbol":
        _walk(target, page, matrix, style, depth + 1)
        return
    style, before = computed("symbol", target.attrib, style, page.rules), len(page.shapes)
    matrix = matrix @ transform_matrix(target.get("transform", ""))
    _walk_children(target, page, matrix @ _viewport(target, element, at=False), style, depth + 1)
    _refuse_cut_off(page.shapes[before:], (target, element), style, matrix @ _moved(-x, -y))


def _refuse_cut_off(shapes: list[Painted], sized, style: dict[str, str], matrix: np.ndarray) -> None:
    """A nested drawing or a symbol is cut off at its own edge, where it has one."""
    element, by = sized
    texts = [by.get(key) or element.get(key) or "100%" for key in ("width", "height")]
    if style.get("overflow") in ("visible", "auto") or any(text.strip().endswith("%") for text in texts):
        return
    box = [_number(by, "x"), _number(by, "y"), *(_length(text, "width") for text in texts)]
    contours = tuple(contour for shape in shapes for contour in shape.contours)
    refuse_outside(contours, np.array(box), matrix, "the nested drawing or symbol that holds it")


def _refuse_off_page(contours: tuple[Contour, ...], root, matrix: np.ndarray) -> None:
    """A viewer cuts the drawing off at the edge of its page."""
    box = _view_box(root)
    if box is None:
        sides = [LENGTH.fullmatch(root.get(key, "")) for key in ("width", "height")]
        if not all(sides) or any(side[2] not in ("", "px") for side in sides):
            return
        box = np.array([0.0, 0.0, *(float(side[1]) for side in sides)])
    elif "slice" in root.get("preserveAspectRatio", ""):
        raise Unusable("its page is cut off (preserveAspectRatio slice); save it with a page that shows all")
    if root.get("overflow") != "visible":
        refuse_outside(contours, box, matrix, "the page")


def _paint(tag: str, element, page: Page, matrix: np.ndarray, style: dict[str, str]) -> None:
    """Add the filled contours of a basic shape or a path, and its stroke where that is asked for."""
    if style.get("visibility", "visible") in ("hidden", "collapse"):
        return
    fill, stroke = paint(style, "fill"), paint(style, "stroke")
    width = _length(style.get("stroke-width", "1"), "stroke-width")
    if width == 0:
        stroke = ""
    refuse_pattern(fill, page.by_id)
    if stroke and page.spec.strokes == "refuse":
        kind = (
            "its fill is widened by a stroke"
            if fill and tag != "line"
            else "it is drawn in strokes without fill"
        )
        raise Unusable(f"{kind}; turn strokes into paths, or say strokes: outline or strokes: ignore")
    pieces = _shape_pieces(tag, element)
    if fill and tag != "line":
        contours = (closed([placed(p, matrix) for p in contour]) for contour in pieces)
        kept = tuple(contour for contour in contours if contour)
        rule = style.get("fill-rule", "nonzero")
        if kept:
            page.shapes.append(Painted(kept, "evenodd" if rule == "evenodd" else "nonzero", fill))
    if stroke and page.spec.strokes == "outline":
        from kit.outlines.svgstroke import stroked

        contours = stroked(pieces, _is_closed(tag, element), style | {"stroke-width": f"{width!r}"}, matrix)
        page.shapes.append(Painted(tuple(contours), "evenodd", fill or stroke))


def _is_closed(tag: str, element) -> bool:
    return tag in ("rect", "circle", "ellipse", "polygon") or "z" in element.get("d", "").lower()


def _shape_pieces(tag: str, element) -> list[list[np.ndarray]]:
    """Contours of a shape in its own units, y down."""
    if tag == "path":
        return path_contours(element.get("d", ""))
    if tag in ("polygon", "polyline"):
        return _polygon(element.get("points", ""))
    if tag == "line":
        ends = [(_number(element, f"x{i}"), _number(element, f"y{i}")) for i in (1, 2)]
        return [[np.array(ends)]]
    if tag == "rect":
        return _rect(element)
    rx = _number(element, "r" if tag == "circle" else "rx")
    ry = rx if tag == "circle" else _number(element, "ry")
    if rx <= 0 or ry <= 0:
        return []
    centre = (_number(element, "cx"), _number(element, "cy"))
    return [ellipse_arc(np.diag([rx, ry]), centre, 0.0, 2 * math.pi)]


def _polygon(text: str) -> list[list[np.ndarray]]:
    numbers = re.findall(NUMBER, text)
    if re.sub(rf"{NUMBER}|[\s,]", "", text) or len(numbers) % 2:
        raise Unusable("the points of a polygon cannot be read; save the drawing again")
    points = np.array(numbers, float).reshape(-1, 2)
    return [list(np.stack([points[:-1], points[1:]], axis=1))] if len(points) > 2 else []


def _rect(element) -> list[list[np.ndarray]]:
    x, y, w, h = (_number(element, key) for key in ("x", "y", "width", "height"))
    if w <= 0 or h <= 0:
        return []
    rx, ry = (_number(element, key) if element.get(key, "auto") != "auto" else None for key in ("rx", "ry"))
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        return [list(rounded([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], [0] * 4))]
    # Drawn with round corners of radius 1 and stretched, so that rx and ry may differ.
    w, h = w / rx, h / ry
    corners = rounded([(0, 0), (w, 0), (w, h), (0, h)], [1] * 4)
    return [[piece * (rx, ry) + (x, y) for piece in corners]]


def _page_units(root, spec: SvgFiles) -> tuple[np.ndarray, float | None]:
    """Matrix from user units to page units, and the millimetres in a page unit."""
    width, unit = _stated(root.get("width"))
    height, _ = _stated(root.get("height"))
    box = _view_box(root)
    if width is None:  # the drawing says no length
        return np.eye(3), spec.unit_mm
    if not unit:  # a bare number: what the study says, or pixels at 96 an inch
        width, height = width * MM["px"], (height or 0.0) * MM["px"]
        if spec.unit_mm:
            return np.eye(3), spec.unit_mm
    if box is None:
        return np.eye(3), MM["px"]
    scale = _fit_scale(root, np.array([width, height if height else width * box[3] / box[2]]), box)
    return np.diag([1.0, scale[1] / scale[0], 1.0]), float(scale[0])


def _fit_scale(element, size: np.ndarray, box: np.ndarray) -> np.ndarray:
    scale = size / box[2:]
    how = element.get("preserveAspectRatio", "xMidYMid meet")
    if how.split()[:1] == ["none"]:
        return scale
    return np.full(2, scale.max() if "slice" in how else scale.min())


def _viewport(element, sized, at: bool = True) -> np.ndarray:
    """Matrix of a nested svg or a used symbol: placed at x, y, its viewBox fitted to width and height."""
    box = _view_box(element)
    there = _moved(_number(sized, "x"), _number(sized, "y")) if at else np.eye(3)
    if box is None:
        return there
    keys = ("width", "height")
    texts = [sized.get(k) or element.get(k) or "100%" for k in keys]
    if any(t.strip().endswith("%") for t in texts):
        raise Unusable("a nested drawing with a viewBox has no width and height of its own; draw it out")
    size = np.array([_length(t, k) for t, k in zip(texts, keys, strict=True)])
    scale = _fit_scale(element, size, box)
    align = element.get("preserveAspectRatio", "xMidYMid").split()[0]
    share = [{"Min": 0.0, "Mid": 0.5, "Max": 1.0}.get(align[i : i + 3], 0.0) for i in (1, 5)]
    start = np.array(share) * (size - scale * box[2:]) - scale * box[:2]
    return there @ _moved(*start) @ np.diag([*scale, 1.0])


def _view_box(element) -> np.ndarray | None:
    text = element.get("viewBox")
    if text is None:
        return None
    numbers = re.findall(NUMBER, text)
    box = np.array(numbers, float) if len(numbers) == 4 else np.zeros(4)
    if not (np.isfinite(box).all() and (box[2:] > 0).all()):
        raise Unusable(f"its viewBox {clean(text, 40)!r} is no page; give x, y, width, height")
    return box


def _stated(text: str | None) -> tuple[float | None, str]:
    """A length in mm and its unit; without a unit the number itself; None where nothing is said."""
    found = LENGTH.fullmatch(text or "")
    if not found or found[2] == "%" or found[2].lower() in ("em", "ex", "auto"):
        return None, ""
    unit = found[2].lower()
    if unit and unit not in MM:
        raise Unusable(
            f"its width or height {clean(text, 20)!r} has an unknown unit; use mm, cm, in, pt or px"
        )
    value = float(found[1]) * MM.get(unit, 1.0)
    return (value, unit) if 0 < value < 1e9 else (None, "")


def _length(text: str, key: str) -> float:
    """A length in user units (px)."""
    found = LENGTH.fullmatch(text)
    unit = found[2].lower() if found else ""
    if not found or (unit and unit not in MM):
        raise Unusable(f"{key} {clean(text, 20)!r} cannot be used here; write a plain number")
    value = float(found[1]) * (MM[unit] / MM["px"] if unit else 1.0)
    if not math.isfinite(value):
        raise Unusable(f"{key} {clean(text, 20)!r} is no finite number; save the drawing again")
    return value


def _number(element, key: str) -> float:
    return _length(element.get(key, "0"), key)


def _moved(x: float, y: float) -> np.ndarray:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
