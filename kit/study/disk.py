"""A full disk, told apart from other trouble, and what to do about it."""

from __future__ import annotations

import errno

from kit.errors import InputError

FULL = (errno.ENOSPC, errno.EDQUOT)


def is_full(error: object) -> bool:
    """Whether an error, or the text of one that another process had, says that a disk or a quota is full."""
    if isinstance(error, OSError):
        return error.errno in FULL
    return any(f"[Errno {number}]" in str(error) for number in FULL)


def full(place: object) -> InputError:
    """What a person can act on where a disk is full."""
    return InputError(
        "the disk is full",
        str(place),
        "make room, or name a folder on another disk with --results, and give the same command again: "
        "sections and stages that are finished are kept, and tables of an unfinished run are written anew",
    )
