"""What a user does on the page, as the journeys tell it."""

from __future__ import annotations

import uuid
from importlib.resources import files
from pathlib import Path

from playwright.sync_api import Locator, Page, expect

from leakdx.case.model import FORMAT, Event, Job, MachineReference, ZoneReading, ZoneState
from leakdx.case.read import load_shipped_job
from leakdx.kit.read import load_shipped_layout, machine_as_is
from leakdx.store.store import CaseStore

# Seven zones of the shipped engine that show from the left, and three that show from the rear.
ENGINE = "forestry_carrier_five"
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}


def begun(store: Path, example: str = "first_walk") -> str:
    """Begins a job in the store and leaves it open, as if it had been open last; gives its id."""
    loaded = load_shipped_job(example)
    kept = CaseStore.open(store)
    try:
        job = kept.begin(loaded.job, loaded.machine, uuid.uuid4().hex)
        kept.opened(job)
    finally:
        kept.close()
    return job


def entries_of(store: Path, job: str) -> tuple[Event, ...]:
    """The timeline of a job as the store has it."""
    kept = CaseStore.open(store)
    try:
        return kept.read(job).loaded.job.timeline
    finally:
        kept.close()


def jobs_of(store: Path) -> list[str]:
    """Ids of all jobs in the store."""
    kept = CaseStore.open(store)
    try:
        return [filed.id for filed in kept.jobs()]
    finally:
        kept.close()


def ready(page: Page) -> None:
    """Waits until the machine is drawn and ranked."""
    expect(page.locator(".ldx-map svg [data-key]").first).to_be_visible()
    expect(page.locator(".ldx-ranks li, .ldx-strip-first .ldx-rank-bar").first).to_be_visible()


def settled(page: Page) -> None:
    """Waits until nothing is worked out in the background any more."""
    expect(page.locator(".ldx-work-dot")).to_have_count(0, timeout=90_000)


def part(page: Page, name: str) -> None:
    """Goes to a part of the job."""
    page.locator(".ldx-tabs").get_by_role("button", name=name, exact=True).click()


def at_the_jobs(page: Page) -> None:
    """Goes to the list of jobs, whatever was open."""
    new = page.get_by_role("button", name="New job")
    back = page.get_by_role("button", name="Close this job")
    expect(new.or_(back).first).to_be_visible()
    if back.count():
        back.click()
    expect(new).to_be_visible()


def listed(page: Page) -> None:
    """Shows the list of places instead of the drawing."""
    page.get_by_role("button", name="List of places").click()


def saved_states(page: Page) -> Locator:
    """The sentences that say that an entry was kept."""
    return page.locator(".ldx-entry-told")


def order_of(page: Page) -> list[str]:
    """Seal points in the order of the ranking on screen, with what is said of each."""
    return page.locator(".ldx-ranks > li").evaluate_all(
        "rows => rows.map(r => r.dataset.seal + ' ' + r.querySelector('.ldx-rank-said').innerText)"
    )


def faults_of(page: Page) -> list[str]:
    """What accessibility rules (axe-core, WCAG 2.2 A and AA, and good practice) are broken."""
    source = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    page.evaluate(source)
    found = page.evaluate(
        "async () => (await axe.run(document, {resultTypes: ['violations']})).violations"
    )
    return [f"{v['id']}: {n['target']} {n['failureSummary']}" for v in found for n in v["nodes"]]


SMALL = """
() => [...document.querySelectorAll(
    '.ldx-desk button, .ldx-desk input:not([type=file]), .ldx-desk select, .ldx-desk summary')]
  .filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.closest('svg'))
  .map((e) => [e, (e.closest('label') || e).getBoundingClientRect()])
  .filter(([e, r]) => r.width > 1 && (r.width < 43.5 || r.height < 43.5))
  .map(([e, r]) => `${e.className} ${e.innerText} ${r.width.toFixed()}x${r.height.toFixed()}`)
"""


def too_small(page: Page) -> list[str]:
    """Controls in sight that a gloved thumb would miss: less than 44 px (a tick with its label)."""
    found: list[str] = page.evaluate(SMALL)
    return found


def too_wide(page: Page) -> list[str]:
    """What makes the page scroll sideways."""
    wide: list[str] = page.evaluate(
        "() => document.documentElement.scrollWidth <= innerWidth ? [] : "
        "[...document.querySelectorAll('.ldx-desk *')].filter((e) => "
        "e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('.ldx-picture-sheet, svg'))"
        ".map((e) => e.tagName + '.' + e.className)"
    )
    return wide


# A page cannot be scrolled to what lies to the left of it.
CUT_OFF = """() => [...document.querySelectorAll('.ldx-desk button, .ldx-desk input, .ldx-desk p')]
  .filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.closest('svg, .ldx-unseen'))
  .filter((e) => e.getBoundingClientRect().left < -1)
  .map((e) => e.outerHTML.slice(0, 120))"""


def wrong_with(page: Page) -> list[str]:
    """All that is against the rules on a phone, as it is on screen."""
    return [*too_wide(page), *page.evaluate(CUT_OFF), *too_small(page), *faults_of(page)]


def begun_small(store: Path) -> str:
    """Begins a job on a machine with few joints, which is ranked at once; gives its id."""
    readings = (
        ZoneReading(zone="bulkhead_inside", state=ZoneState.RUNNING),
        ZoneReading(zone="clutch_pedal", state=ZoneState.RUNNING),
        ZoneReading(zone="clutch_slave", state=ZoneState.DRY),
    )
    return begun_on(store, "clutch_hydraulics", "Pedal sinks", readings)


def begun_on(store: Path, layout: str, title: str, readings: tuple[ZoneReading, ...] = ()) -> str:
    """Begins a job on the machine that a layout makes, and leaves it open; gives its id."""
    machine = machine_as_is(load_shipped_layout(layout))
    job = Job(
        format=FORMAT,
        id=title.lower().replace(" ", "_"),
        name=title,
        machine=MachineReference(id=machine.id, version=machine.version),
        timeline=readings,
    )
    kept = CaseStore.open(store)
    try:
        begun_as = kept.begin(job, machine, uuid.uuid4().hex)
        kept.opened(begun_as)
    finally:
        kept.close()
    return begun_as
