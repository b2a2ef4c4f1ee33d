"""The repair from its sheet to being dry again, and files that are wrong or mean ill."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page, expect

from leakdx.case.casefile import case_text
from leakdx.case.loaded import LoadedJob
from leakdx.case.model import Renewal, Run, Wash, ZoneReading
from leakdx.files.save import dump_yaml
from leakdx.kit.read import load_shipped_layout, machine_as_is
from leakdx.store.store import CaseStore
from tests.browser.conftest import Opened
from tests.browser.ways import (
    at_the_jobs,
    begun_small,
    entries_of,
    jobs_of,
    listed,
    part,
    ready,
    settled,
)

WIDE = {"width": 1280, "height": 860}
# Would run as a script, were it ever taken for anything but text.
HOSTILE = "<img src=x onerror=\"document.title='bad'\">"
WRONG = """\
format: leakdx-machine/1
id: our clutch
version: 2
colour: red
zones: [1, 2, 3]
"""


def test_a_repair_goes_from_its_sheet_to_dry_one_step_after_the_other(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    job = begun_small(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        ready(page)
        settled(page)
        part(page, "Repair")
        now = page.get_by_role("region", name="The next step")
        expect(now).to_contain_text("Print the job sheet")
        now.get_by_role("button", name="Job sheet", exact=True).click()
        sheet = page.frame_locator(".ldx-sheet-page")
        expect(sheet.get_by_role("heading", level=1)).to_contain_text("Pedal sinks")
        expect(now).to_contain_text("Take care")
        now.get_by_role("button", name="Record what was renewed").click()
        page.get_by_role("button", name=re.compile("Record [0-9]+ renewal")).click()
        expect(now).to_contain_text("Wash it")
        now.get_by_role("button", name="Record: washed whole").click()
        expect(now).to_contain_text("Run it")
        now.get_by_role("button", name="30 minutes").click()
        now.get_by_role("button", name="Idl", exact=False).click()
        now.get_by_role("button", name="Record: 30 minutes").click()
        expect(now).to_contain_text("Look again")
        looked_again(page, "bulkhead_inside")
        part(page, "Repair")
        expect(now).to_contain_text("Is it dry now?")
        now.get_by_role("button", name="Work it out").click()
        expect(now.locator(".ldx-cure-first")).to_be_visible(timeout=120_000)
    after = entries_of(served.store, job)[3:]
    kinds = [type(event) for event in after]
    renewed = kinds.index(Wash)
    assert renewed >= 1
    assert kinds == [*[Renewal] * renewed, Wash, Run, ZoneReading]


def looked_again(page: Page, zone: str) -> None:
    """Says that the zone is dry now; what was read before the wash stays as it was."""
    listed(page)
    page.locator(f".ldx-rows [data-key='zone:{zone}']").click()
    page.locator(".ldx-state[data-state=dry]").click()
    expect(page.locator(".ldx-entry-told")).to_contain_text("Saved")


def test_a_file_that_is_no_machine_is_told_beside_begin_and_loses_nothing(
    served: Opened, visiting: Callable[..., Any], tmp_path: Path
) -> None:
    wrong, right = tmp_path / "wrong.yaml", tmp_path / "right.yaml"
    wrong.write_text(WRONG, encoding="utf-8")
    machine = machine_as_is(load_shipped_layout("clutch_hydraulics"))
    right.write_text(dump_yaml(machine), encoding="utf-8")
    before = jobs_of(served.store)
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        page.get_by_role("button", name="New job").click()
        page.get_by_label("Title").fill("Pedal sinks again")
        page.get_by_role("button", name="A machine file of my own").click()
        page.locator(".ldx-new input[type=file]").set_input_files(wrong)
        page.get_by_role("button", name="Begin").click()
        fault = page.locator(".ldx-new .ldx-fault")
        # In words, with what to do; the rest is there to be unfolded.
        expect(fault).to_contain_text("Write it as 'our_clutch'.")
        details = fault.locator("pre")
        expect(details).to_be_hidden()
        fault.get_by_text("Details").click()
        expect(details).to_contain_text("colour", ignore_case=True)
        assert not re.search("Traceback|Error", fault.inner_text())
        assert jobs_of(served.store) == before
        fault.get_by_role("button", name="Dismiss").click()
        expect(fault).to_have_count(0)
        # What was typed is still there.
        page.locator(".ldx-new input[type=file]").set_input_files(right)
        page.get_by_role("button", name="Begin").click()
        ready(page)
        expect(page.locator(".ldx-head-title h1")).to_have_text("Pedal sinks again")
    assert len(jobs_of(served.store)) == len(before) + 1


def hostile_case(store: Path) -> str:
    """A case file that has markup for names wherever a file may say one."""
    kept = CaseStore.open(store)
    try:
        loaded = kept.read(begun_small(store)).loaded
    finally:
        kept.close()
    machine = loaded.machine
    named = {
        "name": HOSTILE,
        "zones": tuple(z.model_copy(update={"name": HOSTILE}) for z in machine.zones),
        "seal_points": tuple(s.model_copy(update={"name": HOSTILE}) for s in machine.seal_points),
        "fluids": tuple(f.model_copy(update={"name": HOSTILE}) for f in machine.fluids),
    }
    job = loaded.job.model_copy(update={"name": HOSTILE})
    return case_text(LoadedJob(job, machine.model_copy(update=named)))


def test_markup_in_a_case_file_stays_text_on_every_part_and_in_the_sheets(
    served: Opened, visiting: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "hostile.yaml"
    path.write_text(hostile_case(served.store), encoding="utf-8")
    with visiting(served.address, viewport=WIDE) as visit:
        page: Page = visit.page
        at_the_jobs(page)
        page.locator(".ldx-ways input[type=file]").set_input_files(path)
        ready(page)
        settled(page)
        expect(page.locator(".ldx-head-title h1")).to_have_text(HOSTILE)
        expect(page.locator(".ldx-ranks .ldx-rank-one").first).to_contain_text("onerror")
        for name in ("Next look", "Story", "Repair"):
            part(page, name)
            expect(page.locator(".ldx-turns")).to_contain_text("onerror")
            harmless(page.locator("body"))
        page.get_by_role("button", name="Customer sheet").click()
        inside = page.frame_locator(".ldx-sheet-page").locator("body")
        expect(inside).to_contain_text("onerror", timeout=120_000)
        harmless(inside)
        with page.expect_download() as saved:
            page.locator(".ldx-sheet").get_by_role("button", name="Save").click()
        saved.value.save_as(tmp_path / "sheet.html")
        listed(page)
        expect(page.locator(".ldx-rows").first).to_contain_text("onerror")
        harmless(page.locator("body"))
        assert page.title() != "bad"
    assert "<img src=x" not in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def harmless(place: Locator) -> None:
    """Nothing there was made from the markup."""
    expect(place.locator("img[src='x']")).to_have_count(0)
