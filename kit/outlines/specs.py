"""Where outlines come from, in plain values: one frozen object for an entry under ``outlines``."""

from __future__ import annotations

from dataclasses import dataclass

Labels = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Choose:
    """A sampling frame for large collections.

    Attributes
    ----------
    styles : tuple of str
        Styles looked at, as the fonts name them, letter case ignored; empty: all.
    families : int or None
        So many families are drawn at random; None: all.
    seed : int
        Of the draw: the same files and seed give the same families.
    """

    styles: tuple[str, ...] = ()
    families: int | None = None
    seed: int = 1


@dataclass(frozen=True)
class FontFiles:
    """Letterforms from font files.

    Attributes
    ----------
    files : tuple of str
        Files, folders, globs; ``installed:package/file`` for a file inside an installed package.
    characters : tuple of str
        Ranges (``A-Z``), single characters, strings of characters, or ``glyph:name``.
    axes : tuple of (axis tag, values)
        Variable fonts: every combination of these; empty: the default instance.
    instances : tuple of str
        Variable fonts: named instances; ``all`` for every one.
    choose : Choose or None
    labels : str
        CSV file whose first column is ``file`` and whose others are labels; empty: none.
    """

    files: tuple[str, ...]
    characters: tuple[str, ...] = ("A-Z",)
    axes: tuple[tuple[str, tuple[float, ...]], ...] = ()
    instances: tuple[str, ...] = ()
    choose: Choose | None = None
    labels: str = ""


@dataclass(frozen=True)
class FontFaces(FontFiles):
    """The same of the faces that the sampling frame chose out of one file, by their numbers in it."""

    faces: tuple[int, ...] = ()


@dataclass(frozen=True)
class SvgFiles:
    """SVG drawings, an outline each.

    Attributes
    ----------
    files : tuple of str
    unit_mm : float or None
        Millimetres in a drawn unit, used only where the drawing does not say.
    strokes : {"refuse", "ignore", "outline"}
        What becomes of painted strokes: the drawing is left out; the fill alone counts; the stroke's
        own outline counts too.
    labels : str
    """

    files: tuple[str, ...]
    unit_mm: float | None = None
    strokes: str = "refuse"
    labels: str = ""


@dataclass(frozen=True)
class DxfFiles:
    """DXF drawings, an outline each.

    Attributes
    ----------
    files : tuple of str
    layers : tuple of str
        Layers read; empty: all that are on.
    gap_mm : float
        End points no further apart than this are joined.
    unit_mm : float or None
        Millimetres in a drawn unit, used only where the drawing does not say.
    labels : str
    """

    files: tuple[str, ...]
    layers: tuple[str, ...] = ()
    gap_mm: float = 0.01
    unit_mm: float | None = None
    labels: str = ""


@dataclass(frozen=True)
class PointFiles:
    """CSV files of rings (columns ``ring, x, y``), an outline each; even-odd: a ring in a ring is a hole."""

    files: tuple[str, ...]
    unit_mm: float | None = 1.0
    labels: str = ""


@dataclass(frozen=True)
class Shape:
    """A standard shape by its dimensions, or a rolled one by its designation.

    Attributes
    ----------
    name : str
    shape : str
        ``rectangle``, ``circle``, ``ellipse``, ``tube``, ``square-tube``, ``i-section``, ``t-section``,
        ``channel``, ``angle``; may be empty where a designation is given.
    dimensions : tuple of (name, mm)
    designation : str
        Such as ``IPE 200``.
    labels : tuple of (column, value)
    """

    name: str
    shape: str = ""
    dimensions: tuple[tuple[str, float], ...] = ()
    designation: str = ""
    labels: Labels = ()


Spec = FontFiles | SvgFiles | DxfFiles | PointFiles | Shape
