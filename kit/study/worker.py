"""The far side of the fan-out: a process that answers one task after another, under limits.

It is started as ``python -m kit.study.worker``; see `kit.isolation`. Whatever a mesher or a parser does here,
crash, hang or fill the memory, costs the caller one task.
"""

from __future__ import annotations

import importlib
import traceback
from collections.abc import Callable
from pathlib import Path

from kit.isolation import READY, limit_memory, orders, receive, send


def named(path: str) -> Callable:
    """The function that ``package.module:function`` names."""
    module, _, function = path.partition(":")
    return getattr(importlib.import_module(module), function)


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
    pipe_in, pipe_out, memory_bytes, path = orders()
    function = named(path)
    limit_memory(memory_bytes)
    send(pipe_out, READY)
    while True:
        try:
            task = receive(pipe_in)
        except EOFError:
            return
        send(pipe_out, answer(function, task))


if __name__ == "__main__":
    main()
