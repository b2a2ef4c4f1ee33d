"""``leakdx open`` as a person starts it: a process, spoken to over HTTP."""

from __future__ import annotations

import contextlib
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path
from urllib.parse import urlsplit

import psutil

ROOT = Path(__file__).parents[2]
# Long enough for a machine that does ten other things.
PATIENCE_S = 60.0


def eventually(holds: Callable[[], bool], seconds: float = PATIENCE_S) -> bool:
    """Whether ``holds`` comes true in time; asked every tenth of a second."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return True
        time.sleep(0.1)
    return holds()


@dataclass
class Answer:
    """One answer over HTTP."""

    status: int
    headers: dict[str, str]
    text: str

    @property
    def where(self) -> str:
        """Where it sends the reader on to."""
        return self.headers.get("location", "")


@dataclass
class Opened:
    """A running ``leakdx open``, and the cookie once the token was shown."""

    process: subprocess.Popen[str]
    address: str
    temporary: Path
    store: Path
    cookies: dict[str, str] = field(default_factory=dict)

    @property
    def port(self) -> int:
        """The port of the address."""
        port = urlsplit(self.address).port
        assert port is not None
        return port

    @property
    def entrance(self) -> str:
        """Path and query of the address, with the token."""
        parts = urlsplit(self.address)
        return f"{parts.path}?{parts.query}"

    @property
    def run_folders(self) -> list[Path]:
        """What is left among the temporary files."""
        return sorted(self.temporary.iterdir())

    def family(self) -> list[psutil.Process]:
        """All processes that descend from it."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def kernels(self) -> list[psutil.Process]:
        """The kernels among them that are in use or kept warm."""
        found = []
        for each in self.family():
            with contextlib.suppress(psutil.NoSuchProcess):
                if "leakdx.opening.kernel" in each.cmdline():
                    found.append(each)
        return found

    def get(self, path: str, **headers: str) -> Answer:
        """What the server answers to a reader who has the cookies got so far."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        jar = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        sent = {key.replace("_", "-"): value for key, value in headers.items()}
        connection.request("GET", path, headers={"Cookie": jar} | sent)
        answer: HTTPResponse = connection.getresponse()
        for line in answer.headers.get_all("Set-Cookie") or []:
            name, _, rest = line.partition("=")
            self.cookies[name] = rest.partition(";")[0]
        found = {key.lower(): value for key, value in answer.headers.items()}
        text = answer.read().decode("utf-8", "replace")
        connection.close()
        return Answer(answer.status, found, text)

    def stranger(self) -> Opened:
        """The same server, to a reader who has no cookie."""
        return Opened(self.process, self.address, self.temporary, self.store)

    def end(self, number: int) -> int:
        """Send a signal; gives the exit code."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)

    def assert_nothing_left(self, family: list[psutil.Process]) -> None:
        """No process of ``family``, no file, and the port free again."""
        assert eventually(lambda: not any(running(each) for each in family), 15)
        assert self.run_folders == []
        with socket.socket() as free:
            free.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            free.bind(("127.0.0.1", self.port))


def running(process: psutil.Process) -> bool:
    """Whether the process is there, and not only waits to be counted as gone."""
    try:
        return process.is_running() and process.status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


@contextlib.contextmanager
def started(folder: Path, *command: str) -> Iterator[Opened]:
    """The command run with folders of its own under ``folder``, until the block ends."""
    temporary, store = folder / "temporary", folder / "store"
    temporary.mkdir()
    env = os.environ | {
        "PYTHONPATH": str(ROOT),
        "LEAKDX_HOME": str(store),
        "TMPDIR": str(temporary),
        # Settings of the user that must not be used, nor written to.
        "JUPYTER_CONFIG_DIR": str(folder / "mine"),
        "JUPYTER_DATA_DIR": str(folder / "mine"),
        "IPYTHONDIR": str(folder / "mine"),
    }
    said = folder / "said.txt"
    with said.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, *command], cwd=folder, env=env, stdout=out, stderr=out, text=True
        )
    try:
        pattern = re.compile(r"http://127\.0\.0\.1:\d+/\S*token=[\w-]+")
        assert eventually(
            lambda: bool(pattern.search(said.read_text())) or process.poll() is not None
        )
        found = pattern.search(said.read_text())
        assert found, said.read_text()
        yield Opened(process, found[0], temporary, store)
        # Nothing is to be told beside where it is: no warning, no traceback.
        assert not re.search(r"Traceback|Error|Warning|WARN", said.read_text()), said.read_text()
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
