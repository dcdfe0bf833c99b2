"""The far side of the fan-out: a process that answers one task after another, under limits.

It is started as ``python -m kit.study.worker`` and speaks length-prefixed pickles over its standard
input and output. Whatever a mesher or a parser does here, crash, hang or fill the memory, costs the
caller one task.
"""

from __future__ import annotations

import importlib
import os
import pickle
import struct
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

LENGTH = struct.Struct("<Q")


def send(pipe: BinaryIO, message: object) -> None:
    """Write one message."""
    body = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(LENGTH.pack(len(body)) + body)
    pipe.flush()


def receive(pipe: BinaryIO) -> object:
    """Read one message; EOFError when the other side has gone."""
    head = pipe.read(LENGTH.size)
    if len(head) < LENGTH.size:
        raise EOFError
    body = pipe.read(LENGTH.unpack(head)[0])
    return pickle.loads(body)


def named(path: str) -> Callable:
    """The function that ``package.module:function`` names."""
    module, _, function = path.partition(":")
    return getattr(importlib.import_module(module), function)


def limit_memory(limit_bytes: int | None) -> None:
    """Refuse this process more address space than the limit, where the system can."""
    if limit_bytes is None:
        return
    try:
        import resource
    except ImportError:  # not on Windows: there the time limit alone guards
        return
    resource.setrlimit(resource.RLIMIT_AS, (limit_bytes, resource.RLIM_INFINITY))


def answer(function: Callable, task: object) -> tuple[str, object]:
    """``("done", result)`` or ``("failed", reason)``."""
    try:
        return "done", function(task)
    except MemoryError:
        return "failed", "it needs more memory than limits.memory_per_worker allows"
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{Path(place.filename).name}:{place.lineno}"
        return "failed", f"{type(error).__name__}: {error} ({where})"


def main() -> None:
    """Answer tasks until the caller closes the pipe."""
    pipe_in, pipe_out = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # a library that prints must not write into the answers
    path, limit_bytes = receive(pipe_in)
    function = named(path)
    limit_memory(limit_bytes)
    send(pipe_out, ("ready", os.getpid()))
    while True:
        try:
            task = receive(pipe_in)
        except EOFError:
            return
        send(pipe_out, answer(function, task))


if __name__ == "__main__":
    main()
