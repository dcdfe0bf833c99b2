"""Batches on an existing dask.distributed scheduler; the kit brings no scheduler of its own."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from kit.errors import InputError
from kit.study import fanout
from kit.study.store import TOUCHING, solver_version

CONNECT_SECONDS = 20.0
FROM_ENVIRONMENT = "environment"


def versions() -> dict[str, str]:
    """What must be equal on every worker: Python, the kit's solver, and the libraries it rests on."""
    found = {"python": platform.python_version(), "solver": solver_version()[:16]}
    for package in TOUCHING:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            found[package] = "missing"
    return found


@contextmanager
def connected(address: str) -> Iterator[tuple[Executor, int]]:
    """An executor on a running scheduler, and how many batches it can run at once.

    Parameters
    ----------
    address : str
        ``tcp://host:port``, the path of a scheduler file, or ``environment`` for what dask's own
        environment variables name (``DASK_SCHEDULER_ADDRESS``).

    Raises
    ------
    InputError
        If the extra is not installed, nobody answers, there are no workers, or a worker runs other
        versions.
    """
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "the package distributed is not installed",
            "--cluster",
            'pip install "section-study-kit[cluster]"',
        ) from None
    try:
        client = Client(**_where(address), timeout=CONNECT_SECONDS)
    except (OSError, TimeoutError, ValueError) as error:
        todo = "start a scheduler, or correct the address"
        raise InputError(f"no scheduler answers at {address!r}: {error}", "--cluster", todo) from error
    try:
        threads = sum(client.nthreads().values())
        if not threads:
            raise InputError(
                f"the scheduler at {address!r} has no workers", "--cluster", "start some workers"
            )
        _check_versions(client)
        yield client.get_executor(pure=False, retries=2), threads
        client.run(fanout.stop_workers)
    finally:
        client.close()


def _where(address: str) -> dict[str, str]:
    if address == FROM_ENVIRONMENT:
        address = os.environ.get("DASK_SCHEDULER_ADDRESS", "")
        if not address:
            todo = "set it, or give the address itself"
            raise InputError("DASK_SCHEDULER_ADDRESS is not set", "--cluster environment", todo)
    return {"scheduler_file": address} if Path(address).is_file() else {"address": address}


def _check_versions(client) -> None:
    ours = versions()
    try:
        theirs = client.run(versions)
    except Exception as error:
        todo = "install the same version of the kit on every worker"
        raise InputError(f"a worker cannot load the kit: {error}", "--cluster", todo) from error
    for worker, found in sorted(theirs.items()):
        wrong = [
            f"{name} {found.get(name)} there, {ours[name]} here"
            for name in ours
            if found.get(name) != ours[name]
        ]
        if wrong:
            raise InputError(
                f"the worker {worker} runs other versions: {'; '.join(wrong)}",
                "--cluster",
                "install the same versions everywhere: results would differ from worker to worker",
            )
