"""A sampling frame over families and styles, drawn with a seed."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

from kit.outlines.isolation import read_isolated
from kit.outlines.outline import LeftOut, clean
from kit.outlines.specs import Choose, FontFaces, FontFiles


@dataclass(frozen=True)
class FaceNames:
    """Asks the reader for families and styles only."""


@dataclass(frozen=True)
class Named:
    """Family and style of one face, and its number in the file."""

    family: str
    style: str
    number: int


def names_in(path: Path, spec: FaceNames, progress) -> Iterator[Named]:
    """Families and styles in one font file."""
    from kit.outlines.fonts import faces_of

    progress.opened(clean(path.name))
    for number, face in enumerate(faces_of(path)):
        yield Named(face.family, face.style, number)


def chosen(
    files: list[Path], spec: FontFiles, seconds: float, workers: int
) -> tuple[list[tuple[Path, FontFaces]], list[LeftOut]]:
    """Files with faces of the families that were drawn, in the styles asked for, and what is read of each.

    Faces outside the frame are no loss and get no row; files that cannot be read do.
    """
    choose = spec.choose or Choose()
    named = read_isolated([(file, FaceNames()) for file in files], seconds, workers)
    left_out = [item for items in named for item in items if isinstance(item, LeftOut)]
    styles = {style.casefold() for style in choose.styles}
    in_frame = [
        [i for i in items if isinstance(i, Named) and (not styles or i.style.casefold() in styles)]
        for items in named
    ]
    families = sorted({face.family for faces in in_frame for face in faces})
    drawn = set(draw(families, choose.families, choose.seed))
    numbers = [tuple(face.number for face in faces if face.family in drawn) for faces in in_frame]
    asked = {field.name: getattr(spec, field.name) for field in fields(FontFiles)}
    kept = [(file, FontFaces(**asked, faces=some)) for file, some in zip(files, numbers, strict=True) if some]
    return kept, left_out


def draw(families: list[str], count: int | None, seed: int) -> list[str]:
    """So many families at random; the same seed and families give the same draw."""
    if count is None or count >= len(families):
        return families
    return sorted(random.Random(seed).sample(families, count))
