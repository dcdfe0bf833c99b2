"""Where a study's data come from and how somebody else runs it again: files, licences, versions, commands."""

from __future__ import annotations

import platform
from collections.abc import Sequence
from importlib.metadata import version

import pandas as pd

import kit
from kit.outlines.outline import Outline
from kit.study.inputs import input_files, names_of
from kit.study.resolving import Study
from kit.study.results import Folder, file_hash
from kit.study.stages import Assembled
from kit.study.store import solver_version
from kit.writeup.numbers import count
from kit.writeup.tables import Prose, Table, prose, table

FONTS = "fonts"
LONGEST = 140
PACKAGES = (
    *("numpy", "scipy", "shapely", "cytriangle", "fonttools", "sectionproperties"),
    *("pandas", "altair", "papermill"),
)


def keep_fonts(folder: Folder, outlines: Sequence[Outline]) -> None:
    """Keep licence and embedding permission of each font for the write-up: faces of one file, files of one name."""
    faces = dict.fromkeys((one.source, one.font, one.licence, one.embedding) for one in outlines if one.font)
    names = ("source", "font", "licence", "embedding")
    folder.write_notes(FONTS, {"fonts": [dict(zip(names, face, strict=True)) for face in faces]})


def fonts_of(folder: Folder) -> list[dict[str, str]]:
    """``source``, ``font``, ``licence`` and ``embedding`` of each font that was read."""
    return folder.notes(FONTS).get("fonts", [])


def sources(folder: Folder, found: Assembled) -> Table:
    """Outlines used and left out by source; for fonts their licence and whether they may be embedded."""
    used = found.sections.table.drop_duplicates("outline")
    left = found.sections.left_out
    names = list(dict.fromkeys([*used["source"].astype(str), *left["source"].astype(str)]))
    fonts: dict[str, list[dict]] = {}
    for one in fonts_of(folder):
        fonts.setdefault(one["source"], []).append(one)
    rows = [
        (
            name,
            int((used["source"] == name).sum()),
            int((left["source"] == name).sum()),
            *(_each(fonts[name], key) for key in ("licence", "embedding")),
        )
        for name in names
        if name in fonts
    ]
    rows += _others(names, fonts, used, left)
    columns = ["source", "outlines used", "left out", "licence", "embedding"]
    return table(pd.DataFrame(rows, columns=columns), "sources", "Where the outlines come from.", most=60)


def _each(fonts: Sequence[dict], key: str) -> str:
    """What the fonts of one source say; each with its name where they differ."""
    said = dict.fromkeys((one["font"], _short(one[key]) or "not stated in the font") for one in fonts)
    if len({words for _, words in said}) == 1:
        return next(words for _, words in said)
    return "; ".join(f"{font}: {words}" for font, words in said)


def _others(names: list[str], fonts: dict, used: pd.DataFrame, left: pd.DataFrame) -> list[tuple]:
    """Drawings and shapes together: one row each, not one a file."""
    groups = {
        "standard shapes": [name for name in names if name not in fonts and name == "shape"],
        "drawings": [name for name in names if name not in fonts and name != "shape"],
    }
    told = {"standard shapes": "computed, none", "drawings": "as their owner says; not known to the kit"}
    return [
        (
            f"{title} ({count(len(group), 'file')})" if title == "drawings" else title,
            int(used["source"].isin(group).sum()),
            int(left["source"].isin(group).sum()),
            told[title],
            "–",
        )
        for title, group in groups.items()
        if group
    ]


def _short(text: str) -> str:
    words = " ".join(str(text).split())
    return words if len(words) <= LONGEST else f"{words[:LONGEST].rsplit(' ', 1)[0]} …"


def inputs(study: Study) -> Table:
    """Every file the study read, with its SHA-256."""
    files = [study.file, *input_files(study)]
    rows = [
        (name, path.stat().st_size, file_hash(path))
        for name, path in names_of(files).items()
        if path.is_file()
    ]
    frame = pd.DataFrame(rows, columns=["file", "bytes", "SHA-256"])
    frame["SHA-256"] = [digest[:16] + "…" for digest in frame["SHA-256"]]
    caption = "Files this study read; ro-crate-metadata.json has the hashes in full."
    return table(frame, "inputs", caption, most=40)


SNIPPET = """\
import pandas as pd
from kit.members.resistance import resistance
from kit.study import stages

study = stages.open_study("parameters.yml")
variant = study.variants[0]
sections = pd.read_parquet("sections.parquet").query("preparation == 0")
members = pd.concat(resistance(sections, case, variant.material, variant.service) for case in variant.cases)
"""
"""From the stored sections to members, without fonts or drawings; a test runs these very lines."""


def repeating(study: Study) -> Prose:
    """How to run this study again, with and without its fonts and drawings."""
    told = prose(
        "**With the fonts and drawings.** Install the kit at the versions of [Table](#tab:versions), put the files of "
        "[Table](#tab:inputs) where `parameters.yml` names them, and run `section-study repeat .` in the folder of "
        "this page: it runs the study again in a folder of its own and says, table by table, whether the results are "
        "identical, within one part in a million, or differ. In one environment the same inputs give the same CSV "
        "tables, byte by byte, on any number of workers. The code that made these sections has the fingerprint "
        "{solver}.",
        solver=solver_version()[:16],
    ).text
    without = (
        "**Without them.** Every resistance is computed from the numbers in `sections.parquet`; in the folder of this "
        "page these lines compute the members of the first variant again:"
    )
    return Prose(f"{told}\n\n{without}\n\n```\n{SNIPPET}```\n\n{_not_in_it(study)}")


def _not_in_it(study: Study) -> str:
    """What the lines leave out of a study's resistances: whatever needs the polygons too."""
    needs = []
    if study.model.report.local_buckling != "none":
        needs.append("the buckling of walls")
    if any(variant.material.stress_strain for variant in study.variants):
        needs.append("the moment–curvature line of a measured material")
    if not needs:
        return ""
    return f"They leave out {' and '.join(needs)}, for which the polygons of the outlines are needed too."


def licences(study: Study) -> Prose:
    """Under which licence the results stand, and what that does not cover."""
    given = study.model.licence
    words = prose("The results are under {licence}. ", licence=given).text if given else (
        "The study states no licence for its results. "
    )  # fmt: skip
    return Prose(
        words
        + "Fonts and drawings stay under their own licences and are not passed on with the results: only "
        "outlines at the size of marks and computed numbers are ([Table](#tab:sources)). Licence and embedding "
        "permission are quoted from the fonts themselves."
    )


def versions() -> Table:
    """Versions of what computed this page."""
    rows = [("section study kit", kit.__version__), ("Python", platform.python_version())]
    rows += [(name, version(name)) for name in PACKAGES]
    return table(
        pd.DataFrame(rows, columns=["package", "version"]),
        "versions",
        "Versions that made this page; environment.txt lists every package.",
    )
