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
