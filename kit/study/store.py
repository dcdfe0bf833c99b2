"""Results kept by content: what was computed once from the same content is never computed again.

One SQLite file serves every study below a results folder. A record is written whole or not at all, so a
kill at any moment loses at most the records under way; a damaged record fails its checksum and is
computed again; a damaged file is put aside and a new one begun.
"""

from __future__ import annotations

import csv
import hashlib
import json
import sqlite3
import sys
import time
import zlib
from collections.abc import Iterable, Iterator
from contextlib import closing
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

from kit.errors import InputError
from kit.places import DATA, PACKAGE

TOUCHING = ("numpy", "scipy", "shapely", "cytriangle", "fonttools")
BATCH = 500
LEVEL = 6
WAIT_S = 60.0


def solver_version() -> str:
    """Fingerprint of the code and the libraries that turn an outline into a section."""
    digest = hashlib.sha256()
    for folder in ("outlines", "sections"):
        for module in sorted((PACKAGE / folder).glob("*.py")):
            digest.update(module.read_bytes().replace(b"\r\n", b"\n"))
    for package in TOUCHING:
        digest.update(f"{package} {version(package)};".encode())
    return digest.hexdigest()


def content_key(*parts: object) -> str:
    """SHA-256 (hex) of the parts, each by its ``repr``: equal content gives equal keys."""
    return hashlib.sha256("\x1f".join(map(repr, parts)).encode()).hexdigest()


@lru_cache(maxsize=1)
def _words() -> bytes:
    """Words that most records hold, known to both sides of the compression: the names of the columns."""
    with (DATA / "columns.csv").open(encoding="utf-8", newline="") as opened:
        names = [row["column"] for row in csv.DictReader(opened)]
    return ",".join(f'"{name}":' for name in names).encode()


def _packed(body: bytes) -> bytes:
    packer = zlib.compressobj(LEVEL, zdict=_words())
    return packer.compress(body) + packer.flush()


def _unpacked(body: bytes) -> bytes:
    return zlib.decompressobj(zdict=_words()).decompress(body)


# Trouble around a file that may be sound: the disk, its rights, another process. Everything else that SQLite
# says of a file is damage to it.
_AROUND = {
    sqlite3.SQLITE_BUSY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_FULL, sqlite3.SQLITE_INTERRUPT,
    sqlite3.SQLITE_IOERR, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_NOLFS, sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_PERM, sqlite3.SQLITE_PROTOCOL, sqlite3.SQLITE_READONLY,
}  # fmt: skip


def _is_damage(error: sqlite3.Error) -> bool:
    """Whether SQLite complains of what is in the file, and not of the disk or the company it is in."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF not in _AROUND


class Store:
    """A key → record store on one file; open it anew in each process.

    Parameters
    ----------
    file : Path
        Made if missing, with its folder.
    """

    def __init__(self, file: Path):
        self.file = Path(file)
        self.file.parent.mkdir(parents=True, exist_ok=True)
        self._connection: sqlite3.Connection | None = None
        self._opened: int | None = None
        self.damaged = 0
        try:
            self._open()
        except sqlite3.DatabaseError as error:
            if not _is_damage(error):
                raise self._trouble(error) from error
            self._begin_anew()

    def _on_disk(self) -> int | None:
        return self.file.stat().st_ino if self.file.exists() else None

    def _open(self) -> None:
        self._opened = self._on_disk()
        self._connection = sqlite3.connect(self.file, timeout=WAIT_S, isolation_level=None)
        # A record is some three kilobytes: smaller pages would hold one each and leave the rest empty, and
        # a table in the order of its random keys would leave half of every page empty.
        self._connection.execute("PRAGMA page_size=16384")
        self._begin_log()
        self._connection.execute("PRAGMA synchronous=NORMAL")
        self._connection.execute(
            "CREATE TABLE IF NOT EXISTS records (key TEXT PRIMARY KEY, sum INTEGER, body BLOB)"
        )
        self._connection.execute("SELECT key, sum, body FROM records LIMIT 1")
        self._opened = self._on_disk()

    def _begin_log(self) -> None:
        """Switch to the write-ahead log; SQLite answers "locked" at once where another process is switching."""
        give_up = time.monotonic() + WAIT_S
        while True:
            try:
                self._connection.execute("PRAGMA journal_mode=WAL")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
                    raise
            time.sleep(0.01)

    def _begin_anew(self) -> None:
        self.close()
        if self._on_disk() != self._opened:
            self._open()  # another process has put the damaged file aside already
            return
        aside = self.file.with_suffix(".damaged")
        for suffix in ("-wal", "-shm"):
            self.file.with_name(self.file.name + suffix).unlink(missing_ok=True)
        self.file.replace(aside)
        print(f"the store {self.file} was damaged; it is kept as {aside.name}", file=sys.stderr)
        self.damaged += 1
        self._open()

    def _trouble(self, error: Exception) -> InputError:
        return InputError(
            f"the store of results cannot be used: {error}",
            str(self.file),
            "make room on the disk or give a folder that can be written with --results; nothing kept is lost",
        )

    def read(self, keys: Iterable[str]) -> dict[str, dict]:
        """The sound records among ``keys``; what is missing or damaged is simply not in the answer."""
        keys = list(keys)
        found: dict[str, dict] = {}
        for start in range(0, len(keys), BATCH):
            part = keys[start : start + BATCH]
            marks = ",".join("?" * len(part))
            found.update(self._sound(f"SELECT key, sum, body FROM records WHERE key IN ({marks})", part))
        return found

    def _sound(self, query: str, values: list[str]) -> Iterator[tuple[str, dict]]:
        try:
            rows = self._connection.execute(query, values).fetchall()
        except sqlite3.DatabaseError as error:
            if not _is_damage(error):
                raise self._trouble(error) from error
            self._begin_anew()
            return
        for key, checksum, body in rows:
            if not isinstance(body, bytes) or zlib.crc32(body) != checksum:
                self.damaged += 1
                continue
            try:
                yield key, json.loads(_unpacked(body))
            except (zlib.error, ValueError):
                self.damaged += 1

    def write(self, records: dict[str, dict]) -> None:
        """Keep records (JSON-able); each call is one transaction.

        Raises
        ------
        InputError
            If the disk is full or cannot be written; what was kept before stays.
        """
        rows = []
        for key, record in records.items():
            body = _packed(json.dumps(record, separators=(",", ":")).encode())
            rows.append((key, zlib.crc32(body), body))
        try:
            self._insert(rows)
        except sqlite3.Error as error:
            if not _is_damage(error):
                raise self._trouble(error) from error
            self._begin_anew()
            self._insert(rows)

    def _insert(self, rows: list[tuple]) -> None:
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            self._connection.executemany("INSERT OR REPLACE INTO records VALUES (?, ?, ?)", rows)
            self._connection.execute("COMMIT")
        except sqlite3.Error:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise

    def __len__(self) -> int:
        return self._connection.execute("SELECT COUNT(*) FROM records").fetchone()[0]

    def close(self) -> None:
        """Close the file; the store cannot be used afterwards."""
        if self._connection is not None:
            with closing(self._connection):
                self._connection = None

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
