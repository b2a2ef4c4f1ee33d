"""What comes up only at times: menus, forms, faults, notices; on a phone, in the dark, at rest."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psutil
import pytest
from playwright.sync_api import Page, expect

from leakdx.case.model import ZoneReading
from tests.browser.conftest import Opened
from tests.browser.ways import (
    PHONE,
    begun_small,
    entries_of,
    listed,
    part,
    ready,
    settled,
    too_small,
    too_wide,
    wrong_with,
)

# Whatever moves for longer than an eye can see.
MOVING = """() => document.getAnimations()
  .filter((a) => a.effect.getComputedTiming().activeDuration > 20)
  .map((a) => a.effect.target.className)"""
# All that could move, once it does.
COULD_MOVE = """() => [...document.querySelectorAll('.ldx-desk, .ldx-desk *')]
  .filter((e) => {
    const s = getComputedStyle(e);
    const long = (times) => times.split(',').some((t) => parseFloat(t) > 0.02);
    return long(s.transitionDuration) || (s.animationName !== 'none' && long(s.animationDuration));
  })
  .map((e) => e.outerHTML.slice(0, 120))"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_shows_what_comes_up_only_at_times(
    served: Opened, visiting: Callable[..., Any], scheme: str, tmp_path: Path
) -> None:
    begun_small(served.store)
    found: dict[str, list[str]] = {}
    with visiting(served.address, **PHONE, color_scheme=scheme) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        page.get_by_label("More", exact=True).tap()
        expect(page.get_by_role("button", name="Rename")).to_be_visible()
        found["menu"] = wrong_with(page)
        page.keyboard.press("Escape")
        part(page, "Ranking")
        page.locator(".ldx-rank-one > button").first.tap()
        page.get_by_role("button", name="Why?").tap()
        expect(page.locator(".ldx-why-sentence")).to_be_visible(timeout=120_000)
        found["why"] = wrong_with(page)
        part(page, "Next look")
        page.get_by_role("button", name="Say each thing by itself").tap()
        expect(page.locator(".ldx-look-form")).to_be_visible()
        found["form"] = wrong_with(page)
        part(page, "Repair")
        page.get_by_role("button", name="Customer sheet").tap()
        expect(page.locator(".ldx-sheet-page")).to_be_visible(timeout=120_000)
        found["sheet"] = [*too_wide(page), *too_small(page)]
        page.get_by_role("button", name="Close this job").tap()
        wrong = tmp_path / "wrong.yaml"
        wrong.write_text(f"format: leakdx-job/1\n{'a' * 90}: 1\nb: 2\nc: 3\nd: 4\n", "utf-8")
        page.locator(".ldx-ways input[type=file]").set_input_files(wrong)
        expect(page.locator(".ldx-ways .ldx-fault")).to_be_visible()
        found["fault"] = wrong_with(page)
        page.locator(".ldx-ways .ldx-fault").get_by_role("button", name="Dismiss").tap()
    assert found == {name: [] for name in found}


def test_a_program_that_does_not_answer_is_told_until_it_does(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        ready(page)
        listed(page)
        with halted(served):
            page.locator(".ldx-rows [data-key='zone:carpet']").tap()
            page.locator(".ldx-state[data-state=dry]").tap()
            banner = page.locator(".ldx-banner")
            expect(banner).to_contain_text("Not saved yet: an entry.")
            # Never shown as made before it is.
            assert "Saved:" not in page.locator(".ldx-entry-told").inner_text()
            expect(banner.get_by_role("button", name="Reload the page")).to_be_visible()
            found = wrong_with(page)
            assert len(entries_of(served.store, job)) == 3
        expect(page.locator(".ldx-entry-told")).to_contain_text("Saved:")
        expect(banner).to_have_count(0)
    assert found == []
    kept = entries_of(served.store, job)[3:]
    assert [e.zone for e in kept if isinstance(e, ZoneReading)] == ["carpet"]


@contextmanager
def halted(served: Opened) -> Iterator[None]:
    """Meanwhile the page's Python stands still, as where the computer is busy with other work."""
    family = psutil.Process(served.process.pid).children(recursive=True)
    kernels = [p.pid for p in family if "leakdx.opening.kernel" in " ".join(p.cmdline())]
    assert kernels
    for kernel in kernels:
        os.kill(kernel, signal.SIGSTOP)
    try:
        yield
    finally:
        for kernel in kernels:
            os.kill(kernel, signal.SIGCONT)


def test_nothing_moves_for_whoever_asked_for_rest(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    begun_small(served.store)
    with visiting(served.address, **PHONE, reduced_motion="reduce") as visit:
        page: Page = visit.page
        ready(page)
        for name in ("Ranking", "Next look", "Story", "Repair", "Machine"):
            part(page, name)
            assert page.evaluate(COULD_MOVE) == []
        listed(page)
        page.locator(".ldx-rows [data-key='zone:carpet']").tap()
        page.locator(".ldx-state[data-state=dry]").tap()
        expect(page.locator(".ldx-entry-told")).to_contain_text("Saved:")
        assert page.evaluate(MOVING) == []
        assert page.evaluate(COULD_MOVE) == []
