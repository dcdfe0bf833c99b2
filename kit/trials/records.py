"""Records of testing machines, read as they came: the bytes hashed, the layout detected, nothing smoothed."""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from kit.errors import Unusable
from kit.trials.findings import CORRECTED, NOTED, Finding
from kit.trials.layout import MISSING, Layout, RecordFormat, detect

LARGEST_BYTES, MOST_ROWS = 64_000_000, 2_000_000
INVENTED = "invented"


@dataclass(frozen=True)
class Record:
    """A record as it came.

    Attributes
    ----------
    name : str
        File name.
    sha256 : str
        Of the bytes of the file.
    layout : Layout
    displacement, load : (n,) arrays
        mm and N; for torsion rad and N mm. NaN where the row has no number.
    time_s, strain : (n,) arrays or None
    findings : tuple of Finding
    invented : bool
        Whether its header says that it was generated and not measured.
    """

    name: str
    sha256: str
    layout: Layout
    displacement: np.ndarray
    load: np.ndarray
    time_s: np.ndarray | None = None
    strain: np.ndarray | None = None
    findings: tuple[Finding, ...] = ()
    invented: bool = False


def read_record(file: Path, given: RecordFormat = RecordFormat(), kind: str = "bending") -> Record:
    """Read a record.

    Parameters
    ----------
    file : Path
    given : RecordFormat
        What the parameter file says about its layout.
    kind : str
        Of the load case: for ``torsion`` twist and torque are looked for.

    Raises
    ------
    Unusable
        With the reason, where it cannot be read.
    """
    if not file.is_file():
        raise Unusable(f"there is no record {file.name}")
    if file.stat().st_size > LARGEST_BYTES:
        raise Unusable(f"the record is larger than {LARGEST_BYTES / 1e6:g} MB; export fewer points")
    return parse_record(file.name, file.read_bytes(), given, kind)


def parse_record(
    name: str, content: bytes, given: RecordFormat = RecordFormat(), kind: str = "bending"
) -> Record:
    """A record from its bytes; see :func:`read_record`."""
    text, notes = _decoded(content)
    # Quoted fields may hold a decimal comma between commas: a tab in place of "," keeps them apart.
    lines = text.replace('","', "\t").replace('"', "").splitlines()
    wanted = ("twist", "torque") if kind == "torsion" else ("displacement", "load")
    layout = detect(lines, given, wanted)
    table, lost = _table(lines[layout.first_row :], layout)
    notes += lost
    columns = {role: table[place].to_numpy(float) * factor for role, place, _, _, factor in layout.columns}
    return Record(
        name=name,
        sha256=hashlib.sha256(content).hexdigest(),
        layout=layout,
        displacement=columns[wanted[0]],
        load=columns[wanted[1]],
        time_s=columns.get("time"),
        strain=columns.get("strain"),
        findings=tuple(notes),
        invented=any(INVENTED in line.casefold() for line in layout.header),
    )


def _decoded(content: bytes) -> tuple[str, list[Finding]]:
    if b"\x00" in content[:4000] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Unusable("the record is not text; export it from the machine as CSV")
    for encoding in ("utf-16",) if content.startswith((b"\xff\xfe", b"\xfe\xff")) else ("utf-8-sig",):
        try:
            return content.decode(encoding), []
        except UnicodeDecodeError:
            pass
    return content.decode("cp1252", errors="replace"), [
        Finding("encoding", "read as Windows-1252 text", NOTED)
    ]


def _table(lines: list[str], layout: Layout) -> tuple[pd.DataFrame, list[Finding]]:
    """The wanted columns as numbers; rows that are no rows are counted."""
    rows = [line for line in lines if line.strip()]
    if len(rows) > MOST_ROWS:
        raise Unusable(f"the record has more than {MOST_ROWS} rows; export fewer points")
    places = sorted({place for _, place, *_ in layout.columns})
    table = pd.read_csv(
        io.StringIO("\n".join(rows)),
        sep=r"\s+" if layout.delimiter == " " else layout.delimiter,
        decimal=layout.decimal,
        header=None,
        names=range(layout.fields),
        usecols=places,
        skipinitialspace=True,
        na_values=sorted(MISSING),
        on_bad_lines="skip",
        quoting=csv.QUOTE_NONE,
        engine="c",
        low_memory=False,
    )
    findings = []
    if len(table) < len(rows):
        findings.append(
            Finding("rows", f"{len(rows) - len(table)} rows with too many columns dropped", CORRECTED)
        )
    return table.apply(lambda column: _numeric(column, layout.decimal)), findings


def _numeric(column: pd.Series, decimal: str) -> pd.Series:
    """Numbers of a column; text among them becomes NaN."""
    if pd.api.types.is_numeric_dtype(column):
        return column.astype(float)
    text = column.astype(str).str.strip()
    if decimal == ",":
        text = text.str.replace(".", "x", regex=False).str.replace(",", ".", regex=False)
    return pd.to_numeric(text, errors="coerce").astype(float)
