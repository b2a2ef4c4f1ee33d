"""``leakdx open``: from what was asked for to a server that runs until it is stopped."""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import logging
import os
import secrets
import sys
import threading
import webbrowser
from typing import TYPE_CHECKING, Any

from leakdx.commands.output import print_json
from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.opening.asked import Asked, Culling, Ready, made_ready
from leakdx.opening.folder import Folder, run_folder
from leakdx.opening.imports import unburdened
from leakdx.opening.stopping import Stopping, stopped_by_signals
from leakdx.opening.warm import WarmKernel
from leakdx.store.places import HOME

if TYPE_CHECKING:
    from jupyter_server.services.kernels.kernelmanager import MappingKernelManager

FORMAT = "leakdx-open/1"
# What the desk reads to know which job to open.
OPEN = "LEAKDX_OPEN"
STOPPED = 130


def run(args: argparse.Namespace) -> int:
    """Do what ``leakdx open`` says until it is stopped; gives the exit code."""
    if args.store is not None:
        os.environ[HOME] = args.store
    culling = Culling(300, 30) if args.page else Culling(900, 60)
    asked = Asked(args.page, args.job, args.port, not args.no_browser, culling)
    return opened(asked, as_json=args.json)


def opened(asked: Asked, *, as_json: bool = False) -> int:
    """Open it and serve it until a signal stops it; gives the exit code.

    Raises:
        FaultyInput: with everything that is in the way, before anything was started.
    """
    ready = made_ready(asked)
    with (
        contextlib.suppress(KeyboardInterrupt),
        stopped_by_signals() as stopping,
        ready.sock,
        run_folder() as folder,
    ):
        os.environ.update(folder.environment)
        if ready.job_id is not None:
            os.environ[OPEN] = ready.job_id
        _serve(asked, ready, folder, stopping, as_json)
    return STOPPED


def _serve(asked: Asked, ready: Ready, folder: Folder, stopping: Stopping, as_json: bool) -> None:
    warm = WarmKernel.begin()
    loop = asyncio.new_event_loop()
    # The servers take the loop of the thread.
    asyncio.set_event_loop(loop)
    try:
        token = secrets.token_urlsafe(32)
        address = _address(asked, ready.port, token)
        if asked.browser:
            # It comes up meanwhile, and waits at the socket.
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        kernels = _server(asked, ready, folder, token, warm)
        _tell(asked, ready, address, as_json)
        try:
            stopping.run(loop)
        finally:
            loop.run_until_complete(_ended(kernels))
    finally:
        warm.close()
        asyncio.set_event_loop(None)
        loop.close()


def _address(asked: Asked, port: int, token: str) -> str:
    where = "" if asked.page else "lab/tree/diagnose.ipynb"
    return f"http://127.0.0.1:{port}/{where}?token={token}"


def _server(
    asked: Asked, ready: Ready, folder: Folder, token: str, warm: WarmKernel
) -> MappingKernelManager:
    """The server started; gives what keeps its kernels."""
    with unburdened():
        from leakdx.opening import kernels

        # It warns of two waits of Jupyter's own that do not fit each other.
        logging.getLogger("tornado").setLevel(logging.ERROR)
        kernels.use(warm)
        if asked.page:
            from leakdx.opening.page import page_server

            page = page_server(folder, ready.sock, token, asked.culling)
            page.start()
            return page.kernel_manager
        from leakdx.opening.lab import lab_server

        lab = lab_server(folder, ready.sock, token, asked.culling)
        lab.start_app()
        return lab.kernel_manager


async def _ended(kernels: MappingKernelManager) -> None:
    # At once: all that was entered is in the store already, the workers end with their kernel,
    # and a kernel that is ended step by step may fill the terminal with what it is cut off from.
    ending: Any = kernels.shutdown_all(now=True)
    if asyncio.iscoroutine(ending) or asyncio.isfuture(ending):
        await ending


def _tell(asked: Asked, ready: Ready, address: str, as_json: bool) -> None:
    # Nobody may read any more where the terminal was closed meanwhile.
    with contextlib.suppress(OSError):
        if as_json:
            print_json(
                {
                    "format": FORMAT,
                    "address": address,
                    "job": ready.job_id,
                    "folder": str(ready.folder),
                }
            )
        else:
            what = "The page is" if asked.page else "The notebook is"
            print(
                f"{what} at {address}\n"
                "Only this computer can open it, and only with that whole address.\n"
                f"Jobs are kept in {ready.folder}. To stop: Ctrl-C here."
            )
            if not asked.page:
                print("The notebook is a copy, gone when you stop; your jobs are not.")
        sys.stdout.flush()


def json_schema() -> Schema:
    """The schema of what ``leakdx open --json`` prints."""
    text: Schema = {"type": "string"}
    return {
        "$schema": DIALECT,
        "$id": "leakdx:open/1",
        "title": "Open",
        "description": "Where the page or the notebook was opened.",
        **closed(
            {
                "format": {"const": FORMAT},
                "address": text | {"description": "of the page, with the secret that opens it"},
                "job": {"type": ["string", "null"], "description": "id of the job that was named"},
                "folder": text | {"description": "where the jobs are kept"},
            }
        ),
    }
