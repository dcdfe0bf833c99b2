"""An outline as it was drawn: closed contours of Bézier pieces, with where they came from."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from kit.errors import Unusable

Contour = tuple[np.ndarray, ...]

LONGEST_NAME = 120
LARGEST_COORDINATE = 1e12


@dataclass(frozen=True)
class Outline:
    """A closed shape as it was drawn.

    Attributes
    ----------
    name : str
        Unique in a study, cleaned for display, such as ``DejaVu Serif Book/A`` or ``heron``.
    source : str
        File name, or ``shape``.
    contours : sequence of tuples of (2 | 3 | 4, 2) float arrays, drawn units
        Given as tuples, kept packed. Closed contours; each piece is a line, a quadratic or a cubic Bézier by
        its control points, and begins where the one before it ends. x to the right, y up.
    fill_rule : {"nonzero", "evenodd"}
    unit_mm : float or None
        Millimetres in a drawn unit; None where the drawing has no size of its own (fonts).
    family, style, font, character : str
        For letterforms; ``font`` is the full name of the face.
    cap_height : float or None, drawn units
        Height of the face's capitals, one for all its characters.
    internal_radius_mm : float or None
        Smallest internal radius as drawn, where it is known exactly; 0 sharp, None unknown.
    licence, embedding : str
        What the font says of its use.
    labels : tuple of (column, value)
        Columns of one's own to group by.
    groups : tuple of (count, fill rule)
        Where a drawing is several filled shapes painted over one another: how many contours each has
        and its own fill rule, in order. Empty: all contours are one shape.
    content : str
        SHA-256 of all that decides what becomes of the outline, made here; names take no part in it.
        Coordinates count as drawn: a glyph in two faces has one hash if its points, cap height and
        embedding permission are equal, and another one at another size of the em.
    """

    name: str
    source: str
    contours: Sequence[Contour]
    fill_rule: str = "nonzero"
    unit_mm: float | None = None
    family: str = ""
    style: str = ""
    font: str = ""
    character: str = ""
    cap_height: float | None = None
    internal_radius_mm: float | None = None
    licence: str = ""
    embedding: str = ""
    labels: tuple[tuple[str, str], ...] = ()
    groups: tuple[tuple[int, str], ...] = ()
    content: str = field(default="")

    def __post_init__(self):
        object.__setattr__(self, "contours", Packed.of(self.contours))
        if not self.content:
            object.__setattr__(self, "content", _content(self))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Outline) and (self.name, self.content) == (other.name, other.content)

    def __hash__(self) -> int:
        return hash((self.name, self.content))

    @property
    def points(self) -> int:
        """Number of control points."""
        _, sizes, _ = self.contours.arrays
        return int(sizes.sum(dtype=int)) - len(sizes)


@dataclass(frozen=True)
class LeftOut:
    """An outline that is not analysed, and the reason a person can act on."""

    source: str
    outline: str
    reason: str


class Packed(Sequence):
    """Contours in three arrays, each contour made of its pieces only when asked for.

    An outline has some forty pieces: as arrays of their own they take ten times the room, in memory and on the
    way between processes.
    """

    __slots__ = ("arrays",)

    def __init__(self, points: np.ndarray, sizes: np.ndarray, counts: np.ndarray):
        self.arrays = points, sizes, counts

    @classmethod
    def of(cls, contours: Sequence[Contour]) -> Packed:
        """Contours packed; what is packed already stays as it is."""
        return contours if isinstance(contours, cls) else cls(*pack(contours))

    def __len__(self) -> int:
        return len(self.arrays[2])

    def __getitem__(self, place):
        return unpack(*self.arrays)[place]

    def __iter__(self) -> Iterator[Contour]:
        return iter(unpack(*self.arrays))


def pack(contours: Sequence[Contour]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Contours as three arrays.

    Returns
    -------
    points : (n, 2) float array
        Control points of all pieces, one after the other.
    sizes : (pieces,) uint8 array
        Control points of each piece.
    counts : (contours,) int array
        Pieces of each contour.
    """
    if isinstance(contours, Packed):
        return contours.arrays
    pieces = [piece for contour in contours for piece in contour]
    points = np.concatenate(pieces) if pieces else np.empty((0, 2))
    return points, np.array([len(p) for p in pieces], np.uint8), np.array([len(c) for c in contours], int)


def unpack(points: np.ndarray, sizes: np.ndarray, counts: np.ndarray) -> tuple[Contour, ...]:
    """Contours from the three arrays of `pack`."""
    pieces = np.split(points, np.cumsum(sizes, dtype=int)[:-1]) if len(sizes) else []
    ends = np.cumsum(counts)
    return tuple(tuple(pieces[end - n : end]) for n, end in zip(counts, ends, strict=True))


def _content(outline: Outline) -> str:
    points, sizes, counts = pack(outline.contours)
    check_coordinates(points)
    digest = hashlib.sha256(np.ascontiguousarray(points + 0.0, "<f8").tobytes())
    digest.update(sizes.tobytes() + counts.astype("<i8").tobytes())
    settings = (outline.fill_rule, outline.unit_mm, outline.cap_height, outline.internal_radius_mm)
    digest.update(repr((*settings, outline.embedding, outline.groups)).encode())
    return digest.hexdigest()


def check_coordinates(points: np.ndarray) -> None:
    """Refuse coordinates that are no number, or too large to compute areas with.

    Raises
    ------
    Unusable
    """
    if not np.isfinite(points).all():
        raise Unusable("a coordinate is not a finite number; draw the outline again")
    if len(points) and np.abs(points).max() > LARGEST_COORDINATE:
        raise Unusable(f"a coordinate is larger than {LARGEST_COORDINATE:g} units; draw it near the origin")


def clean(text: str, longest: int = LONGEST_NAME) -> str:
    """A name fit for one table cell: no control, format or path characters, blanks single.

    >>> clean("Old  Face\\n\\x00Bold/Book")
    'Old Face Bold-Book'
    """
    text = text[: 20 * longest]  # licences run to pages
    spaced = "".join(" " if _unseen(c) else c for c in unicodedata.normalize("NFC", text))
    single = " ".join(spaced.replace("/", "-").replace("\\", "-").split())
    return single if len(single) <= longest else single[: longest - 1] + "…"


def _unseen(character: str) -> bool:
    # Cc control, Cf format (right-to-left overrides), Cs half a pair, Z* line and paragraph breaks
    return unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
