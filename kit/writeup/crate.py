"""The results folder described for whoever receives it: an RO-Crate, a data dictionary, the environment.

The descriptor follows the open RO-Crate 1.1 specification; it is light enough to write as plain JSON.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import mimetypes
import platform
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import pandas as pd

import kit
from kit.places import DATA

CONTEXT = "https://w3id.org/ro/crate/1.1/context"
PROFILE = "https://w3id.org/ro/crate/1.1"
LICENCES = "https://spdx.org/licenses/"
DESCRIPTOR = "ro-crate-metadata.json"
# The columns of sections, members and trials, and those of the tables beside them.
DICTIONARY = ("columns.csv", "columns-beside.csv")
TYPES = {
    ".parquet": "application/vnd.apache.parquet",
    ".ipynb": "application/x-ipynb+json",
    ".yml": "application/yaml",
    ".gz": "application/gzip",
}
MEANINGS = {
    "report.html": "The write-up: one page that opens without a network",
    "report.pdf": "The write-up, printed",
    "sections.csv": "Properties of every section, a row each",
    "sections.parquet": "Properties of every section, for programs",
    "members.csv": "Resistance of every section in every variant and load case",
    "members.parquet": "Resistance of every member, for programs",
    "left-out.csv": "Every outline that was not analysed, with the reason",
    "outlines.svg": "The outline sheet: every outline small, used and left out",
    "outlines.html": "The outline sheet as a page: by family and by character",
    "repairs.svg": "Outlines that were repaired, before and after, the most changed first",
    "checks.csv": "Published values recomputed in the run",
    "audit.csv": "Sections recomputed by other routes, and the differences",
    "ranks.csv": "Ranks and their intervals",
    "interactions.csv": "Members under loads that act at once, a row each",
    "trials.csv": "Test pieces: predicted and measured, a row each",
    "calibration.csv": "Correction of the model by limit state (EN 1990 Annex D)",
    "trial-ranks.csv": "Ranks as predicted and as corrected by the tests",
    "material-values.csv": "Material values estimated again from the tests",
    "trial-curves.csv": "Measured and predicted curves as drawn",
    "predictions.csv": "What was predicted of each piece, written before its record was read",
    "columns.csv": "Data dictionary: column, unit, meaning, source",
    "parameters.yml": "The study's parameters as resolved",
    "environment.txt": "Versions of Python and of every package",
}


def write_crate(folder: Path, study: Mapping[str, object], inputs: Mapping[str, Path], command: str) -> Path:
    """Describe a results folder in ``ro-crate-metadata.json``.

    Parameters
    ----------
    folder : Path
        Results of one study; every file in it that does not begin with a dot is described.
    study : mapping
        ``name``, ``title``, ``purpose``, ``licence``, ``authors`` (``name``, ``affiliation``, ``orcid``).
    inputs : mapping of str to Path
        Name as the study calls it → file that was read: parameter file, fonts, drawings, records.
    command : str
        What to type to run the study again.

    Returns
    -------
    Path
        The descriptor. Equal folders give equal descriptors: there is no date in it.
    """
    authors = list(study.get("authors") or [])
    made = [_file(path, folder) for path in _results(folder)]
    read = [_input(name, path) for name, path in sorted(inputs.items())]
    graph = [
        _descriptor(),
        _root(study, authors, made, read),
        *_people(authors),
        _software(),
        _action(command, made, read),
        *_licence(study.get("licence")),
        *made,
        *read,
    ]
    target = folder / DESCRIPTOR
    text = json.dumps({"@context": CONTEXT, "@graph": graph}, ensure_ascii=False, indent=1)
    part = target.with_suffix(".part")
    part.write_text(text + "\n", encoding="utf-8", newline="\n")
    part.replace(target)
    return target


def _results(folder: Path) -> list[Path]:
    """The files to describe, sorted; hidden ones and the descriptor itself stay out."""
    files = [path for path in folder.rglob("*") if path.is_file() and path.name != DESCRIPTOR]
    shown = [p for p in files if not any(part.startswith(".") for part in p.relative_to(folder).parts)]
    return sorted(path for path in shown if path.suffix != ".part")


def sha256(path: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _file(path: Path, folder: Path) -> dict:
    name = path.relative_to(folder).as_posix()
    return _entity(name, path) | {"description": MEANINGS.get(name.removesuffix(".gz"), _meaning(name))}


def _meaning(name: str) -> str:
    if name.startswith("figures/"):
        return "A figure of the write-up"
    return "An executed notebook" if name.endswith(".ipynb") else "Part of the results"


def _input(name: str, path: Path) -> dict:
    """An input is named and hashed, never copied: fonts may not be ours to give away."""
    entity = _entity(f"#input-{name}", path) if path.is_file() else {"@id": f"#input-{name}", "@type": "File"}
    return entity | {"name": name, "description": "Read by the study; not part of this folder"}


def _entity(identifier: str, path: Path) -> dict:
    kind = TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    return {
        "@id": identifier,
        "@type": "File",
        "name": path.name,
        "encodingFormat": kind,
        "contentSize": path.stat().st_size,
        "sha256": sha256(path),
    }


def _descriptor() -> dict:
    return {
        "@id": DESCRIPTOR,
        "@type": "CreativeWork",
        "about": {"@id": "./"},
        "conformsTo": {"@id": PROFILE},
    }


def _root(study: Mapping, authors: Sequence[Mapping], made: list[dict], read: list[dict]) -> dict:
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": str(study.get("title") or study.get("name") or "Section study"),
        "description": str(study.get("purpose") or "Results of a section study"),
        "author": [{"@id": _person(author, i)} for i, author in enumerate(authors)],
        "hasPart": [{"@id": entity["@id"]} for entity in made],
        "mentions": [{"@id": entity["@id"]} for entity in [*read, {"@id": "#run"}]],
    }
    return root | ({"license": {"@id": _licence_id(study["licence"])}} if study.get("licence") else {})


def _person(author: Mapping, place: int) -> str:
    return f"https://orcid.org/{author['orcid']}" if author.get("orcid") else f"#author-{place + 1}"


def _people(authors: Sequence[Mapping]) -> list[dict]:
    people = []
    for place, author in enumerate(authors):
        person = {"@id": _person(author, place), "@type": "Person", "name": author["name"]}
        people.append(person | ({"affiliation": author["affiliation"]} if author.get("affiliation") else {}))
    return people


def _licence_id(licence: object) -> str:
    text = str(licence)
    return text if text.startswith("https://") else LICENCES + text


def _licence(licence: object) -> list[dict]:
    return [{"@id": _licence_id(licence), "@type": "CreativeWork", "name": str(licence)}] if licence else []


def _software() -> dict:
    return {
        "@id": "#kit",
        "@type": "SoftwareApplication",
        "name": "section study kit",
        "version": kit.__version__,
        "license": {"@id": LICENCES + "BSD-3-Clause"},
        "softwareRequirements": f"Python {platform.python_version()}; packages as in environment.txt",
    }


def _action(command: str, made: list[dict], read: list[dict]) -> dict:
    return {
        "@id": "#run",
        "@type": "CreateAction",
        "name": "Run the study again",
        "description": command,
        "instrument": {"@id": "#kit"},
        "object": [{"@id": entity["@id"]} for entity in read],
        "result": [{"@id": entity["@id"]} for entity in made],
    }


def environment() -> str:
    """Versions of Python and of every installed package, a line each, sorted."""
    found = {dist.metadata["Name"]: dist.version for dist in importlib.metadata.distributions()}
    lines = [f"{name}=={found[name]}" for name in sorted(found, key=str.lower)]
    interpreter = f"Python {platform.python_version()} ({sys.implementation.name})"
    about = f"# {interpreter}, {platform.system()} {platform.machine()}"
    return "\n".join([about, *lines]) + "\n"


def write_environment(folder: Path) -> Path:
    """Write ``environment.txt`` into a results folder."""
    path = folder / "environment.txt"
    path.write_text(environment(), encoding="utf-8", newline="\n")
    return path


def write_columns(folder: Path, tables: Iterable[pd.DataFrame]) -> Path:
    """Write ``columns.csv``: the data dictionary of the columns that these tables have.

    A column that the kit's dictionary lacks stands in it with its name and an empty meaning, so that it
    is seen to be missing.
    """
    path = folder / "columns.csv"
    columns(tables).to_csv(path, index=False, lineterminator="\n", encoding="utf-8")
    return path


def tables(folder: Path) -> list[pd.DataFrame]:
    """Every table of a results folder, its columns without its rows: sections and members first."""
    first = ["sections", "members"]
    files = {file.name.split(".csv")[0]: file for file in sorted(folder.glob("[!.]*.csv*"))}
    order = [*first, *(name for name in files if name not in (*first, "columns"))]
    return [pd.read_csv(files[name], nrows=0) for name in order if name in files]


def columns(tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """The data dictionary of the columns that these tables have, in their order."""
    every = pd.concat([pd.read_csv(DATA / name, keep_default_na=False) for name in DICTIONARY])
    present = list(dict.fromkeys(str(column) for table in tables for column in table.columns))
    # A modulus for unequal strengths carries their ratio after an @: it is described without it.
    base = [name.split("@")[0] for name in present]
    rows = every.drop_duplicates("column").set_index("column").reindex(base).fillna("")
    return rows.assign(column=present)[["column", *rows.columns]].reset_index(drop=True)
