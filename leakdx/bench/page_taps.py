"""A real browser on the page: how long a tap takes to show, and how long the page takes to open.

Playwright and Chromium are needed, and nothing else of leakdx needs them.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from leakdx.advice.next_look import spoken
from leakdx.bench.timing import own_environment
from leakdx.case.model import ZoneReading, ZoneState
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Zone
from leakdx.store.store import CaseStore

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S*")
WIDE = {"width": 1440, "height": 900}
# A technician's usual pause between two taps, ms: the fine ranking is being worked out then.
PAUSE_ms = 1_500
PATIENCE_ms = 60_000
# What is said of the zones, in turn.
SAID = (ZoneState.DRY, ZoneState.FILM, ZoneState.DRY, ZoneState.RUNNING)

# From the tap, as the browser saw it, to the frame after the rows of the new ranking.
_WATCH = """() => {
  window.tapped = [];
  const head = () => (document.querySelector(".ldx-ranks") || {dataset: {}}).dataset.head;
  let from = null, before = null;
  addEventListener("click", (event) => {
    if (!event.target.closest(".ldx-state")) return;
    [from, before] = [event.timeStamp, head()];
  }, true);
  new MutationObserver(() => {
    if (from === null || head() === before) return;
    const start = from;
    from = null;
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => window.tapped.push(performance.now() - start);
      channel.port2.postMessage(0);
    });
  }).observe(document.querySelector(".ldx-desk"), {
    subtree: true, childList: true, attributeFilter: ["data-head"],
  });
}"""


class NoBrowser(Exception):
    """There is no Chromium, or nothing to drive it with; says what to install."""


def chromium() -> str:
    """Where Chromium is: as LEAKDX_CHROMIUM says, or on the path.

    Raises:
        NoBrowser: where there is none.
    """
    named = os.environ.get("LEAKDX_CHROMIUM")
    if named and shutil.which(named) is None:
        raise NoBrowser(f"LEAKDX_CHROMIUM says {named}, and no program is there")
    found = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise NoBrowser("Chromium was not found: install it, or name it in LEAKDX_CHROMIUM")
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """Chromium without a window.

    Raises:
        NoBrowser: where Chromium or Playwright is not there, or Chromium does not start.
    """
    path = chromium()
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        raise NoBrowser("Playwright was not found: pip install 'leakdx[tests]'") from None
    with sync_playwright() as playwright:
        try:
            started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        except Error as error:
            # What follows its first line is Chromium's whole log.
            said = error.message.partition("\n")[0]
            raise NoBrowser(f"Chromium at {path} did not start: {said}") from None
        try:
            yield started
        finally:
            started.close()


def filed(loaded: LoadedJob, folder: Path) -> None:
    """Puts a job into a new store, as the one that was open last."""
    store = CaseStore.open(folder)
    try:
        store.opened(store.begin(loaded.job, loaded.machine, uuid.uuid4().hex))
    finally:
        store.close()


@contextmanager
def page_server(folder: Path) -> Iterator[str]:
    """``leakdx open --page`` on a store; gives its address, and ends it as Ctrl-C does.

    Raises:
        RuntimeError: with what it said, where it gave no address.
    """
    command = [sys.executable, "-m", "leakdx.cli", "open", "--page", "--no-browser"]
    process = subprocess.Popen(
        [*command, "--store", str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=own_environment() | {"PYTHONUNBUFFERED": "1"},
    )
    said = ""
    try:
        assert process.stdout is not None
        for line in process.stdout:
            said += line
            found = ADDRESS.search(line)
            if found:
                yield found.group()
                return
        raise RuntimeError(said.strip().splitlines()[-1] if said.strip() else "it said nothing")
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        if process.stdout is not None:
            process.stdout.close()


def opening_time(loaded: LoadedJob, folder: Path, window: Browser) -> float:
    """Seconds from starting ``leakdx open --page`` until a place can be chosen on the page."""
    filed(loaded, folder)
    start = perf_counter()
    with page_server(folder) as address:
        context = window.new_context(viewport=WIDE)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(address, wait_until="commit")
        listed(page)
        choose(page, loaded.machine.zones[0])
        taken = perf_counter() - start
        context.close()
    return taken


def listed(page: Page) -> None:
    """Waits for the machine and shows its places as a list."""
    page.get_by_role("button", name="List of places").click(timeout=PATIENCE_ms)


def choose(page: Page, zone: Zone) -> None:
    """Chooses a zone from the list and waits until one can say what was seen there."""
    page.locator(f".ldx-rows [data-key='zone:{zone.id}']").click(timeout=PATIENCE_ms)
    named = page.locator(".ldx-entry-head").get_by_text(zone.name or spoken(zone.id), exact=True)
    named.wait_for(timeout=PATIENCE_ms)


@dataclass(frozen=True)
class Taps:
    """Seconds from each tap to its ranking on screen.

    at_once: taps that follow each other.  busy: taps after a pause, while the fine ranking of
    the one before is worked out in the background.
    """

    at_once: tuple[float, ...]
    busy: tuple[float, ...]


def taps_of(loaded: LoadedJob, folder: Path, window: Browser, count: int) -> Taps:
    """Says of ``count`` zones what was seen there, every second time after a pause."""
    filed(loaded, folder)
    with page_server(folder) as address:
        context = window.new_context(viewport=WIDE)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(address, wait_until="commit")
        listed(page)
        page.locator(".ldx-ranks > li").first.wait_for(timeout=PATIENCE_ms)
        settle(page)
        page.evaluate(_WATCH)
        at_once: list[float] = []
        busy: list[float] = []
        zones = loaded.machine.zones
        said = {e.zone: e.state for e in loaded.job.timeline if isinstance(e, ZoneReading)}
        for number in range(count):
            zone = zones[number % len(zones)]
            # What is said already would be no news.
            state = next(s for s in _turned(number) if s is not said.get(zone.id))
            said[zone.id] = state
            if number % 2:
                page.wait_for_timeout(PAUSE_ms)
            choose(page, zone)
            page.locator(f".ldx-state[data-state={state.value}]").click()
            (busy if number % 2 else at_once).append(shown_after(page, number))
        context.close()
    return Taps(tuple(at_once), tuple(busy))


def _turned(number: int) -> tuple[ZoneState, ...]:
    start = number % len(SAID)
    return SAID[start:] + SAID[:start]


def shown_after(page: Page, number: int) -> float:
    """Seconds that a tap took to show.

    Raises:
        RuntimeError: where no new ranking came.
    """
    # The page allows no script made of text, so the browser is asked again and again.
    for _ in range(PATIENCE_ms // 20):
        taken = page.evaluate(f"window.tapped[{number}] ?? null")
        if taken is not None:
            return float(taken) / 1000
        page.wait_for_timeout(20)
    raise RuntimeError("a tap brought no new ranking")


def settle(page: Page) -> None:
    """Waits until nothing is worked out in the background."""
    page.locator(".ldx-work-dot").wait_for(state="detached", timeout=PATIENCE_ms)
