"""A papermill engine that runs a notebook's cells in the calling process, on a kernel without sockets.

Study notebooks already run in a watched process of their own. A second process for the kernel would only load
the same packages again, once for every notebook of the study.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from ipykernel.inprocess.client import InProcessKernelClient
from ipykernel.inprocess.ipkernel import InProcessInteractiveShell
from ipykernel.inprocess.manager import InProcessKernelManager
from nbformat import NotebookNode
from nbformat.v4 import output_from_msg
from papermill.engines import Engine, NotebookExecutionManager, papermill_engines

NAME = "in-this-process"
SHOWN = {"stream", "display_data", "execute_result", "error"}
GOES_ON = "raises-exception"
ANSWER_SECONDS = 60.0  # for what was computed already to arrive


class InThisProcess(Engine):
    """Executes the code cells one after another; stops at the first error that is not expected."""

    @classmethod
    def execute_managed_notebook(cls, nb_man: NotebookExecutionManager, kernel_name: str, **_) -> None:
        """Run the notebook that the manager holds.

        Parameters
        ----------
        nb_man : NotebookExecutionManager
            Its notebook receives the outputs.
        kernel_name : str
            Not used: it is the Python that runs this.
        """
        with _kernel() as (manager, client), _saved_once(nb_man):
            nb_man.nb.metadata["language_info"] = NotebookNode(manager.kernel.language_info)
            for number, cell in enumerate(nb_man.nb.cells):
                nb_man.cell_start(cell, number)
                failed = cell.cell_type == "code" and _run(client, cell)
                if failed:
                    nb_man.cell_exception(cell, number)
                nb_man.cell_complete(cell, number)
                if failed and GOES_ON not in cell.metadata.get("tags", []):
                    return


@contextmanager
def _saved_once(nb_man: NotebookExecutionManager) -> Iterator[None]:
    """Write the notebook at its end: papermill would write all of it twice for every cell."""
    target, nb_man.output_path = nb_man.output_path, None
    try:
        yield
    finally:
        nb_man.output_path = target


@contextmanager
def _kernel() -> Iterator[tuple[InProcessKernelManager, InProcessKernelClient]]:
    """A kernel with an empty namespace, forgotten afterwards with everything the notebook held."""
    manager = InProcessKernelManager()
    manager.start_kernel()
    manager.kernel.shell.history_manager.enabled = False  # nobody goes back in a notebook that runs by itself
    client = manager.client()
    client.start_channels()
    try:
        yield manager, client
    finally:
        client.stop_channels()
        manager.kernel.shell.reset(new_session=False)
        manager.kernel.iopub_thread.stop()
        manager.shutdown_kernel()
        InProcessInteractiveShell.clear_instance()


def _run(client: InProcessKernelClient, cell: NotebookNode) -> bool:
    """Execute one code cell and put its outputs into it; whether it failed."""
    cell.outputs, places = [], {}
    if not cell.source.strip():
        return False
    request = client.execute(cell.source)
    reply = client.get_shell_msg(timeout=ANSWER_SECONDS)["content"]
    cell.execution_count = reply.get("execution_count")
    for message in _messages(client, request):
        kind, content = message["msg_type"], message["content"]
        place = content.get("transient", {}).get("display_id")
        if kind == "update_display_data" and place in places:
            places[place].data = NotebookNode(content["data"])
        elif kind in SHOWN:
            _append(cell.outputs, output_from_msg(message))
            if place:
                places[place] = cell.outputs[-1]
    return reply["status"] == "error"


def _messages(client: InProcessKernelClient, request: str) -> Iterator[dict]:
    """What a cell sent, until the kernel says that it is idle again; another thread passes it on."""
    while True:
        message = client.get_iopub_msg(timeout=ANSWER_SECONDS)
        ours = message["parent_header"].get("msg_id") == request
        if ours and message["content"].get("execution_state") == "idle":
            return
        yield message


def _append(outputs: list[NotebookNode], output: NotebookNode) -> None:
    """Add an output; text that goes on after text of the same stream is joined to it."""
    last = outputs[-1] if outputs else None
    if last and last.output_type == output.output_type == "stream" and last.name == output.name:
        last.text += output.text
    else:
        outputs.append(output)


papermill_engines.register(NAME, InThisProcess)
