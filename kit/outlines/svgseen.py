"""What decides what a viewer shows of an SVG drawing beside its fills: reproduced, or refused with the reason."""

from __future__ import annotations

import numpy as np

from kit.errors import Unusable
from kit.outlines.flattening import bounds
from kit.outlines.outline import Contour, clean
from kit.outlines.svgstyle import EFFECTS, MOVES, ORIGINS, SIZES, STYLED_EFFECTS

SVG, XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}"
REFUSED = {
    "text": "text; turn it into paths",
    "image": "an embedded picture; trace it into paths",
    "foreignObject": "foreign content; draw it as paths",
    "switch": "alternatives (switch); keep one of them",
}
MOVING = {
    "script": "a script, which may change what is seen; remove it",
    **dict.fromkeys(
        ("animate", "animateTransform", "animateMotion", "set", "discard"), "an animation; keep one still"
    ),
}
CONDITIONS = ("systemLanguage", "requiredExtensions")
SIZED = ("path", "rect", "circle", "ellipse", "use", "svg", "symbol")
DISPLAYED = ("inline", "block", "inline-block", "flex", "grid", "list-item", "table", "flow-root")
OUTSIDE = 1e-3  # of the page


def tag_of(element) -> str:
    """An element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def link_of(element) -> str:
    """What an element refers to, such as ``#name``."""
    return element.get("href", element.get(f"{XLINK}href", ""))


def refuse_moving(root) -> None:
    """Refuse scripts and animations wherever they stand, for they reach all of the drawing."""
    for element in root.iter():
        if tag_of(element) in MOVING and (tag_of(element) == "script" or element.tag.startswith(SVG)):
            raise Unusable(f"it holds {MOVING[tag_of(element)]}")
        if "onload" in element.attrib:
            raise Unusable(f"it holds {MOVING['script']}")


def is_shown(style: dict[str, str]) -> bool:
    """Whether an element is displayed at all."""
    display = style.get("display", "inline").lower()
    if display not in (*DISPLAYED, "none"):
        raise Unusable(f"it is displayed as {clean(display, 20)!r}; leave display out")
    return display != "none"


def is_visible(style: dict[str, str]) -> bool:
    """Whether a shape is visible."""
    found = style.get("visibility", "visible").lower()
    if found not in ("visible", "hidden", "collapse"):
        raise Unusable(f"its visibility {clean(found, 20)!r} is none; leave it out")
    return found == "visible"


def refuse_kind(element) -> None:
    """Refuse what is not drawn in paths and shapes, or is there for some viewers only."""
    if tag_of(element) in REFUSED:
        raise Unusable(f"it holds {REFUSED[tag_of(element)]}")
    for key in CONDITIONS:
        if key in element.attrib:
            raise Unusable(f"a part of it is there for some viewers only ({key}); keep it or delete it")


def refuse_effects(style: dict[str, str], element) -> None:
    """Refuse properties that cut, move or add to what is drawn."""
    for key in (*EFFECTS, *STYLED_EFFECTS):
        if style.get(key, "none").lower() != "none":
            raise Unusable(
                f"what is seen of it is decided by a {key}; apply it in the drawing program and save again"
            )
    for key in (*MOVES, *(ORIGINS if element.get("transform") else ())):
        if style.get(key, "none").lower() != "none":
            raise Unusable(f"it is moved by a style ({key}); write it as a transform attribute")


def refuse_sized(style: dict[str, str], element) -> None:
    """Refuse sizes given by a style: what viewers make of them differs."""
    for key in SIZES if tag_of(element) in SIZED else ():
        if f"styled {key}" in style:
            raise Unusable(f"it is sized by a style ({key}); write it as an attribute")


def refuse_outside(contours: tuple[Contour, ...], box: np.ndarray, matrix: np.ndarray, what: str) -> None:
    """Refuse a drawing of which a viewer cuts something off.

    Parameters
    ----------
    contours : tuple of contours, page units
    box : (x, y, width, height)
        What is seen; infinite sides are seen without end.
    matrix : (3, 3) float array
        From the box's units to page units.
    what : str
        Whose edge it is, for the message.
    """
    if abs(np.linalg.det(matrix)) < 1e-300 or not contours:
        return
    back = np.linalg.inv(matrix)
    found = bounds(tuple(tuple(placed(piece, back) for piece in contour) for contour in contours))
    sides = np.where(np.isfinite(box[2:]), box[2:], found[2:] - found[:2])
    slack = OUTSIDE * max(sides)
    if (found[:2] < box[:2] - slack).any() or (found[2:] > box[:2] + box[2:] + slack).any():
        raise Unusable(f"part of it lies outside {what} and is not seen; enlarge it or move the part")


def placed(points: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """Points moved by a (3, 3) matrix."""
    return points @ matrix[:2, :2].T + matrix[:2, 2]
