"""Small parameter files for the tests; the values are invented."""

from pathlib import Path

SMALL = """\
study: small
title: A small study
outlines:
  - {from: shape, name: bar, shape: rectangle, dimensions: {depth: 60 mm, width: 20 mm}}
  - {from: shape, name: rod, shape: circle, dimensions: {diameter: 40 mm}}
reference: {outline: bar}
preparation: {orientations: [0 deg, 90 deg]}
material: steel-S235
load_cases:
  bending: {span: 900 mm, loading: four-point, load_spacing: 300 mm}
  torsion: {length: 900 mm}
"""


def changed(*pairs: tuple[str, str], text: str = SMALL) -> str:
    """The small study with pieces of its text exchanged; each must be there."""
    for old, new in pairs:
        assert text.count(old) == 1, f"{old!r} occurs {text.count(old)} times"
        text = text.replace(old, new)
    return text


def written(folder: Path, text: str = SMALL, name: str = "small.yml") -> Path:
    """A parameter file with this text."""
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file
