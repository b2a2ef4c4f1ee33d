"""Nothing that was entered is ever lost: reload, a killed kernel, two windows, undo, export."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
from playwright.sync_api import Page, expect

from leakdx.case.model import Withdraw, ZoneReading
from tests.browser.conftest import Opened
from tests.browser.ways import begun, entries_of, part, ready, settled

WIDE = {"width": 1280, "height": 860}


def said(page: Page, zone: str, state: str) -> None:
    """Says of a zone, from the list, what was seen there."""
    listed = page.get_by_role("button", name="List of places")
    if listed.get_attribute("aria-pressed") != "true":
        listed.click()
    page.locator(f".ldx-rows [data-key='zone:{zone}']").click()
    page.locator(f".ldx-state[data-state={state}]").click()


def zones_of(store: Path, job: str) -> list[str]:
    """Zones read, in order."""
    return [e.zone for e in entries_of(store, job) if isinstance(e, ZoneReading)]


def test_a_reload_shows_the_job_and_the_part_as_they_were(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        said(page, "head_rear", "running")
        expect(page.locator(".ldx-entry-told")).to_contain_text("Saved")
        part(page, "Story")
        expect(page.locator(".ldx-part-story")).to_contain_text("Head, rear face: running")
        page.reload()
        ready(page)
        expect(page.locator(".ldx-part-story")).to_contain_text("Head, rear face: running")
    assert zones_of(served.store, job)[2:] == ["head_rear"]


def test_an_entry_made_while_the_kernel_dies_is_kept_once(
    opening: Callable[..., Opened], visiting: Callable[..., Any], tmp_path: Path
) -> None:
    job = begun(tmp_path / "store")
    opened = opening("--page")
    with visiting(opened.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        kernels = kernels_of(opened)
        assert kernels
        for kernel in kernels:
            os.kill(kernel, signal.SIGSTOP)
        said(page, "head_rear", "running")
        banner = page.locator(".ldx-banner")
        expect(banner).to_contain_text("Not saved yet")
        for kernel in kernels:
            os.kill(kernel, signal.SIGKILL)
        assert zones_of(opened.store, job)[2:] == []
        page.reload()
        ready(page)
        part(page, "Story")
        expect(page.locator(".ldx-part-story")).to_contain_text("Head, rear face: running")
        expect(banner).to_have_count(0)
    assert zones_of(opened.store, job)[2:] == ["head_rear"]


def kernels_of(opened: Opened) -> list[int]:
    """Processes in which the page's Python runs."""
    family = psutil.Process(opened.process.pid).children(recursive=True)
    return [p.pid for p in family if "leakdx.opening.kernel" in " ".join(p.cmdline())]


def test_two_windows_on_one_job_lose_nothing_and_tell_each_other(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun(served.store)
    with (
        visiting(served.address, viewport=WIDE) as one,
        visiting(served.address, viewport=WIDE) as other,
    ):
        ready(one.page)
        ready(other.page)
        said(one.page, "head_rear", "running")
        expect(other.page.locator(".ldx-notice")).to_contain_text("Head, rear face: running")
        said(other.page, "head_cover_rear", "dry")
        expect(one.page.locator(".ldx-notice")).to_contain_text("Head cover, rear face")
    assert zones_of(served.store, job)[2:] == ["head_rear", "head_cover_rear"]


def test_the_next_look_is_recorded_by_one_tap_and_taken_back_as_a_whole(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        part(page, "Next look")
        # What one tap can say whole; the others open a form.
        page.locator(".ldx-outcome-tap:not(:has-text('...'))").first.click()
        part(page, "Story")
        undo = page.locator(".ldx-head-turn").first
        expect(undo).to_be_enabled()
        looked = entries_of(served.store, job)[2:]
        assert looked
        assert all(getattr(e, "inspection", None) for e in looked)
        undo.click()
        expect(page.locator(".ldx-head-turn").last).to_be_enabled()
    taken = entries_of(served.store, job)[2 + len(looked) :]
    assert sorted(e.withdraw for e in taken if isinstance(e, Withdraw)) == [
        n + 3 for n in range(len(looked))
    ]
