"""What was asked for on the command line, and whether it can be done: all faults at once."""

from __future__ import annotations

import errno
import os
import socket
from dataclasses import dataclass
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leakdx.files.faults import Fault, FaultyInput

if TYPE_CHECKING:
    from leakdx.case.model import Job
    from leakdx.machine.model import Machine
    from leakdx.store.store import CaseStore

LOOPBACK = "127.0.0.1"
# What each way to open it needs, by the names under which it is imported.
NEEDED = {
    True: ("voila", "anywidget", "ipywidgets"),
    False: ("jupyterlab", "anywidget", "ipywidgets"),
}


@dataclass(frozen=True)
class Culling:
    """When kernels are ended whose page is gone: after how many seconds, looked at how often."""

    after_s: int
    every_s: int

    def settings(self) -> dict[str, Any]:
        """The settings of Jupyter that say so.

        A page that is open and connected keeps its kernel however long nobody touches it.
        """
        return {
            "cull_idle_timeout": self.after_s,
            "cull_interval": self.every_s,
            "cull_connected": False,
            "cull_busy": False,
        }


@dataclass(frozen=True)
class Asked:
    """What to open: the page or JupyterLab, on which port (None: any that is free), which job."""

    page: bool
    job: str | None = None
    port: int | None = None
    browser: bool = True
    culling: Culling = Culling(300, 30)


@dataclass(frozen=True)
class Ready:
    """What was found: a socket that listens on loopback, the job's id in the store, the store."""

    sock: socket.socket
    job_id: str | None
    folder: Path

    @property
    def port(self) -> int:
        """The port that ``sock`` listens on."""
        port: int = self.sock.getsockname()[1]
        return port


def made_ready(asked: Asked) -> Ready:
    """All that was asked for, found and taken.

    Raises:
        FaultyInput: with everything that is in the way; nothing is then left taken.
    """
    from leakdx.store.store import CaseStore

    faults: list[Fault] = list(_missing(asked))
    sock = None
    try:
        sock = bound(asked.port)
    except FaultyInput as error:
        faults += error.faults
    job_id, folder = None, Path()
    try:
        with CaseStore.open() as store:
            folder = store.folder
            found = None if asked.job is None else _found_job(store, asked.job)
            # Written only where nothing is in the way.
            if found is not None and not faults:
                job_id = found if isinstance(found, str) else store.begin(*found)
    except FaultyInput as error:
        faults += error.faults
    if sock is None or faults:
        if sock is not None:
            sock.close()
        raise FaultyInput(faults)
    return Ready(sock, job_id, folder)


def _missing(asked: Asked) -> list[Fault]:
    names = [name for name in NEEDED[asked.page] if find_spec(name) is None]
    if not names:
        return []
    return [
        Fault(
            "",
            None,
            "",
            f"{' and '.join(names)} {'is' if len(names) == 1 else 'are'} not installed",
            "Install what is needed to open it: pip install 'leakdx[page]'",
        )
    ]


def bound(port: int | None) -> socket.socket:
    """A socket that listens on loopback, on ``port`` or (None) on one that is free.

    Raises:
        FaultyInput: where the port cannot be had.
    """
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        # Else a port would stay taken for a minute after it was left.
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        if port is not None and not 1 <= port <= 65535:
            raise OverflowError
        sock.bind((LOOPBACK, port or 0))
        # From here on a browser may come; it waits until the server is up.
        sock.listen(128)
        sock.setblocking(False)
    except (OSError, OverflowError) as error:
        sock.close()
        raise FaultyInput([Fault("", None, "--port", *_port_said(port, error))]) from None
    return sock


def _port_said(port: int | None, error: OSError | OverflowError) -> tuple[str, str]:
    remedy = "Name another port, or leave --port out: then one that is free is taken."
    if isinstance(error, OverflowError):
        return f"{port} is no port", "Name one from 1024 to 65535, or leave --port out."
    if error.errno == errno.EADDRINUSE:
        return f"port {port} is taken by another program", remedy
    if error.errno == errno.EACCES:
        return f"port {port} is kept for the system", remedy
    return f"port {port} cannot be had ({error.strerror or error})", remedy


def _found_job(store: CaseStore, name: str) -> str | tuple[Job, Machine, str]:
    """The job that a person names: its id in the store, or what the store begins it with.

    Raises:
        FaultyInput: where there is none, or its file cannot be used.
    """
    from leakdx.case.read import load_job, load_shipped_job, shipped_jobs
    from leakdx.files.words import choose

    ids = [job.id for job in store.jobs()]
    if name in ids:
        return name
    if Path(name).exists():
        loaded = load_job(name)
        # The same file opened again is the same job, with what was entered since.
        return loaded.job, loaded.machine, f"open-{sha256(Path(name).read_bytes()).hexdigest()}"
    if name in shipped_jobs():
        loaded = load_shipped_job(name)
        return loaded.job, loaded.machine, f"open-example-{name}"
    known = tuple(dict.fromkeys((*ids, *shipped_jobs())))
    raise FaultyInput(
        [
            Fault(
                "",
                None,
                "JOB",
                f"there is no job '{name}': none you have begun, no file, and no example",
                choose(name, known, what="job"),
            )
        ]
    )
