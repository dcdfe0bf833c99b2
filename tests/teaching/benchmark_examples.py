"""Memory and time of one student: ``python -m tests.teaching.benchmark_examples [part of a name ...]`` (Linux).

Each example and the bench runs from top to bottom in a kernel of its own, started by a JupyterLab that nobody else
uses. Counted are the server, the kernel and everything it starts; the browser is the student's own.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import nbformat
from jupyter_client import BlockingKernelClient

from kit.places import carried
from tests.teaching.lab import Lab, children_of, cpu_seconds, serving, share_MB

FOLDER = carried("notebooks/study").parent / "examples"
NOTEBOOKS = tuple(sorted(FOLDER.glob("*.ipynb")))


@dataclass(frozen=True)
class Need:
    """What one notebook takes.

    Attributes
    ----------
    name : str
    seconds, cpu_seconds : float
        From the start of the kernel to the end of the last cell.
    end_MB, most_MB : float
        Server and kernel with all it starts, when the last cell has run and at most.
    server_MB : float
        The server's part of ``end_MB``.
    failed : str
        The first error, if there was one.
    """

    name: str
    seconds: float
    cpu_seconds: float
    end_MB: float
    most_MB: float
    server_MB: float
    failed: str = ""

    def __str__(self) -> str:
        return (
            f"{self.name:24}{self.seconds:7.1f} s {self.cpu_seconds:6.1f} s CPU {self.end_MB:6.0f} MB at the end, "
            f"{self.most_MB:4.0f} MB at most (server {self.server_MB:.0f} MB) {self.failed}"
        )


class Watch(threading.Thread):
    """Looks five times a second how much memory the server and its kernels take."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid, self.most, self.over = pid, 0.0, threading.Event()

    def run(self) -> None:
        while not self.over.wait(0.2):
            self.most = max(self.most, share_MB(children_of(self.pid)))


def need_of(lab: Lab, notebook: Path) -> Need:
    """Run a notebook as JupyterLab does, all cells but the one that forgets every name."""
    began, server = time.perf_counter(), lab.process.pid
    watch = Watch(server)
    watch.start()
    kernel = lab.ask("kernels", "POST", {"name": "python3", "path": ""})["id"]
    pid = max(children_of(server)[1:])
    client = BlockingKernelClient(connection_file=str(lab.runtime / f"kernel-{kernel}.json"))
    client.load_connection_file()
    client.start_channels()
    client.hb_channel.time_to_dead = 60.0  # s: on a busy machine a kernel is late, not dead
    client.wait_for_ready(timeout=120)
    failed = ""
    client.execute_interactive(f"import os; os.chdir({str(notebook.parent)!r})", timeout=60)
    for cell in nbformat.read(notebook, 4).cells:
        if cell.cell_type == "code" and "%reset" not in cell.source and not failed:
            answer = client.execute_interactive(cell.source, timeout=120, output_hook=lambda _: None)[
                "content"
            ]
            failed = f"{answer['ename']}: {answer['evalue']}" if answer["status"] == "error" else ""
    seconds, spent = time.perf_counter() - began, cpu_seconds(pid)
    watch.over.set()
    watch.join()
    end, alone = share_MB(children_of(server)), share_MB([server])
    client.stop_channels()
    lab.ask(f"kernels/{kernel}", "DELETE")
    return Need(notebook.stem, seconds, spent, end, max(watch.most, end), alone, failed)


def needs(notebooks=NOTEBOOKS):
    """What each notebook needs, one after another."""
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), ()) as lab:
        for notebook in notebooks:
            yield need_of(lab, notebook)


if __name__ == "__main__":
    asked = sys.argv[1:] or [""]
    found = []
    for need in needs(tuple(one for one in NOTEBOOKS if any(part in one.stem for part in asked))):
        found.append(need)
        print(need, flush=True)
    print(
        f"at most {max(one.seconds for one in found):.1f} s, {max(one.end_MB for one in found):.0f} MB at the end, "
        f"{max(one.most_MB for one in found):.0f} MB at any time"
    )
