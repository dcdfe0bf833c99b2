"""A sampling frame over families and styles, drawn with a seed."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from kit.outlines.isolation import read_isolated
from kit.outlines.outline import LeftOut
from kit.outlines.specs import Choose


@dataclass(frozen=True)
class FaceNames:
    """Asks the reader for families and styles only."""


@dataclass(frozen=True)
class Named:
    """Family and style of one face."""

    family: str
    style: str


def names_in(path: Path, spec: FaceNames, progress) -> Iterator[Named]:
    """Families and styles in one font file."""
    from kit.outlines.fonts import faces_of

    progress.opened(path.name)
    for face in faces_of(path):
        yield Named(face.family, face.style)


def chosen(
    files: list[Path], choose: Choose, seconds: float, workers: int
) -> tuple[list[Path], list[LeftOut]]:
    """Files of the families that were drawn, in the styles asked for.

    Files outside the frame are no loss and get no row; files that cannot be read do.
    """
    named = read_isolated([(file, FaceNames()) for file in files], seconds, workers)
    left_out = [item for items in named for item in items if isinstance(item, LeftOut)]
    styles = {style.casefold() for style in choose.styles}
    in_frame: dict[str, list[Path]] = {}
    for file, items in zip(files, named, strict=True):
        faces = [i for i in items if isinstance(i, Named) and (not styles or i.style.casefold() in styles)]
        for family in dict.fromkeys(face.family for face in faces):
            in_frame.setdefault(family, []).append(file)
    drawn = set(draw(sorted(in_frame), choose.families, choose.seed))
    kept = {file for family in drawn for file in in_frame[family]}
    return [file for file in files if file in kept], left_out


def draw(families: list[str], count: int | None, seed: int) -> list[str]:
    """So many families at random; the same seed and families give the same draw."""
    if count is None or count >= len(families):
        return families
    return sorted(random.Random(seed).sample(families, count))
