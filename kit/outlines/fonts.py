"""Letterforms from font files: every face opened once, glyphs drawn when asked for."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from fontTools.varLib.varStore import VarStoreInstancer

from kit.errors import Unusable
from kit.outlines.letterforms import expand, glyph_contours
from kit.outlines.outline import LeftOut, Outline, clean
from kit.outlines.specs import FontFaces, FontFiles
from kit.outlines.worker import Progress, unreadable

MOST_FACES = 256
SYMBOLS = 0xF000
OUTLINES = ("glyf", "CFF ", "CFF2")
# Bits of fsType in the OS/2 table (OpenType specification, OS/2, fsType).
EMBEDDING = {0: "installable", 2: "restricted", 4: "preview-and-print", 8: "editable"}


@dataclass(frozen=True)
class Face:
    """What a face says of itself.

    Attributes
    ----------
    family, style, font : str
        Cleaned for display; ``font`` is the full name.
    cap_height : float or None, font units
    licence, embedding : str
    """

    family: str
    style: str
    font: str
    cap_height: float | None
    licence: str
    embedding: str


def outlines_of(path: Path, spec: FontFiles, progress: Progress) -> Iterator[Outline | LeftOut]:
    """Every outline the specification asks of one font file, in a fixed order.

    Parameters
    ----------
    path : pathlib.Path
    spec : FontFiles
    progress : Progress
        Told what is begun next, so that a crash or a hang can be laid to it.
    """
    wanted = expand(spec.characters)
    told: set[tuple[str, str]] = set()
    for number in spec.faces if isinstance(spec, FontFaces) else range(_face_count(path)):
        progress.opened(clean(path.name))
        try:
            font = TTFont(path, fontNumber=number, lazy=True)
        except Exception as error:
            yield LeftOut(clean(path.name), "", unreadable(error))
            continue
        with font:
            yield from _face_outlines(font, (path, number, told), spec, wanted, progress)


def faces_of(path: Path) -> list[Face]:
    """What every face in the file says of itself."""
    found = []
    for number in range(_face_count(path)):
        with TTFont(path, fontNumber=number, lazy=True) as font:
            found.append(face_of(font, path, None))
    return found


def _face_count(path: Path) -> int:
    with path.open("rb") as file:
        head = file.read(12)
    if head[:4] != b"ttcf":
        return 1
    count = int.from_bytes(head[8:12], "big")
    if not 1 <= count <= MOST_FACES:
        raise Unusable(
            f"it says it holds {count} faces, where 1 to {MOST_FACES} are read; if that is so, take it apart, "
            "else the file is damaged: get it again"
        )
    return count


def _face_outlines(font: TTFont, of, spec: FontFiles, wanted, progress: Progress):
    path, number, told = of
    try:
        if not any(table in font for table in OUTLINES):
            raise Unusable("it holds no outlines (its characters are pictures); choose another font")
        locations = _locations(font, spec)
        codes = codes_of(font)
    except Exception as error:
        yield LeftOut(clean(path.name), "", unreadable(error))
        return
    for style, location in locations:
        try:
            glyphs = font.getGlyphSet(location=location)
            face = face_of(font, path, glyphs)
            face = replace(face, style=style, font=f"{face.family} {style}") if style else face
            face = _numbered(face, number, told)
        except Exception as error:
            yield LeftOut(clean(path.name), style, unreadable(error))
            continue
        for character in wanted:
            name = clean(f"{face.family} {face.style}") + "/" + label(character)
            if progress.started(name):
                yield _letter(glyphs, codes, character, (name, clean(path.name), face))


def _numbered(face: Face, number: int, told: set[tuple[str, str]]) -> Face:
    """The face, its number in the file added where one of that family and style came before it."""
    if (face.family, face.style) in told:
        face = replace(face, style=f"{face.style} (face {number + 1})")
    told.add((face.family, face.style))
    return face


def _letter(glyphs, codes: dict[int, str], character: str, of: tuple[str, str, Face]) -> Outline | LeftOut:
    name, source, face = of
    glyph = character.removeprefix("glyph:") if character.startswith("glyph:") else codes.get(ord(character))
    if glyph is None or glyph not in glyphs:
        return LeftOut(
            source, name, f"the font has no glyph for {label(character)!r}; choose another font or character"
        )
    try:
        return Outline(
            name=name, source=source, contours=glyph_contours(glyphs, glyph), fill_rule="nonzero",
            family=face.family, style=face.style, font=face.font, character=label(character),
            cap_height=face.cap_height, licence=face.licence, embedding=face.embedding,
        )  # fmt: skip
    except Exception as error:
        return LeftOut(source, name, unreadable(error))


def label(character: str) -> str:
    """A character as it is shown: itself, or its code where it has no shape of its own."""
    if character.startswith("glyph:"):
        return clean(character.removeprefix("glyph:"))
    shown = character.isprintable() and not character.isspace() and character not in "/\\"
    return character if shown else f"U+{ord(character):04X}"


def face_of(font: TTFont, path: Path, glyphs) -> Face:
    """Names, cap height, licence and embedding permission of a face."""
    names = font.get("name", None)

    def named(*numbers: int) -> str:
        texts = (names.getDebugName(n) for n in numbers) if names else ()
        return next((clean(t) for t in texts if t and clean(t)), "")

    family = named(16, 1) or clean(path.stem)
    style = named(17, 2) or "Regular"
    return Face(
        family=family,
        style=style,
        font=named(4) or f"{family} {style}",
        cap_height=_cap_height(font, glyphs),
        licence=named(13, 14, 0),
        embedding=_embedding(font),
    )


def codes_of(font: TTFont) -> dict[int, str]:
    """Glyph names by character; a symbol font's characters lie at U+F000 and up (OpenType, cmap, 3/0)."""
    found = font.getBestCmap()
    if found is not None or "cmap" not in font:
        return found or {}
    symbols = font["cmap"].getcmap(3, 0)
    codes = symbols.cmap if symbols else {}
    return codes | {code - SYMBOLS: name for code, name in codes.items() if 0 <= code - SYMBOLS < 0x100}


def _cap_height(font: TTFont, glyphs) -> float | None:
    """Height of the capitals: that of the H, which is flat, as it is drawn; without one, as the font states.

    What fonts state is off by more than 3 % in one of twenty, and by a factor of hundreds in some.
    """
    drawn = _top_of_h(font, glyphs) if glyphs is not None else None
    stated = getattr(font.get("OS/2", None), "sCapHeight", 0)
    if drawn or not stated or stated < 0:
        return drawn
    return float(stated) + _cap_height_change(font, glyphs)


def _top_of_h(font: TTFont, glyphs) -> float | None:
    name, pen = codes_of(font).get(ord("H")), BoundsPen(glyphs)
    try:
        glyphs[name].draw(pen)
    except Exception:  # no H, or a damaged one, which is no reason to lose the others
        return None
    return float(pen.bounds[3]) if pen.bounds and pen.bounds[3] > 0 else None


def _cap_height_change(font: TTFont, glyphs) -> float:
    """How much higher capitals are at a place on the axes than at the default one, as the font says (OpenType,
    MVAR, cpht)."""
    if not getattr(glyphs, "location", None):
        return 0.0
    table = font["MVAR"].table if "MVAR" in font else None
    for record in table.ValueRecord if table else ():
        if record.ValueTag == "cpht":
            deltas = VarStoreInstancer(table.VarStore, font["fvar"].axes, glyphs.location)
            return float(deltas[record.VarIdx])
    return 0.0


def _embedding(font: TTFont) -> str:
    if "OS/2" not in font:
        return ""
    bits = font["OS/2"].fsType
    words = [EMBEDDING.get(bits & 0xE, "restricted" if bits & 2 else "preview-and-print")]
    return " ".join(words + ["no-subsetting"] * bool(bits & 0x100) + ["bitmap-only"] * bool(bits & 0x200))


def _locations(font: TTFont, spec: FontFiles) -> list[tuple[str, dict[str, float]]]:
    """Style and place on the axes of each instance asked for; the style is empty for the default one."""
    if not (spec.axes or spec.instances):
        return [("", {})]
    if "fvar" not in font:
        return [("", {})]
    return [*_named_instances(font, spec.instances), *_axis_values(font, spec.axes)]


def _named_instances(font: TTFont, wanted: tuple[str, ...]) -> list[tuple[str, dict[str, float]]]:
    names, found = font["name"], []
    for instance in font["fvar"].instances if wanted else ():
        style = clean(names.getDebugName(instance.subfamilyNameID) or "")
        if "all" in wanted or style.casefold() in {w.casefold() for w in wanted}:
            found.append((style, dict(instance.coordinates)))
    if wanted and not found:
        raise Unusable(f"it has no instance named {', '.join(wanted)}; use instances: [all] to see them")
    return found


def _axis_values(font: TTFont, axes) -> list[tuple[str, dict[str, float]]]:
    limits = {axis.axisTag: (axis.minValue, axis.maxValue) for axis in font["fvar"].axes}
    for tag, values in axes:
        if tag not in limits:
            raise Unusable(f"it has no axis {tag!r}; its axes are {', '.join(limits)}")
        low, high = limits[tag]
        beyond = [v for v in values if not low <= v <= high]
        if beyond:
            raise Unusable(f"{tag} = {beyond[0]:g} is outside the axis; it runs from {low:g} to {high:g}")
    tags = [tag for tag, _ in axes]
    places = itertools.product(*(values for _, values in axes)) if axes else ()
    return [
        (" ".join(f"{t}={v:g}" for t, v in zip(tags, at, strict=True)), dict(zip(tags, at, strict=True)))
        for at in places
    ]
