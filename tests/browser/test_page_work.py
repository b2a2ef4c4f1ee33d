"""The next look: before anything was seen, and looking ahead, which the ranking never waits for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened
from tests.browser.ways import (
    PHONE,
    begun,
    begun_on,
    faults_of,
    listed,
    part,
    ready,
    settled,
    wrong_with,
)

WIDE = {"width": 1440, "height": 900}


def test_two_looks_ahead_can_be_stopped_and_the_ranking_does_not_wait_for_it(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    begun(served.store, "rear_of_engine_wet")
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        listed(page)
        page.locator(".ldx-rows [data-key='zone:block_left_lower_front']").click()
        part(page, "Next look")
        page.locator("summary", has_text="Two looks ahead").click()
        ahead = page.locator("details").filter(has_text="Two looks ahead")
        asking = ahead.get_by_role("button", name="Look two looks ahead")
        asking.click()
        bar = ahead.get_by_role("progressbar")
        expect(bar).to_be_visible()
        before = page.locator(".ldx-ranks").get_attribute("data-head")
        page.locator(".ldx-state[data-state=dripping]").click()
        expect(page.locator(".ldx-ranks")).not_to_have_attribute("data-head", before or "")
        # It was reckoned at once, beside what goes on.
        expect(bar).to_be_visible()
        assert faults_of(page) == []
        ahead.get_by_role("button", name="Stop").click()
        expect(bar).to_have_count(0)
        expect(asking).to_be_visible()
        expect(page.locator(".ldx-aheads")).to_have_count(0)
        expect(page.locator(".ldx-fault")).to_have_count(0)
        asking.click()
        expect(page.locator(".ldx-aheads")).to_be_visible(timeout=120_000)


def test_a_job_that_was_only_begun_sends_to_the_drawn_machine(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    begun_on(served.store, "marine_inline_four", "Oil in the tray")
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        ready(page)
        part(page, "Next look")
        there = page.get_by_role("button", name="To the drawn machine")
        expect(there).to_be_visible(timeout=120_000)
        expect(page.locator(".ldx-look-sentence")).to_contain_text("look, from the highest")
        expect(page.get_by_text("No look pays now")).to_have_count(0)
        assert wrong_with(page) == []
        there.tap()
        expect(page.locator(".ldx-map svg [data-key]").first).to_be_visible()
