"""The program of a kernel: an ordinary Python kernel that has the desk imported already."""

from __future__ import annotations

import contextlib
import importlib
import json
import logging
import os
import signal
import sys
import warnings
from collections.abc import Sequence
from typing import Any

DESK = "leakdx.panels.desk"


def main(arguments: Sequence[str]) -> None:
    """Be a kernel with ``arguments``; with ``--wait``, first wait on stdin to be told them."""
    # A kernel that is ended before it is up has nothing to tell; later it hears interrupts itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    kernelapp: Any = importlib.import_module("ipykernel.kernelapp")
    waited = list(arguments) == ["--wait"]
    if waited:
        # What is wrong with it is told where the notebook imports it.
        with contextlib.suppress(Exception):
            importlib.import_module(DESK)
        told = _told()
        if told is None:
            return
        arguments = told
    app = kernelapp.IPKernelApp.instance()
    app.initialize(list(arguments))
    if waited and "ipywidgets" in sys.modules:
        # Widgets make themselves known to the kernel at import, and there was none then.
        sys.modules["ipywidgets"].register_comm_target()
    # One that is ended while it waits leaves what it waited for; that is nobody's concern.
    warnings.filterwarnings("ignore", r"coroutine '\w*Kernel\.\w+' was never awaited")
    _end_quietly(app.kernel)
    app.start()


def _end_quietly(kernel: Any) -> None:
    """Has a kernel that is ended, as when its page is closed, say no more.

    What is still asked of it then would fill the terminal with errors of its closed sockets.
    """
    end = kernel.do_shutdown

    def ended(restart: bool) -> Any:
        logging.disable(logging.CRITICAL)
        return end(restart)

    kernel.do_shutdown = ended


def _told() -> list[str] | None:
    """The arguments of the kernel, once one is wanted, with its environment and folder taken on."""
    line = sys.stdin.buffer.readline()
    if not line:
        return None
    told = json.loads(line)
    os.environ.clear()
    os.environ.update(told["env"])
    os.chdir(told["cwd"])
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    arguments: list[str] = told["arguments"]
    return arguments


if __name__ == "__main__":
    main(sys.argv[1:])
