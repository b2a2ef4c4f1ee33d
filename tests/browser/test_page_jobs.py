"""Jobs of one's own: a machine file, a layout, a file that is none; and the sheets to print."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from leakdx.case.read import load_job, load_shipped_job
from tests.browser.conftest import Opened
from tests.browser.ways import (
    PHONE,
    at_the_jobs,
    begun,
    begun_small,
    jobs_of,
    part,
    ready,
    settled,
    wrong_with,
)

WIDE = {"width": 1280, "height": 860}
# Text that would run as a script, were it ever taken for anything but text.
HOSTILE = "<img src=x onerror=\"document.title='bad'\">"


def test_a_machine_made_with_leakdx_new_begins_a_job(
    served: Opened, visiting: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "ours.yaml"
    made = [sys.executable, "-m", "leakdx.cli", "new", "--usual", "--layout", "clutch_hydraulics"]
    subprocess.run([*made, "--name", "Our clutch", "--out", str(path)], check=True, timeout=60)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        page.get_by_role("button", name="New job").click()
        page.get_by_label("Title").fill("Pedal sinks")
        page.get_by_role("button", name="A machine file of my own").click()
        page.locator("input[type=file]").set_input_files(path)
        page.get_by_role("button", name="Begin").click()
        ready(page)
        expect(page.locator(".ldx-head-title")).to_contain_text("Our clutch")
        with page.expect_download() as saved:
            page.get_by_label("More", exact=True).click()
            page.get_by_role("button", name="Save a copy as a file").click()
        copy = tmp_path / "copy.yaml"
        saved.value.save_as(copy)
    assert load_job(copy).machine.name == "Our clutch"


def test_a_layout_chosen_on_the_page_begins_a_job_and_its_title_stays_text(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        page.get_by_role("button", name="New job").click()
        page.get_by_label("Title").fill(HOSTILE)
        page.locator(".ldx-layouts button").filter(has_text="lutch").click()
        page.get_by_role("button", name="Begin").click()
        ready(page)
        expect(page.locator(".ldx-head-title h1")).to_have_text(HOSTILE)
        assert page.title() != "bad"


def test_a_file_that_is_no_job_is_told_beside_its_button(
    served: Opened, visiting: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "list.yaml"
    path.write_text("- just\n- a list\n", encoding="utf-8")
    before = jobs_of(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        page.locator(".ldx-ways input[type=file]").set_input_files(path)
        fault = page.locator(".ldx-ways .ldx-fault")
        expect(fault).to_contain_text("Not done.")
        fault.get_by_role("button", name="Dismiss").click()
        expect(fault).to_have_count(0)
    assert jobs_of(served.store) == before


def test_the_sheets_open_and_are_saved_whole(
    served: Opened, visiting: Callable[..., Any], tmp_path: Path
) -> None:
    begun(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        part(page, "Repair")
        page.get_by_role("button", name="Job sheet", exact=True).click()
        sheet = page.frame_locator(".ldx-part-repair iframe")
        expect(sheet.get_by_role("heading", level=1)).to_be_visible(timeout=120_000)
        expect(sheet.get_by_text("The maker's procedure").first).to_be_attached()
        with page.expect_download() as saved:
            page.get_by_role("button", name="Save", exact=False).first.click()
        path = tmp_path / "sheet.html"
        saved.value.save_as(path)
        page.get_by_role("button", name="Customer sheet").click()
        expect(sheet.get_by_role("heading", name="renew").first).to_be_attached(timeout=120_000)
    text = path.read_text(encoding="utf-8")
    assert text.lower().startswith("<!doctype html>")
    # Of its own it may use what it holds: url(#...).
    assert re.findall(r"(?:src|href)=\"(?!#)|@import|url\((?!#)", text) == []


def test_many_jobs_are_found_by_words_of_their_title(
    opening: Callable[..., Opened], visiting: Callable[..., Any]
) -> None:
    opened = opening("--page")
    wanted = begun(opened.store)
    for _ in range(13):
        begun_small(opened.store)
    with visiting(opened.address, **PHONE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        jobs = page.locator(".ldx-job:visible")
        page.get_by_role("button", name="Show all 14").tap()
        expect(jobs).to_have_count(14)
        page.get_by_label("Find a job").fill("no such words")
        expect(page.get_by_text("No job has these words.")).to_be_visible()
        expect(jobs).to_have_count(0)
        assert wrong_with(page) == []
        title = load_shipped_job("first_walk").job.name or ""
        page.get_by_label("Find a job").fill(" ".join(reversed(title.upper().split())))
        expect(jobs).to_have_count(1)
        expect(page.get_by_text("1 of 14 jobs")).to_be_visible()
        assert wrong_with(page) == []
        jobs.first.tap()
        expect(page.get_by_role("heading", level=1)).to_have_text(title)
    assert wanted in jobs_of(opened.store)
