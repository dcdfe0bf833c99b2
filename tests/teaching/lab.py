"""JupyterLab as a student would have it: a server on this machine alone, and how much memory it and a kernel take."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Lab:
    """A running server.

    Attributes
    ----------
    address : str
    process : subprocess.Popen
    runtime : pathlib.Path
        Where it keeps the connection files of its kernels.
    """

    address: str
    process: subprocess.Popen
    runtime: Path

    def ask(self, path: str, method: str = "GET", body: dict | None = None):
        """What the server's interface answers."""
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"{self.address}/api/{path}", data, method=method)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.loads(answer.read() or b"null")


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as made:
        made.bind(("127.0.0.1", 0))
        return made.getsockname()[1]


def answers(address: str) -> bool:
    """Whether something answers there."""
    try:
        with urllib.request.urlopen(address, timeout=2) as answer:
            return answer.status == 200
    except OSError:
        return False


def wait_for(condition, seconds: float, what: str) -> float:
    """Wait until a condition holds; how long it took, s."""
    began = time.perf_counter()
    while time.perf_counter() - began < seconds:
        if condition():
            return time.perf_counter() - began
        time.sleep(0.02)
    raise TimeoutError(what)


@contextlib.contextmanager
def serving(root: Path, notebooks: Iterable[Path]) -> Iterator[Lab]:
    """A JupyterLab that serves copies of some notebooks, and is ended afterwards."""
    for notebook in notebooks:
        shutil.copy(notebook, root / notebook.name)
    port, runtime = free_port(), root / ".r"
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}",
        "--allow-root", f"--ServerApp.root_dir={root}", "--IdentityProvider.token=",
        "--ServerApp.disable_check_xsrf=True", "--LabApp.expose_app_in_browser=True", "--LabApp.news_url=",
        "--ServerApp.log_level=ERROR",
    ]  # fmt: skip
    if sys.platform != "win32":  # two kernels that start at one moment can clash on a port, not on a socket
        command.append("--KernelManager.transport=ipc")
    homes = {"JUPYTER_CONFIG_DIR": str(root / ".c"), "JUPYTER_RUNTIME_DIR": str(runtime)}
    server = subprocess.Popen(
        command, env={**os.environ, **homes}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    lab = Lab(f"http://127.0.0.1:{port}", server, runtime)
    try:
        wait_for(lambda: answers(f"{lab.address}/api/status"), 90, "JupyterLab does not answer")
        yield lab
    finally:
        server.terminate()
        try:
            server.wait(timeout=30)
        except subprocess.TimeoutExpired:  # it waits for a kernel that does not answer
            server.kill()


def children_of(pid: int) -> list[int]:
    """A process and all that descend from it."""
    found = [pid]
    for one in found:
        with contextlib.suppress(OSError):
            for task in Path(f"/proc/{one}/task").iterdir():
                found += [int(child) for child in (task / "children").read_text().split()]
    return found


def share_MB(pids: Iterable[int]) -> float:
    """Memory of processes, MB of 10⁶ bytes: pages that several processes share are split between them (Linux)."""
    kilobytes = 0
    for pid in pids:
        with contextlib.suppress(OSError):
            lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
            kilobytes += next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return kilobytes * 1.024e-3


def cpu_seconds(pid: int) -> float:
    """Processor time of a process and of the children it has waited for, s (Linux)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return sum(int(field) for field in fields[11:15]) / os.sysconf("SC_CLK_TCK")
