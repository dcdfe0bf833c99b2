"""Tasks that misbehave, for the fan-out's tests."""

import os
import time


def act(task: tuple[str, float]) -> float:
    what, value = task
    if what == "square":
        return value * value
    if what == "raise":
        raise ValueError(f"cannot take {value}")
    if what == "crash":
        os._exit(11)
    if what == "hang":
        time.sleep(3600)
    if what == "fill":
        return len(bytearray(int(value)))
    if what == "print":
        print("a library that prints" * 1000)
        return value
    raise AssertionError(what)


def ready(task):
    """Makes outlines ready, but for those whose names say what they do to the process."""
    from kit.study import readying

    outline, _ = task
    if outline.name in ("crash", "hang"):
        act((outline.name, 0.0))
    if outline.name == "fill":
        return len(bytearray(8_000_000_000))
    return readying.one(task)
