"""What a page, a nested drawing or a symbol shows of an SVG drawing, and at which scale (SVG 2, "Coordinate systems")."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from kit.errors import Unusable
from kit.outlines.outline import clean
from kit.outlines.svglengths import LENGTH, MM, Space, length, moved, number
from kit.outlines.svgpath import numbers_of

FIT = re.compile(r"\s*(?:none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?\s*")
SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


@dataclass(frozen=True)
class View:
    """A window onto a drawing.

    Attributes
    ----------
    matrix : (3, 3) float array
        From the user space inside to the units outside.
    seen : (4,) float array: x, y, width, height, user units inside
        What is shown; all else is cut off. Infinite where nobody says.
    size : (width, height), user units inside
        What percentages are of; NaN where nobody says.
    """

    matrix: np.ndarray
    seen: np.ndarray
    size: tuple[float, float]


def page_view(root, style: dict[str, str], stated_mm: float | None) -> tuple[View, float | None]:
    """The window of the page itself, onto page units, and the millimetres in one of these.

    Parameters
    ----------
    root : element
    style : dict
        Its computed properties.
    stated_mm : float or None
        Unit that the study states for drawings that do not say.
    """
    sides = [_side(root, style, key) for key in ("width", "height")]
    size, says = np.array([value for value, _ in sides]), any(unit for _, unit in sides)
    known, box = np.isfinite(size), view_box(root)
    if box is None:
        unit = stated_mm if stated_mm and not says else MM["px"]
        return _plain(size / MM["px"]), unit if known.any() else stated_mm
    if not _fit(root)[1] and not known.all():
        raise Unusable(
            "its page is stretched to whatever shows it (preserveAspectRatio); state width and height"
        )
    if not known.any():
        return View(np.eye(3), box, tuple(box[2:])), stated_mm
    size = np.where(known, size, size[::-1] * box[2:] / box[:1:-1])
    view = _fitted(size, box, root)
    scale = np.diag(view.matrix)[:2]
    if stated_mm and not says:
        if not math.isclose(*scale, rel_tol=1e-9):
            raise Unusable(
                "its page is stretched (preserveAspectRatio none), so that a unit is not one length; "
                "give its width and height a unit, such as mm"
            )
        return View(np.eye(3), view.seen, view.size), stated_mm
    return View(np.diag([1.0, scale[1] / scale[0], 1.0]), view.seen, view.size), float(scale[0])


def nested_view(element, used_by, space: Space) -> View | None:
    """The window of a nested svg, or of a symbol or svg that is used; None where it shows nothing.

    Parameters
    ----------
    element : the svg or symbol
    used_by : the use element, or None
        Its width and height come before the element's own.
    space : Space
        Outside.
    """
    texts = {}
    for key in ("width", "height"):
        given = [one.get(key) for one in (used_by, element) if one is not None]
        texts[key] = next((text for text in given if text and text.strip() != "auto"), "100%")
    box, unknown = view_box(element), not np.isfinite(space.size).all()
    if unknown and any("%" in text for text in texts.values()):
        if box is not None:
            raise Unusable("a nested drawing with a viewBox has no width and height of its own; draw it out")
        size = np.full(2, np.nan)
    else:
        size = np.array([length(text, key, space) for key, text in texts.items()])
    if (size <= 0).any():
        return None
    view = _plain(size) if box is None else _fitted(size, box, element)
    if element.tag.endswith("symbol"):
        if any(element.get(key, "0") != "0" for key in ("x", "y", "refX", "refY")):
            raise Unusable(
                "a symbol in it has a place of its own, which viewers differ about; leave x, y, refX, refY out"
            )
        return view
    there = moved(number(element, "x", space), number(element, "y", space))
    return View(there @ view.matrix, view.seen, view.size)


def view_box(element) -> np.ndarray | None:
    """x, y, width, height of a viewBox, where there is one."""
    text = element.get("viewBox")
    if text is None:
        return None
    box = np.array(numbers_of(text) or [])
    if not (box.shape == (4,) and np.isfinite(box).all() and (box[2:] > 0).all()):
        raise Unusable(f"its viewBox {clean(text, 40)!r} is no page; give x, y, width, height")
    return box


def _plain(size: np.ndarray) -> View:
    seen = np.where(np.isfinite(size), size, np.inf)
    return View(np.eye(3), np.array([0.0, 0.0, *seen]), tuple(size))


def _fitted(size: np.ndarray, box: np.ndarray, element) -> View:
    """A viewBox fitted into a size."""
    how = _fit(element)
    scale = size / box[2:]
    if how[1]:
        scale = np.full(2, scale.max() if how[3] == "slice" else scale.min())
    share = np.array([SHARE[how[1]], SHARE[how[2]]]) if how[1] else np.zeros(2)
    start = share * (size - scale * box[2:]) - scale * box[:2]
    seen = np.concatenate([-start / scale, size / scale])
    return View(moved(*start) @ np.diag([*scale, 1.0]), seen, tuple(box[2:]))


def _fit(element) -> re.Match:
    return FIT.fullmatch(element.get("preserveAspectRatio", "")) or FIT.fullmatch("xMidYMid")


def _side(root, style: dict[str, str], key: str) -> tuple[float, str]:
    """Width or height of the page in mm, NaN where it is left to the viewer, and its unit where it has one."""
    text, styled = root.get(key, "").strip(), style.get(f"styled {key}", "auto").strip()
    if not _is_left(styled) and styled != text:
        raise Unusable(f"its page is sized by a style ({key}); write it as an attribute")
    found = LENGTH.fullmatch(text)
    unit = found[2].lower() if found else ""
    if not text or _is_left(text):
        return math.nan, ""
    if not found or (unit and unit not in MM):
        raise Unusable(
            f"its {key} {clean(text, 20)!r} has no unit that can be read; write it with mm, cm, in, pt or px"
        )
    value = float(found[1]) * MM[unit or "px"]
    if not 0 < value < 1e9:
        raise Unusable(f"its {key} {clean(text, 20)!r} is no size of a page; state the real one")
    return value, unit


def _is_left(text: str) -> bool:
    """Whether a size is left to the viewer."""
    found = LENGTH.fullmatch(text)
    return text.lower() == "auto" or bool(found and found[2].lower() in ("em", "ex", "%"))
