"""A watched process of its own for work that may crash, hang or fill the memory.

The process is a fresh interpreter on every system, so it behaves the same where processes are forked and
where they are not, and asks nothing of the script or notebook that calls it. Both sides speak pickles, a
length before each, over its standard input and output; whoever started it sets the time limits and ends it.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
from pathlib import Path
from typing import BinaryIO

from kit.errors import InputError

START_SECONDS = 120.0
STARTS = 2
LENGTH = struct.Struct("<Q")
READY = "ready"
PACKAGE_FOLDER = Path(__file__).resolve().parents[1]
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


class Ended(Exception):
    """The process has gone; ``code`` is its exit code."""

    def __init__(self, code: int):
        self.code = code
        super().__init__(f"the process ended (exit code {code})")


class Silent(Exception):
    """The process said nothing in time."""


class Child:
    """One watched process and the pipes to it.

    Parameters
    ----------
    module : str
        Run as ``python -m module``; it begins with `orders` and answers `READY`.
    memory_bytes : int or None
        Ceiling to its address space; None: not limited.
    settings : object
        What else it needs to begin.

    Raises
    ------
    InputError
        If it ends, or is not ready in time, as often as it is started (a busy machine may lose one start).
    """

    def __init__(self, module: str, memory_bytes: int | None = None, settings: object = None):
        for _ in range(STARTS):
            self._launch(module)
            try:
                self.send((memory_bytes, settings))
                self.receive(START_SECONDS)
            except (Ended, Silent) as lost:
                why = str(lost) or f"it was not ready within {START_SECONDS:g} s"
                self.stop()
            else:
                return
        raise InputError(
            f"a process that computes could not be started, {STARTS} times: {why}",
            f"python -m {module}",
            "end other programs, use fewer --workers, or raise limits.memory_per_worker",
        )

    def _launch(self, module: str) -> None:
        paths = os.pathsep.join(filter(None, (str(PACKAGE_FOLDER), os.environ.get("PYTHONPATH", ""))))
        self._process = subprocess.Popen(
            # -P: a module lying in the working folder, which may be a stranger's, is not imported.
            [sys.executable, "-P", "-m", module],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **ONE_THREAD, "PYTHONPATH": paths},
            start_new_session=True,  # Ctrl-C reaches the caller, who ends the process
        )
        self._answers: queue.SimpleQueue = queue.SimpleQueue()
        threading.Thread(target=_drain, args=(self._process.stdout, self._answers), daemon=True).start()

    def send(self, message: object) -> None:
        """Give it a message.

        Raises
        ------
        Ended
        """
        try:
            send(self._process.stdin, message)
        except (OSError, ValueError):  # broken, or closed by `stop`
            raise Ended(self._process.wait()) from None

    def receive(self, seconds: float) -> object:
        """Its next message.

        Raises
        ------
        Ended, Silent
        """
        try:
            message = self._answers.get(timeout=seconds)
        except queue.Empty:
            raise Silent from None
        if message is None:
            raise Ended(self._process.wait())
        return message

    def stop(self) -> None:
        """End the process, whatever it is doing."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                pipe.close()


def _drain(pipe: BinaryIO, answers: queue.SimpleQueue) -> None:
    """Messages as they come; None after the last."""
    with contextlib.suppress(EOFError, OSError, ValueError, MemoryError, pickle.UnpicklingError):
        while True:
            answers.put(receive(pipe))
    answers.put(None)


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
    size = LENGTH.unpack(head)[0]
    body = pipe.read(size)
    if len(body) < size:
        raise EOFError
    return pickle.loads(body)


def orders() -> tuple[BinaryIO, BinaryIO, int | None, object]:
    """The process's side of the beginning: its pipes, its memory limit and its settings.

    From here on nothing a library prints gets among the answers.
    """
    pipe_in, pipe_out = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    memory_bytes, settings = receive(pipe_in)
    return pipe_in, pipe_out, memory_bytes, settings


def limit_memory(limit_bytes: int | None) -> None:
    """Refuse this process more address space than the limit, where the system can."""
    if limit_bytes is None:
        return
    with contextlib.suppress(ImportError, ValueError, OSError):  # not on Windows: there time alone guards
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (limit_bytes, resource.getrlimit(resource.RLIMIT_AS)[1]))
