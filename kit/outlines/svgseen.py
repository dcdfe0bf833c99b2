"""What decides what a viewer shows of an SVG drawing beside its fills: reproduced, or refused with the reason."""

from __future__ import annotations

import numpy as np

from kit.errors import Unusable
from kit.outlines.flattening import bounds
from kit.outlines.outline import Contour, clean

REFUSED = {
    "text": "text; turn it into paths",
    "image": "an embedded picture; trace it into paths",
    "foreignObject": "foreign content; draw it as paths",
    "script": "a script, which may change what is seen; remove it",
    "switch": "alternatives (switch); keep one of them",
    **dict.fromkeys(("animate", "animateTransform", "animateMotion", "set"), "an animation; keep one still"),
}
EFFECTS = ("clip-path", "mask", "filter", "marker", "marker-start", "marker-mid", "marker-end")
MOVES = ("transform", "transform-origin")
SIZES = ("x", "y", "cx", "cy", "r", "rx", "ry", "width", "height", "d")
OUTSIDE = 1e-3  # of the page


def tag_of(element) -> str:
    """An element's name without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def refuse_kind(element) -> None:
    """Refuse what is not drawn in paths and shapes, or moves."""
    for one in (element, *element):  # animations stand inside what they move
        if tag_of(one) in REFUSED:
            raise Unusable(f"it holds {REFUSED[tag_of(one)]}")


def refuse_effects(style: dict[str, str], shape: bool = False) -> None:
    """Refuse properties that cut, move or add to what is drawn."""
    for key in EFFECTS:
        if style.get(key, "none") != "none":
            raise Unusable(
                f"what is seen of it is decided by a {key}; apply it in the drawing program and save again"
            )
    for key in MOVES:
        if style.get(key, "none") != "none":
            raise Unusable(f"it is moved by a style ({key}); write it as a transform attribute")
    for key in SIZES if shape else ():
        if f"styled {key}" in style:
            raise Unusable(f"it is sized by a style ({key}); write it as an attribute")


def refuse_pattern(colour: str, by_id: dict) -> None:
    """Refuse a fill that leaves parts of the shape clear: a pattern, or a gradient that fades."""
    if not colour.startswith("url("):
        return
    name = colour[4:].partition(")")[0].strip(" \"'").removeprefix("#")
    found = next((one for key, one in by_id.items() if key.lower() == name), None)
    if found is None or tag_of(found) not in ("linearGradient", "radialGradient"):
        kind = "a pattern" if found is not None else f"{clean(name, 30)!r}, which is not in it,"
        raise Unusable(f"it is filled with {kind} where a plain colour is needed; fill it plainly")
    for stop in found:
        if "opacity" in stop.get("style", "") or stop.get("stop-opacity", "1").rstrip("%") not in (
            "1",
            "100",
        ):
            raise Unusable("it is filled with a gradient that fades away; fill it plainly")


def refuse_outside(contours: tuple[Contour, ...], box: np.ndarray, matrix: np.ndarray, what: str) -> None:
    """Refuse a drawing of which a viewer cuts something off.

    Parameters
    ----------
    contours : tuple of contours, page units
    box : (x, y, width, height)
        What is seen.
    matrix : (3, 3) float array
        From the box's units to page units.
    what : str
        Whose edge it is, for the message.
    """
    if abs(np.linalg.det(matrix)) < 1e-300 or not contours:
        return
    back = np.linalg.inv(matrix)
    found = bounds(tuple(tuple(placed(piece, back) for piece in contour) for contour in contours))
    slack = OUTSIDE * max(box[2:])
    if (found[:2] < box[:2] - slack).any() or (found[2:] > box[:2] + box[2:] + slack).any():
        raise Unusable(f"part of it lies outside {what} and is not seen; enlarge it or move the part")


def placed(points: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """Points moved by a (3, 3) matrix."""
    return points @ matrix[:2, :2].T + matrix[:2, 2]
