"""Standard shapes by their dimensions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np

from kit.errors import InputError
from kit.outlines.arcs import closed, ellipse_arc, rounded
from kit.outlines.outline import Contour, Outline, clean
from kit.outlines.rolled import rolled
from kit.outlines.specs import Shape

Dimensions = Mapping[str, float]


def outline_of(spec: Shape) -> Outline:
    """The outline of a standard shape, in mm.

    Raises
    ------
    InputError
        If the shape, a dimension or the designation is not known, or the dimensions make no shape.
    """
    shape, given = (spec.shape, dict(spec.dimensions))
    if spec.designation:
        shape, given = rolled(spec.designation, spec.name)
    if shape not in SHAPES:
        raise InputError(
            f"shape: {shape!r} is not a standard shape",
            f"shape ({spec.name})",
            f"use one of {', '.join(SHAPES)}",
        )
    draw, required, optional = SHAPES[shape]
    dims = _complete(given, required, optional, spec.name)
    try:
        contours, radius = draw(dims)
    except ValueError as error:
        raise InputError(f"{shape}: {error}", f"dimensions ({spec.name})", "mend the dimensions") from None
    return Outline(
        name=clean(spec.name), source="shape", contours=contours, unit_mm=1.0,
        internal_radius_mm=radius, labels=spec.labels,
    )  # fmt: skip


def _complete(given: Dimensions, required, optional, name: str) -> dict[str, float]:
    """Dimensions with the optional ones at 0, checked."""
    known = (*required, *optional)
    for key, value in given.items():
        if key not in known:
            raise InputError(
                f"{key!r} is not a dimension of this shape", f"dimensions ({name})", f"use {', '.join(known)}"
            )
        if not (math.isfinite(value) and value >= 0.0 and (value > 0.0 or key in optional)):
            raise InputError(
                f"{key}: {value:g} mm is no size", f"dimensions ({name})", "give a length above zero"
            )
    missing = [key for key in required if key not in given]
    if missing:
        raise InputError(
            f"{', '.join(missing)} missing", f"dimensions ({name})", f"give {', '.join(required)}"
        )
    return dict.fromkeys(optional, 0.0) | dict(given)


def _need(true: bool, message: str) -> None:
    if not true:
        raise ValueError(message)


def _rectangle_contour(width: float, depth: float, radius: float) -> Contour:
    x, y = width / 2, depth / 2
    return rounded([(-x, -y), (x, -y), (x, y), (-x, y)], [radius] * 4)


def _hole(contour: Contour) -> Contour:
    return tuple(piece[::-1].copy() for piece in reversed(contour))


def _rectangle(d: Dimensions):
    _need(2 * d["corner_radius"] < min(d["width"], d["depth"]), "corner_radius is half the side or more")
    return (_rectangle_contour(d["width"], d["depth"], d["corner_radius"]),), math.inf


def _circle(d: Dimensions):
    return (_ellipse_contour(d["diameter"], d["diameter"]),), math.inf


def _ellipse(d: Dimensions):
    return (_ellipse_contour(d["width"], d["depth"]),), math.inf


def _ellipse_contour(width: float, depth: float) -> Contour:
    return closed(ellipse_arc(np.diag([width / 2, depth / 2]), (0.0, 0.0), 0.0, 2 * math.pi))


def _tube(d: Dimensions):
    inner = d["diameter"] - 2 * d["wall"]
    _need(inner > 0, "wall is half the diameter or more")
    hole = _hole(_ellipse_contour(inner, inner))
    return (_ellipse_contour(d["diameter"], d["diameter"]), hole), inner / 2


def _square_tube(d: Dimensions):
    depth, wall, outer = d["depth"], d["wall"], d["outer_radius"]
    width = d["width"] or depth
    inner = d["inner_radius"] or max(outer - wall, 0.0)
    _need(2 * wall < min(width, depth), "wall is half the side or more")
    _need(2 * outer < min(width, depth), "outer_radius is half the side or more")
    _need(2 * inner < min(width, depth) - 2 * wall, "inner_radius does not fit into the inside")
    hole = _hole(_rectangle_contour(width - 2 * wall, depth - 2 * wall, inner))
    return (_rectangle_contour(width, depth, outer), hole), inner


def _i_section(d: Dimensions):
    h, root, web = d["depth"], d["root_radius"], d["web"] / 2
    top, bottom = (d["top_width"] or d["width"]) / 2, d["width"] / 2
    low, high = -h / 2 + d["flange"], h / 2 - (d["top_flange"] or d["flange"])
    _need(high - low > 2 * root, "flanges and root radii leave no web")
    _need(
        web + root < min(top, bottom) or (root == 0 and web < min(top, bottom)),
        "web and root radii are wider than a flange",
    )
    right = [(bottom, -h / 2), (bottom, low), (web, low), (web, high), (top, high), (top, h / 2)]
    left = [(-x, y) for x, y in reversed(right)]
    radii = [0, 0, root, root, 0, 0]
    return (rounded(right + left, radii + radii),), root


def _t_section(d: Dimensions):
    h, root, web, half = d["depth"], d["root_radius"], d["web"] / 2, d["width"] / 2
    under = h / 2 - d["flange"]
    _need(under - root > -h / 2, "flange and root radius leave no web")
    _need(web + root < half or (root == 0 and web < half), "web and root radii are wider than the flange")
    right = [(web, -h / 2), (web, under), (half, under), (half, h / 2)]
    left = [(-x, y) for x, y in reversed(right)]
    return (rounded(right + left, [0, root, 0, 0, 0, 0, root, 0]),), root


def _channel(d: Dimensions):
    h, b, web, flange, root = d["depth"], d["width"], d["web"], d["flange"], d["root_radius"]
    _need(h - 2 * flange > 2 * root, "flanges and root radii leave no web")
    _need(web + root < b, "web and root radius are wider than the flange")
    y = h / 2
    corners = [(0, -y), (b, -y), (b, -y + flange), (web, -y + flange)]
    corners += [(web, y - flange), (b, y - flange), (b, y), (0, y)]
    return (rounded(corners, [0, 0, 0, root, root, 0, 0, 0]),), root


def _angle(d: Dimensions):
    h, t, root, toe = d["depth"], d["thickness"], d["root_radius"], d["toe_radius"]
    b = d["width"] or h
    _need(t + root + toe < min(b, h), "thickness, root and toe radii are longer than a leg")
    _need(toe < t, "toe_radius is the thickness or more")
    corners = [(0, 0), (b, 0), (b, t), (t, t), (t, h), (0, h)]
    return (rounded(corners, [0, 0, toe, root, toe, 0]),), root


Draw = Callable[[Dimensions], tuple[tuple[Contour, ...], float]]

# shape: how it is drawn, the dimensions it needs, those it may have (0 where they are left out)
SHAPES: dict[str, tuple[Draw, tuple[str, ...], tuple[str, ...]]] = {
    "rectangle": (_rectangle, ("depth", "width"), ("corner_radius",)),
    "circle": (_circle, ("diameter",), ()),
    "ellipse": (_ellipse, ("depth", "width"), ()),
    "tube": (_tube, ("diameter", "wall"), ()),
    "square-tube": (_square_tube, ("depth", "wall"), ("width", "outer_radius", "inner_radius")),
    "i-section": (
        _i_section,
        ("depth", "width", "flange", "web"),
        ("root_radius", "top_width", "top_flange"),
    ),
    "t-section": (_t_section, ("depth", "width", "flange", "web"), ("root_radius",)),
    "channel": (_channel, ("depth", "width", "flange", "web"), ("root_radius",)),
    "angle": (_angle, ("depth", "thickness"), ("width", "root_radius", "toe_radius")),
}
