"""The tables of a study on disk: written whole or not at all, read back by the next stage."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kit.errors import InputError
from kit.study import disk

if TYPE_CHECKING:  # tables are read and written in the notebooks; the command itself starts without them
    import pandas as pd

    from kit.study.sectioning import Sections

FLOATS = "%.9g"  # below the last digits that differ between one processor's libraries and another's
KEPT = ".kept"
PLAN, PREDICTIONS, LEDGER = "plan", "predictions.csv", "records-read"
TOLD_APART = (LEDGER, "predictions")  # what nothing but these notes remembers
TRIAL_TABLES = ("trials", "calibration", "trial-ranks", "material-values", "trial-curves")


def write_whole(file: Path, write: Callable[[Path], object]) -> None:
    """Have a file written beside its place and moved there when it is complete.

    Raises
    ------
    InputError
        If the disk is full; what stood there before stays.
    """
    part = file.with_name(f".{file.name}.part")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write(part)
        part.replace(file)
    except OSError as error:
        part.unlink(missing_ok=True)
        if disk.is_full(error):
            raise disk.full(file.parent) from None
        raise


def write_text(file: Path, text: str) -> None:
    """Write a text file whole."""
    write_whole(file, lambda part: part.write_text(text, encoding="utf-8", newline="\n"))


def write_table(table: pd.DataFrame, folder: Path, name: str) -> None:
    """Write ``name.csv`` for people and ``name.parquet`` for programs."""
    write_csv(table, folder / f"{name}.csv")
    write_whole(
        folder / f"{name}.parquet", lambda part: table.to_parquet(part, index=False, compression="zstd")
    )


LARGE = 2_000_000  # cells of a table
# Without the time of writing, so that equal tables are equal files.
_GZIP = {"method": "gzip", "compresslevel": 6, "mtime": 0}
_CSV = {"index": False, "float_format": FLOATS, "lineterminator": "\n", "encoding": "utf-8"}


def write_csv(table: pd.DataFrame, file: Path) -> None:
    """Write a table for people only; a large one compressed, as ``name.csv.gz``, at a tenth of the room."""
    packed = file.with_name(f"{file.name}.gz")
    if table.size > LARGE:
        write_whole(packed, lambda part: table.to_csv(part, **_CSV, compression=_GZIP))
        file.unlink(missing_ok=True)
    else:
        write_whole(file, lambda part: table.to_csv(part, **_CSV))
        packed.unlink(missing_ok=True)


def as_written(file: Path) -> Path:
    """Where a table is: the file itself, or the compressed one beside it."""
    packed = file.with_name(f"{file.name}.gz")
    return packed if packed.exists() and not file.exists() else file


def file_hash(file: Path) -> str:
    """SHA-256 (hex) of a file."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


@dataclass(frozen=True)
class Folder:
    """One study's results."""

    path: Path

    def text(self, name: str) -> str:
        """A text file of the results."""
        return (self.path / name).read_text(encoding="utf-8")

    def write_sections(self, sections: Sections) -> None:
        """Write the sections stage: tables for people, polygons and notes for the next stages."""
        import pandas as pd

        write_table(sections.table, self.path, "sections")
        write_csv(sections.left_out, self.path / "left-out.csv")
        polygons = pd.DataFrame(
            [(number, outline, shape) for (number, outline), shape in sections.polygons.items()],
            columns=["preparation", "outline", "polygon"],
        )
        kept = self.path / KEPT / "polygons.parquet"
        write_whole(kept, lambda part: polygons.to_parquet(part, index=False, compression="zstd"))
        notes = {
            "used": sorted(sections.used),
            "computed": sections.computed,
            "kept": sections.kept,
            "provisional": sections.provisional,
        }
        self.write_notes("sections", notes)

    def sections(self) -> Sections:
        """Read the sections stage back."""
        import pandas as pd

        from kit.study.sectioning import Sections

        polygons = pd.read_parquet(self.path / KEPT / "polygons.parquet")
        notes = self.notes("sections")
        return Sections(
            pd.read_parquet(self.path / "sections.parquet"),
            dict(
                zip(
                    zip(polygons["preparation"], polygons["outline"], strict=True),
                    polygons["polygon"],
                    strict=True,
                )
            ),
            pd.read_csv(self.path / "left-out.csv", dtype=str, keep_default_na=False),
            frozenset(notes["used"]),
            notes["computed"],
            notes["kept"],
            notes["provisional"],
        )

    def write_members(self, slug: str, members: pd.DataFrame, used: Iterable[str]) -> None:
        """Write the members of one variant, to be joined with the others' later."""
        kept = self.path / KEPT / f"members-{slug}.parquet"
        write_whole(kept, lambda part: members.to_parquet(part, index=False, compression="zstd"))
        self.write_notes(f"members-{slug}", {"used": sorted(used)})

    def members(self, slugs: Iterable[str]) -> tuple[pd.DataFrame, frozenset[str]]:
        """The members of several variants, in that order, and the functions of mechanics they rest on."""
        import pandas as pd

        slugs = list(slugs)
        tables = [pd.read_parquet(self.path / KEPT / f"members-{slug}.parquet") for slug in slugs]
        used = frozenset().union(*(self.notes(f"members-{slug}")["used"] for slug in slugs))
        return pd.concat(tables, ignore_index=True), used

    def write_notes(self, name: str, notes: dict) -> None:
        """Keep small facts for the next stages."""
        write_text(self.path / KEPT / f"{name}.json", json.dumps(notes, indent=1, sort_keys=True) + "\n")

    def notes(self, name: str) -> dict:
        """Read small facts back; empty where there are none."""
        file = self.path / KEPT / f"{name}.json"
        try:
            notes = json.loads(file.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except ValueError:
            notes = None
        if isinstance(notes, dict):
            return notes
        if name in TOLD_APART:
            raise InputError("the notes on what was known when are damaged", str(file), "delete that file")
        return {}  # the stage that kept them runs again

    def holds(self, stage: str, fingerprint: str) -> bool:
        """Whether a stage was done from the same inputs and its files are as it left them."""
        notes = self.notes(f"stage-{stage}")
        return notes.get("fingerprint") == fingerprint and all(
            file.exists() and file_hash(file) == digest
            for file, digest in (
                (as_written(self.path / name), digest) for name, digest in notes["files"].items()
            )
        )

    def note_done(self, stage: str, fingerprint: str, files: Iterable[str]) -> None:
        """Note that a stage is done, from which inputs and with which files."""
        digests = {name: file_hash(as_written(self.path / name)) for name in files}
        self.write_notes(f"stage-{stage}", {"fingerprint": fingerprint, "files": digests})
