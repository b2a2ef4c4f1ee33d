"""What is told of the whole machine: signs, how it stood, washes, costs; and taking back."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from playwright.sync_api import Locator, Page, expect

from leakdx.case.history import effective
from leakdx.case.model import Context, Job, Run, Sign, Wash
from leakdx.store.store import CaseStore
from tests.browser.conftest import Opened
from tests.browser.ways import PHONE, begun_small, part, ready, wrong_with

E = TypeVar("E")


def test_signs_are_told_put_right_and_taken_back(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        signs = unfolded(page, "Signs of the whole machine")
        level = sign_asked(signs, "level")
        answer(level, "Yes")
        assert [e.value for e in counting(served.store, job, Sign)] == ["yes"]
        answer(level, "No")
        assert [e.value for e in counting(served.store, job, Sign)] == ["no"]
        answer(level, "Not looked")
        assert counting(served.store, job, Sign) == []
        known = signs.locator(".ldx-known").first
        for pressed, there in (("true", 1), ("false", 0)):
            known.tap()
            expect(known).to_have_attribute("aria-pressed", pressed)
            assert len(counting(served.store, job, Context)) == there
        assert wrong_with(page) == []
    # Nothing was struck out: three beforehand, then all that was tapped.
    assert len(job_of(served.store, job).timeline) == 3 + 5


def test_a_slope_and_hours_are_set_and_what_cannot_be_is_told_beside_them(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        form = unfolded(page, "How the machine stood and ran")
        form.get_by_label("How it stood").select_option("tilt")
        form.get_by_label("Nose up").fill("400")
        expect(form).to_contain_text("A number from -90 to 90")
        expect(form.get_by_role("button", name="Set", exact=True)).to_be_disabled()
        assert wrong_with(page) == []
        form.get_by_label("Nose up").fill("-4,5")
        form.get_by_label("Run since it was last clean").fill("12")
        form.get_by_role("button", name="Set", exact=True).tap()
        expect(form).to_contain_text("Now:")
        expect(form.locator("strong").first).to_contain_text("12")
        assert wrong_with(page) == []
    told = job_of(served.store, job).conditions
    assert (told.pitch_deg, told.hours) == (-4.5, 12)


def test_a_wash_and_a_run_stand_in_the_story_and_can_be_taken_back(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        wash = unfolded(page, "It was washed")
        wash.get_by_role("button", name="Only some surfaces").tap()
        expect(wash.get_by_role("button", name="Tick what was washed")).to_be_disabled()
        wash.get_by_label("Carpet under the pedals").check()
        assert wrong_with(page) == []
        wash.get_by_role("button", name="Record: washed 1 surface").tap()
        expect(line(page, 4)).to_be_visible()
        run = fold(page, "It ran, or stood")
        run.get_by_label("How long").fill("20")
        run.get_by_role("button", name="Record the run").tap()
        expect(line(page, 5)).to_contain_text("20")
        assert [e.run_minutes for e in counting(served.store, job, Run)] == [20]
        line(page, 5).get_by_role("button", name="Take back").tap()
        expect(line(page, 5)).to_contain_text("Does not count: taken back by entry 6")
        assert counting(served.store, job, Run) == []
        line(page, 6).get_by_role("button", name="Count it again").tap()
        expect(line(page, 5).get_by_role("button", name="Take back")).to_be_visible()
        assert wrong_with(page) == []
    assert [e.wash for e in counting(served.store, job, Wash)] == [("carpet",)]
    assert [e.run_minutes for e in counting(served.store, job, Run)] == [20]


def test_costs_turn_the_repair_into_money_and_are_forgotten_again(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, **PHONE) as visit:
        page: Page = visit.page
        ready(page)
        part(page, "Repair")
        costs = fold(page, "Costs in this workshop")
        for label, text in (("Currency", "EUR"), ("Labour an hour", "90")):
            costs.get_by_label(label).fill(text)
        expect(costs).to_contain_text("Needed: the currency")
        expect(costs.get_by_role("button", name="Set the costs")).to_be_disabled()
        costs.get_by_label("A leak left behind").fill("300")
        costs.get_by_role("button", name="Set the costs").tap()
        expect(costs.get_by_role("button", name="Forget the costs")).to_be_visible()
        assert wrong_with(page) == []
        kept = job_of(served.store, job).costs
        assert kept is not None
        assert (kept.currency, kept.labour_per_hour, kept.comeback) == ("EUR", 90, 300)
        costs.get_by_role("button", name="Forget the costs").tap()
        expect(costs.get_by_role("button", name="Forget the costs")).to_have_count(0)
    assert job_of(served.store, job).costs is None


def unfolded(page: Page, title: str) -> Locator:
    """A fold of the story, opened."""
    ready(page)
    part(page, "Story")
    return fold(page, title)


def fold(page: Page, title: str) -> Locator:
    """A fold of the part in sight, opened."""
    found = page.locator("details.ldx-fold").filter(has=page.locator("summary", has_text=title))
    found.locator("summary").tap()
    return found


def sign_asked(signs: Locator, word: str) -> Locator:
    """The question about a sign whose words have that one in them."""
    return signs.locator(".ldx-fact").filter(has_text=re.compile(word, re.IGNORECASE)).first


def answer(asked: Locator, said: str) -> None:
    """Answers it and waits until the answer stands."""
    button = asked.get_by_role("button", name=said, exact=True)
    button.tap()
    expect(button).to_have_attribute("aria-pressed", "true")


def line(page: Page, entry: int) -> Locator:
    """An entry as the story tells it."""
    return page.locator(f".ldx-story-line[value='{entry}']")


def job_of(store: Path, job: str) -> Job:
    """A job as the store has it."""
    kept = CaseStore.open(store)
    try:
        return kept.read(job).loaded.job
    finally:
        kept.close()


def counting(store: Path, job: str, kind: type[E]) -> list[E]:
    """The entries of a kind that count, put right where they were."""
    return [event for _, event in effective(job_of(store, job)) if isinstance(event, kind)]
