"""Glyphs of an open font as contours of Bézier pieces."""

from __future__ import annotations

import re

import numpy as np
from fontTools.pens.basePen import BasePen

from kit.errors import InputError, Unusable
from kit.outlines.outline import Contour

MOST_PIECES = 50_000
RANGE = re.compile(r".-.", re.DOTALL)
PARTS = re.compile(r"(.)-(.)|(.)", re.DOTALL)
GLYPH = "glyph:"


class ContourPen(BasePen):
    """Collects contours as Bézier pieces; components are drawn in place."""

    def __init__(self, glyphs):
        super().__init__(glyphs)
        self.contours: list[Contour] = []
        self._pieces: list[np.ndarray] = []
        self._count = 0

    def _moveTo(self, point):
        self._finish()
        self._start = self._at = point

    def _add(self, *points):
        self._count += 1
        if self._count > MOST_PIECES:
            raise Unusable(f"the glyph has more than {MOST_PIECES} curves; it is not a letterform to cut")
        if any(p != self._at for p in points):
            self._pieces.append(np.array((self._at, *points), float))
        self._at = points[-1]

    def _lineTo(self, point):
        self._add(point)

    def _qCurveToOne(self, control, point):
        self._add(control, point)

    def _curveToOne(self, first, second, point):
        self._add(first, second, point)

    def _closePath(self):
        self._finish()

    def _endPath(self):
        self._finish()

    def _finish(self):
        if self._pieces:
            if self._at != self._start:
                self._add(self._start)
            self.contours.append(tuple(self._pieces))
        self._pieces = []


def glyph_contours(glyphs, name: str) -> tuple[Contour, ...]:
    """Contours of one glyph, font units.

    Parameters
    ----------
    glyphs : fontTools glyph set
    name : str

    Raises
    ------
    Unusable
        If the glyph has no contours.
    """
    pen = ContourPen(glyphs)
    glyphs[name].draw(pen)
    pen._finish()
    if not pen.contours:
        raise Unusable("the glyph is empty (a space, or not drawn in this font)")
    return tuple(pen.contours)


def expand(characters: tuple[str, ...]) -> tuple[str, ...]:
    """Single characters (and ``glyph:name`` entries) from ranges, lists and strings, each once, in order.

    >>> expand(("A-C", "xy", "glyph:a.alt", "-"))
    ('A', 'B', 'C', 'x', 'y', 'glyph:a.alt', '-')
    >>> expand(("A-C, 0-2", "x-z7-9&"))
    ('A', 'B', 'C', '0', '1', '2', 'x', 'y', 'z', '7', '8', '9', '&')

    Raises
    ------
    InputError
        For a range that runs backwards, or an entry that names nothing.
    """
    found: dict[str, None] = {}
    for entry in characters:
        found.update(dict.fromkeys(_expand_one(entry)))
    if not found:
        raise InputError("no characters", "characters", "give ranges (A-Z), characters or glyph:name")
    return tuple(found)


def _expand_one(entry: str) -> list[str]:
    """Characters of one entry: a list with commas or blanks, ranges and characters one after the other."""
    if entry == "," or RANGE.fullmatch(entry):
        return _run(entry)
    return [character for word in re.split(r"[\s,]+", entry) for character in _run(word)]


def _run(word: str) -> list[str]:
    """Ranges and characters written one after the other, such as ``A-Z0-9&``."""
    if word.startswith(GLYPH):
        return [word] if len(word) > len(GLYPH) else []
    if re.fullmatch(r"\w[–—]\w", word):
        raise InputError(
            f"{word!r} could be a range or three characters", "characters",
            f"write {word[0]}-{word[2]} with a hyphen, or {word[0]}, {word[1]}, {word[2]}",
        )  # fmt: skip
    return [c for first, last, one in PARTS.findall(word) for c in (one or _range(first, last))]


def _range(first: str, last: str) -> list[str]:
    if last < first:
        raise InputError(
            f"'{first}-{last}' runs backwards", "characters",
            f"write {last}-{first} for the range, or {first}, -, {last} for the three characters",
        )  # fmt: skip
    return [chr(c) for c in range(ord(first), ord(last) + 1)]
