"""The first visit, and what every screen owes to a thumb and to whoever does not see it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened
from tests.browser.ways import (
    begun,
    entries_of,
    faults_of,
    jobs_of,
    order_of,
    part,
    ready,
    settled,
    too_small,
    too_wide,
)

PHONE = {"width": 360, "height": 740}
PARTS = ("Machine", "Ranking", "Next look", "Story", "Repair")


def test_the_first_visit_is_led_through_a_short_example(
    opening: Callable[..., Opened], visiting: Callable[..., Any]
) -> None:
    opened = opening("--page")
    with visiting(opened.address, viewport={"width": 1280, "height": 860}) as visit:
        page: Page = visit.page
        expect(page.get_by_role("heading", name="Which joint leaks?")).to_be_visible()
        assert faults_of(page) == []
        page.get_by_role("button", name="Walk through a short example").click()
        ready(page)
        first = order_of(page)
        walk = page.locator(".ldx-walk")
        asked = walked(page)
        # The steps ask for three taps, and end.
        assert asked == 3
        expect(walk).to_have_count(0)
        expect(page.locator(".ldx-part-repair")).to_be_visible()
        assert order_of(page) != first
    assert len(jobs_of(opened.store)) == 1
    seen = entries_of(opened.store, jobs_of(opened.store)[0])
    assert len(seen) == 5


def walked(page: Page) -> int:
    """Goes through the walk to its end, tapping what it asks for; gives how often it asked."""
    walk = page.locator(".ldx-walk")
    states = iter(("running", "dry", "running"))
    asked = 0
    for number in range(1, 40):
        if walk.count() == 0:
            break
        expect(walk).to_contain_text(f": {number} of ")
        choose = walk.get_by_role("button", name="Choose it for me")
        if choose.count():
            asked += 1
            choose.click()
            page.locator(f".ldx-state[data-state={next(states)}]").click()
            expect(walk).to_contain_text("Saved.")
        end = walk.get_by_role("button", name="End", exact=True)
        (end if end.count() else walk.get_by_role("button", name="Next", exact=True)).click()
    return asked


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_screen_keeps_the_rules_of_accessibility(
    served: Opened, visiting: Callable[..., Any], scheme: str
) -> None:
    begun(served.store)
    look = {"viewport": {"width": 1000, "height": 900}, "color_scheme": scheme}
    with visiting(served.address, **look, reduced_motion="reduce") as visit:
        page: Page = visit.page
        ready(page)
        expect(page.locator(".ldx-desk")).to_have_attribute("data-theme", scheme)
        broken = {}
        for name in PARTS[1:]:
            part(page, name)
            broken[name] = faults_of(page)
        page.get_by_role("button", name="List of places").click()
        page.locator(".ldx-rows [data-key='zone:head_rear']").click()
        expect(page.locator(".ldx-entry-head")).to_be_visible()
        broken["entry"] = faults_of(page)
        page.get_by_role("button", name="Close this job").click()
        expect(page.get_by_role("heading", name="Your jobs")).to_be_visible()
        broken["jobs"] = faults_of(page)
        page.get_by_role("button", name="New job").click()
        page.locator(".ldx-layouts button").first.click()
        broken["new"] = faults_of(page)
    assert broken == {key: [] for key in broken}


def test_a_phone_shows_every_part_without_scrolling_sideways(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    begun(served.store)
    with visiting(served.address, viewport=PHONE, has_touch=True, is_mobile=True) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        found: dict[str, list[str]] = {}
        for name in PARTS:
            part(page, name)
            page.evaluate(
                "document.querySelectorAll('.ldx-part details').forEach((d) => { d.open = true })"
            )
            found[name] = [*too_wide(page), *too_small(page)]
        part(page, "Machine")
        page.get_by_role("button", name="List of places").tap()
        page.locator(".ldx-rows [data-key='zone:head_rear']").tap()
        expect(page.locator(".ldx-entry-head")).to_be_visible()
        found["entry"] = [*too_wide(page), *too_small(page)]
        page.locator(".ldx-entry-head").get_by_role("button", name="Close").tap()
        page.get_by_role("button", name="Close this job").tap()
        expect(page.get_by_role("heading", name="Your jobs")).to_be_visible()
        found["jobs"] = [*too_wide(page), *too_small(page)]
        page.get_by_role("button", name="New job").tap()
        page.locator(".ldx-layouts button").first.tap()
        found["new"] = [*too_wide(page), *too_small(page)]
    assert found == {key: [] for key in found}
