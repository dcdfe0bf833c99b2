"""Files an entry of the study names: paths, folders, globs, files inside installed packages."""

from __future__ import annotations

import importlib.util
import stat
from pathlib import Path

from kit.errors import InputError
from kit.outlines.outline import LeftOut, clean

WILD = frozenset("*?[")
INSTALLED = "installed:"
MOST_FILES = 100_000


def found_files(
    patterns: tuple[str, ...], base: Path, suffixes: tuple[str, ...]
) -> tuple[list[Path], list[LeftOut]]:
    """Files to read, each once, in a fixed order, and what was named but is no file.

    Parameters
    ----------
    patterns : tuple of str
        Absolute, or relative to the base; ``*``, ``?``, ``[…]`` and ``**``; folders mean all files
        below them with the suffixes; ``installed:package/file`` looks inside an installed package.
    base : pathlib.Path
        Folder of the parameter file.
    suffixes : tuple of str
        Lower case.

    Raises
    ------
    InputError
        If a file is missing, or a pattern finds nothing.
    """
    files: dict[Path, None] = {}
    left_out: list[LeftOut] = []
    for pattern in patterns:
        for path in _matches(pattern, base, suffixes):
            reason = _no_file(path, named=path == base / pattern or pattern.startswith(INSTALLED))
            if reason:
                left_out.append(LeftOut(clean(path.name), "", reason))
            else:
                files.setdefault(path)
        if len(files) > MOST_FILES:
            raise InputError(f"{pattern!r} finds more than {MOST_FILES} files", "files", "name fewer")
    return list(files), left_out


def _matches(pattern: str, base: Path, suffixes: tuple[str, ...]) -> list[Path]:
    if "\0" in pattern or not pattern.strip():
        raise InputError(f"{pattern!r} is no path", "files", "name a file, a folder or a pattern")
    if pattern.startswith(INSTALLED):
        return _installed(pattern)
    path = base / pattern
    # A name may hold brackets (variable fonts are often called so): a file that is there is no pattern.
    if WILD & set(pattern) and not path.exists():
        root = Path(path.anchor) if Path(pattern).is_absolute() else base
        relative = str(path.relative_to(root)) if Path(pattern).is_absolute() else pattern
        return _some(sorted(p for p in root.glob(relative) if p.suffix.lower() in suffixes), pattern, base)
    if path.is_dir():
        return _some(sorted(p for p in path.rglob("*") if p.suffix.lower() in suffixes), pattern, base)
    if not path.exists() and not path.is_symlink():
        raise InputError(f"{pattern!r} does not exist", f"files (looked in {base})", "correct the path")
    return [path]


def _some(found: list[Path], pattern: str, base: Path) -> list[Path]:
    if not found:
        raise InputError(
            f"{pattern!r} finds no file",
            f"files (looked in {base})",
            "correct the path or the pattern",
        )
    return found


def _installed(pattern: str) -> list[Path]:
    """Files of an installed package by name, wherever they lie in it; the package is not imported."""
    package, _, name = pattern.removeprefix(INSTALLED).partition("/")
    try:
        spec = importlib.util.find_spec(package) if package.isidentifier() else None
    except (ImportError, ValueError):
        spec = None
    folders = list(spec.submodule_search_locations or ()) if spec else []
    if not folders:
        raise InputError(f"{pattern!r}: no package {package!r} is installed", "files", "install it")
    if not name or ".." in Path(name).parts or Path(name).is_absolute():
        raise InputError(f"{pattern!r} names no file of the package", "files", "write installed:package/file")
    found = sorted(p for folder in folders for p in Path(folder).rglob(name))
    if not found:
        raise InputError(f"{pattern!r}: the package has no such file", "files", "correct the name")
    return found


def _no_file(path: Path, named: bool) -> str:
    """Why the path is not read; empty for a file. A link is followed only where it is named itself."""
    try:
        kind = path.stat().st_mode if named else path.lstat().st_mode
    except OSError as error:
        return f"it cannot be reached ({error.strerror}); look at the file"
    if stat.S_ISLNK(kind):
        return "it is a link; links are followed only where the link itself is named"
    if stat.S_ISDIR(kind):
        return "it is a folder named like a file; name the folder to read what is in it"
    if not stat.S_ISREG(kind):
        return "it is no regular file (a pipe or a device); name a file"
    return ""
