"""SVG path data and transforms (SVG 1.1 and 2, "Paths" and "Coordinate systems")."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

import numpy as np

from kit.errors import Unusable
from kit.outlines.arcs import ellipse_arc, line

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"  # no digit may be missing after a point
TOKEN = re.compile(rf"\s*,?\s*(?:([Zz]|[MmLlHhVvCcSsQqTtAa](?!\s*,))|({NUMBER}))")
FLAG = re.compile(r"\s*,?\s*([01])")
REST = re.compile(r"\s*,?\s*\Z")
ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
MOST_PIECES = 200_000
TRANSFORM = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)")


class Subpath(NamedTuple):
    """A contour of pieces, and whether its end is joined to its start: a fill joins them anyway, a stroke does not."""

    pieces: list[np.ndarray]
    is_closed: bool


def path_contours(data: str) -> list[list[np.ndarray]]:
    """Contours of path data as a fill sees them: the pieces of `subpaths`."""
    return [subpath.pieces for subpath in subpaths(data)]


def subpaths(data: str) -> list[Subpath]:
    """Contours of path data, in user units, y down as written, each with whether it was closed (Z).

    Raises
    ------
    Unusable
        At the first thing that is not path data: what a viewer shows up to there is not the outline.
    """
    pen = _Pen()
    for command, numbers in _commands(data):
        pen.draw(command, numbers)
        if pen.count > MOST_PIECES:
            raise Unusable(f"a path has more than {MOST_PIECES} pieces; simplify the drawing")
    pen.finish()
    return pen.contours


def numbers_of(text: str) -> list[float] | None:
    """Numbers between blanks and single commas; None for any other text.

    >>> numbers_of("1,-2.5 3e1"), numbers_of("1,,2"), numbers_of("1px 2")
    ([1.0, -2.5, 30.0], None, None)
    """
    if re.sub(rf"{NUMBER}|[\s,]", "", text) or re.search(r",\s*,|^\s*,|,\s*\Z", text):
        return None
    return [float(number) for number in re.findall(NUMBER, text)]


def _commands(data: str):
    """(command letter, its numbers) one after the other; repeated commands written out."""
    at, command, first = 0, "", True
    while not REST.match(data, at):
        token = TOKEN.match(data, at)
        if not token or (first and "," in token[0]):
            raise Unusable(
                f"path data cannot be read at {data[at : at + 20].strip()!r}; save the drawing again"
            )
        if token[1]:
            command, at = token[1], token.end()
            if first and command not in "Mm":
                raise Unusable("path data does not begin with a move (M); save the drawing again")
            first = False
            if command in "Zz":
                yield command, []
                continue
        elif not command or command in "Zz":
            raise Unusable(
                f"path data has a number without a command at {data[at : at + 20]!r}; save it again"
            )
        numbers, at = _numbers(data, at, command.upper())
        yield command, numbers
        command = {"M": "L", "m": "l"}.get(command, command)


def _numbers(data: str, at: int, command: str) -> tuple[list[float], int]:
    numbers = []
    for i in range(ARITY[command]):
        # The flags of an arc may be written without blanks around them: a1 1 0 0110 10.
        found = FLAG.match(data, at) if command == "A" and i in (3, 4) else TOKEN.match(data, at)
        text = found and (found[1] if found.re is FLAG else found[2])
        if not text:
            raise Unusable(
                f"path data: {command} needs {ARITY[command]} numbers, at {data[at : at + 20].strip()!r}; "
                "save the drawing again"
            )
        numbers.append(float(text))
        at = found.end()
    if not all(map(math.isfinite, numbers)):
        raise Unusable("path data holds a number too large to use; save the drawing again")
    return numbers, at


class _Pen:
    """Follows path commands; complex numbers keep the arithmetic of relative points short."""

    def __init__(self):
        self.contours: list[Subpath] = []
        self.count = 0
        self._only_moved = False
        self._pieces: list[np.ndarray] = []
        self._at = self._start = 0j
        self._cubic = self._quadratic = None  # control points that S and T mirror

    def draw(self, command: str, numbers: list[float]) -> None:
        origin = self._at if command.islower() else 0j
        kind = command.upper()
        if kind == "A":
            self._arc(numbers, origin)
        elif kind == "H":
            self._to(complex(numbers[0] + origin.real, self._at.imag))
        elif kind == "V":
            self._to(complex(self._at.real, numbers[0] + origin.imag))
        elif kind == "Z":
            if self._only_moved:  # "M1 2Z" is a point, which the cap of a stroke may make a dot
                self._to(self._at)
            self.finish(is_closed=True)
            self._at = self._start
        else:
            points = [complex(x, y) + origin for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
            getattr(self, f"_{kind.lower()}")(*points)
        if kind not in "CS":
            self._cubic = None
        if kind not in "QT":
            self._quadratic = None
        self.count += 1

    def finish(self, is_closed: bool = False) -> None:
        if self._pieces:
            self.contours.append(Subpath(self._pieces, is_closed))
        self._pieces, self._only_moved = [], False

    def _to(self, *points: complex) -> None:
        self._only_moved = False
        self._pieces.append(np.array([(p.real, p.imag) for p in (self._at, *points)]))
        self._at = points[-1]

    def _m(self, point):
        self.finish()
        self._at = self._start = point
        self._only_moved = True

    def _l(self, point):
        self._to(point)

    def _c(self, first, second, point):
        self._to(first, second, point)
        self._cubic = second

    def _s(self, second, point):
        self._c(self._at if self._cubic is None else 2 * self._at - self._cubic, second, point)

    def _q(self, control, point):
        self._to(control, point)
        self._quadratic = control

    def _t(self, point):
        self._q(self._at if self._quadratic is None else 2 * self._at - self._quadratic, point)

    def _arc(self, numbers: list[float], origin: complex) -> None:
        rx, ry, turned, large, sweep, x, y = numbers
        end = complex(x, y) + origin
        self._only_moved = False
        self._pieces.extend(arc_between(self._at, end, (rx, ry, turned), (bool(large), bool(sweep))))
        self._at = end


def arc_between(start: complex, end: complex, ellipse, flags) -> list[np.ndarray]:
    """Elliptical arc from its end points (SVG 2, appendix B.2.4: conversion to a centre).

    Parameters
    ----------
    start, end : complex
    ellipse : (rx, ry, turned in degrees)
    flags : (large arc, positive sweep)
    """
    rx, ry, turned = abs(ellipse[0]), abs(ellipse[1]), math.radians(ellipse[2])
    if start == end:
        return []
    if rx == 0 or ry == 0:
        return [line((start.real, start.imag), (end.real, end.imag))]
    axis = complex(math.cos(turned), math.sin(turned))
    half = (start - end) / 2 / axis
    u = complex(half.real / rx, half.imag / ry)  # on the unit circle's scale
    if abs(u) > 1.0:  # radii too small for the distance: enlarged until they just reach
        rx, ry, u = rx * abs(u), ry * abs(u), u / abs(u)
    across = math.sqrt(max(0.0, 1.0 / abs(u) ** 2 - 1.0))
    centre = u * 1j * across * (1 if flags[0] == flags[1] else -1)
    first, last = u - centre, -u - centre
    start_angle = math.atan2(first.imag, first.real)
    sweep = (math.atan2(last.imag, last.real) - start_angle) % (2 * math.pi)
    if not flags[1]:
        sweep -= 2 * math.pi
    place = complex(centre.real * rx, centre.imag * ry) * axis + (start + end) / 2
    axes = np.array([[axis.real * rx, axis.imag * rx], [-axis.imag * ry, axis.real * ry]])
    return ellipse_arc(axes, (place.real, place.imag), start_angle, sweep)


def transform_matrix(text: str) -> np.ndarray:
    """A ``transform`` attribute as a (3, 3) matrix acting on columns.

    Raises
    ------
    Unusable
    """
    matrix, at, text = np.eye(3), 0, text.strip()
    while at < len(text):
        found = TRANSFORM.match(text, at) if at or not text.startswith(",") else None
        numbers = numbers_of(found[2]) if found else None
        made = None if numbers is None else _one_transform(found[1], numbers)
        if made is None or not np.isfinite(made).all():
            raise Unusable(
                f"the transform {text[at : at + 30].strip()!r} cannot be read; save the drawing again"
            )
        matrix, at = matrix @ made, found.end()
    return matrix


def _one_transform(name: str, n: list[float]) -> np.ndarray | None:
    if name == "matrix" and len(n) == 6:
        return np.array([[n[0], n[2], n[4]], [n[1], n[3], n[5]], [0, 0, 1]])
    if name == "translate" and len(n) in (1, 2):
        return np.array([[1, 0, n[0]], [0, 1, n[1] if len(n) == 2 else 0], [0, 0, 1.0]])
    if name == "scale" and len(n) in (1, 2):
        return np.diag([n[0], n[-1], 1.0])
    if name == "rotate" and len(n) in (1, 3):
        cos, sin = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
        turn = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
        if len(n) == 1:
            return turn
        there = _one_transform("translate", n[1:])
        return there @ turn @ _one_transform("translate", [-n[1], -n[2]])
    if name in ("skewX", "skewY") and len(n) == 1:
        slope = math.tan(math.radians(n[0]))
        return np.array(
            [[1, slope if name == "skewX" else 0, 0], [slope if name == "skewY" else 0, 1, 0], [0, 0, 1.0]]
        )
    return None
