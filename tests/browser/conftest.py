"""A real Chromium on a real page.  Nothing may leave this computer, and no error may go unseen."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

# Generous: the computer may be busy with something else.
START_S, STOP_S = 60, 20
expect.set_options(timeout=30_000)
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S*")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder needs Chromium."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@dataclass
class Opened:
    """``leakdx open`` as it runs, with the address it told."""

    process: subprocess.Popen[str]
    address: str
    store: Path
    lines: list[str] = field(default_factory=list)
    reader: threading.Thread | None = None

    def stop(self) -> int:
        """As Ctrl-C does; gives the exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        code = self.process.wait(STOP_S)
        if self.reader is not None and self.process.stdout is not None:
            self.reader.join(STOP_S)
            self.process.stdout.close()
        return code


def _read(process: subprocess.Popen[str], lines: list[str]) -> None:
    assert process.stdout is not None
    lines.extend(iter(process.stdout.readline, ""))


def _open(store: Path, *options: str) -> Opened:
    command = [sys.executable, "-m", "leakdx.cli", "open", "--no-browser", "--store", str(store)]
    process = subprocess.Popen(
        [*command, *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    lines: list[str] = []
    reader = threading.Thread(target=_read, args=(process, lines), daemon=True)
    reader.start()
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        found = ADDRESS.search("".join(lines))
        if found:
            return Opened(process, found.group(), store, lines, reader)
        if process.poll() is not None:
            break
        time.sleep(0.05)
    process.kill()
    pytest.fail(f"leakdx open told no address: {''.join(lines)}")


@pytest.fixture
def opening(tmp_path: Path) -> Iterator[Callable[..., Opened]]:
    """Starts ``leakdx open`` with more options, on a store of its own; ends all it started."""
    started: list[Opened] = []

    def start(*options: str) -> Opened:
        started.append(_open(tmp_path / "store", *options))
        return started[-1]

    yield start
    for each in started:
        each.stop()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    """The page, shared by the journeys of one file; each journey begins a job of its own."""
    started = _open(tmp_path_factory.mktemp("shared") / "store", "--page")
    yield started
    started.stop()


@dataclass
class Visit:
    """A window of the browser, what it asked for and what went wrong in it."""

    page: Page
    asked: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    @property
    def outside(self) -> list[str]:
        """Addresses asked for that are not on this computer."""
        return [a for a in self.asked if not _at_home(a)]


def _at_home(address: str) -> bool:
    parts = urlsplit(address)
    return parts.scheme in ("data", "blob", "about") or parts.hostname in ("127.0.0.1", "localhost")


@pytest.fixture
def visiting(browser: Browser) -> Callable[..., object]:
    """Opens a window at an address: ``with visiting(address, **context) as visit``.

    When it closes, nothing may have been asked of another computer, and no script have failed.
    """

    @contextmanager
    def visit(address: str, **options: object) -> Iterator[Visit]:
        context = browser.new_context(**options)  # type: ignore[arg-type]
        context.set_default_timeout(30_000)
        page = context.new_page()
        seen = Visit(page)
        page.on("request", lambda request: seen.asked.append(request.url))
        page.on("websocket", lambda socket: seen.asked.append(socket.url))
        page.on("pageerror", lambda error: seen.errors.append(str(error)))
        page.goto(address, wait_until="commit")
        try:
            yield seen
        finally:
            context.close()
        assert seen.outside == []
        assert seen.errors == []

    return visit
