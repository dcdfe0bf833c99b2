"""The process in which strangers' files are parsed: ``python -m kit.outlines.worker``.

It takes a list of tasks and answers ``("opened", task, name)``, ``("started", task, name)``,
``("item", task, outline or left-out)`` and ``("done", task, None)``; see `kit.isolation`.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from kit.errors import Unusable
from kit.isolation import READY, limit_memory, orders, receive, send
from kit.outlines.outline import LeftOut, Outline, clean

LARGEST_FILE = 100_000_000  # bytes


class Progress:
    """Tells the waiting process what is begun, and which items were dealt with before a crash.

    Parameters
    ----------
    send : callable
        Takes a kind of message and its content.
    skip : int
        Items, counted in their fixed order, that are not to be tried again.
    """

    def __init__(self, send: Callable[[str, object], None], skip: int = 0):
        self._send, self._skip, self._count = send, skip, 0

    def opened(self, name: str) -> None:
        """A file or face is being opened."""
        self._send("opened", name)

    def started(self, name: str) -> bool:
        """An item is begun; False if it was dealt with before."""
        self._count += 1
        if self._count <= self._skip:
            return False
        self._send("started", name)
        return True


def items_of(path: Path, spec, progress: Progress) -> Iterator[Outline | LeftOut]:
    """Outlines of one file, by the kind of its specification."""
    from kit.outlines.readers import reader_of

    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise Unusable(
                f"the file has {size / 1e6:.0f} MB, more than {LARGEST_FILE / 1e6:.0f} MB; simplify it"
            )
        yield from reader_of(spec)(path, spec, progress)
    except Exception as error:
        yield LeftOut(clean(path.name), "", unreadable(error))


def unreadable(error: Exception) -> str:
    """The reason a file or a glyph cannot be read, in one line."""
    if isinstance(error, Unusable):
        return str(error)
    if isinstance(error, OSError) and error.strerror:
        return f"it cannot be opened ({error.strerror}); look at the file's permissions"
    detail = clean(str(error), 80)
    return f"it cannot be read ({type(error).__name__}: {detail}); the file is damaged: get it again"


def serve(requests: BinaryIO, answers: BinaryIO) -> None:
    """Work through the tasks ``(number, path, specification, items to skip)``."""
    for number, path, spec, skip in receive(requests):
        progress = Progress(lambda kind, name, n=number: send(answers, (kind, n, name)), skip)
        for item in items_of(path, spec, progress):
            send(answers, ("item", number, item))
        send(answers, ("done", number, None))


def main() -> None:
    """Serve the process that started this one."""
    pipe_in, pipe_out, memory_bytes, _ = orders()
    limit_memory(memory_bytes)
    logging.disable(logging.CRITICAL)
    send(pipe_out, READY)
    serve(pipe_in, pipe_out)


if __name__ == "__main__":
    main()
