"""Ten readings by mouse, by keyboard, by touch: each reaches the store, and the ranking moves."""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from leakdx.kit.read import load_shipped
from tests.browser.ways import ENGINE, begun, entries_of, order_of, part, ready, saved_states

# Zone of the shipped engine, and what was seen there.
SEEN = (
    ("head_rear", "running"),
    ("head_cover_rear", "dry"),
    ("vacuum_pump", "running"),
    ("front_cover_lower", "dry"),
    ("head_cover_left", "dry"),
    ("sump_rear", "film"),
    ("bell_right", "film"),
    ("sump_left", "dry"),
    ("head_intake", "dry"),
    ("gearbox_left", "dry"),
)

NAMES = {zone.id: zone.name or zone.id for zone in load_shipped(ENGINE).zones}
# Whether what has the focus is in the page, in sight and ringed.
SHOWN = """() => {
  const e = document.activeElement;
  if (!e.closest('.ldx-desk')) return true;
  const style = getComputedStyle(e);
  return e.matches(':focus-visible') && (style.outlineStyle !== 'none' || e.closest('svg'));
}"""


def name_of(zone: str) -> str:
    """What the page calls a zone."""
    return NAMES[zone]


def told(page: Page, zone: str) -> None:
    """Waits until the page says that the entry was kept."""
    expect(saved_states(page)).to_contain_text(f"Saved: {name_of(zone)}:")


def kept(store, job) -> list[tuple[str, str]]:
    """What was read of zones since the job began."""
    return [(e.zone, e.state.value) for e in entries_of(store, job)[2:]]


def test_ten_readings_by_mouse_on_the_drawing(served, visiting) -> None:
    job = begun(served.store)
    with visiting(served.address, viewport={"width": 1440, "height": 900}) as visit:
        page = visit.page
        ready(page)
        before = order_of(page)
        for zone, state in SEEN:
            # From whichever side it is to be seen, by its own outline.
            turn_to(page, zone)
            tap(page, zone)
            page.locator(f".ldx-state[data-state={state}]").click()
            told(page, zone)
        expect(page.locator(".ldx-rank-one").first).to_have_attribute(
            "data-seal", "vacuum_pump_o_ring"
        )
        assert order_of(page) != before
        part(page, "Story")
        expect(page.locator(".ldx-part-story")).to_contain_text("Head, rear face")
    assert kept(served.store, job) == list(SEEN)


def turn_to(page: Page, zone: str) -> None:
    """Turns the machine until the zone is drawn."""
    sides = page.get_by_role("button", name="Left", exact=True).locator("..").get_by_role("button")
    for k in range(sides.count()):
        if page.locator(f".ldx-map svg [data-key='zone:{zone}']").count():
            return
        sides.nth(k).click()


def tap(page: Page, zone: str) -> None:
    """Taps a zone where its number stands; where several are as near, takes it from the list."""
    at = page.evaluate(
        """(zone) => {
          const g = document.querySelector(`.ldx-map svg [data-key='zone:${zone}']`);
          g.scrollIntoView({block: "center"});
          const box = g.getBoundingClientRect();
          for (let i = 1; i < 20; i++) for (let j = 1; j < 20; j++) {
            const [x, y] = [box.left + box.width * i / 20, box.top + box.height * j / 20];
            const top = document.elementFromPoint(x, y);
            if (top && g.contains(top)) return [x, y];
          }
          return [box.left + box.width / 2, box.top + box.height / 2];
        }""",
        zone,
    )
    page.mouse.click(*at)
    sheet = page.locator(".ldx-entry-head")
    chooser = page.get_by_role("dialog", name="Which one?")
    named = sheet.get_by_text(name_of(zone), exact=True)
    expect(named.or_(chooser).first).to_be_visible()
    if chooser.is_visible():
        chooser.get_by_text(name_of(zone), exact=True).click()
    expect(named).to_be_visible()


def test_ten_readings_by_keyboard_from_the_list(served, visiting) -> None:
    job = begun(served.store)
    with visiting(served.address, viewport={"width": 1000, "height": 800}) as visit:
        page = visit.page
        ready(page)
        to(page, "List of places")
        page.keyboard.press("Enter")
        find = page.get_by_role("searchbox")
        for number, (zone, state) in enumerate(SEEN):
            if number:
                shift_to(page, find)
            else:
                tab_until(page, "document.activeElement.type === 'search'")
            page.keyboard.press("Control+a")
            page.keyboard.type(name_of(zone))
            tab_until(page, f"document.activeElement.dataset.key === 'zone:{zone}'")
            page.keyboard.press("Enter")
            tab_until(page, f"document.activeElement.dataset.state === '{state}'")
            page.keyboard.press("Enter")
            told(page, zone)
            page.keyboard.press("Escape")
            # The focus comes back to where it was, never to nowhere.
            assert page.evaluate("document.activeElement.dataset.key") == f"zone:{zone}"
    assert kept(served.store, job) == list(SEEN)


def to(page: Page, name: str) -> None:
    """Tabs on until a button of that name has the focus."""
    tab_until(page, f"document.activeElement.innerText.trim() === {name!r}")


def shift_to(page: Page, wanted: Locator) -> None:
    """Tabs back until it has the focus."""
    for _ in range(120):
        if wanted.evaluate("e => e === document.activeElement"):
            return
        page.keyboard.press("Shift+Tab")
    raise AssertionError("the keyboard does not get there")


def tab_until(page: Page, said: str) -> None:
    """Tabs on until it is so; each stop shows that it has the focus."""
    for _ in range(120):
        page.keyboard.press("Tab")
        assert page.evaluate(SHOWN), page.evaluate("document.activeElement.outerHTML")
        if page.evaluate(f"() => {said}"):
            return
    raise AssertionError(f"the keyboard does not get to where {said}")


def test_ten_readings_by_touch_on_a_phone(served, visiting) -> None:
    job = begun(served.store)
    phone = {"width": 360, "height": 740}
    with visiting(served.address, viewport=phone, has_touch=True, is_mobile=True) as visit:
        page = visit.page
        ready(page)
        first = page.locator(".ldx-strip-first").inner_text()
        page.get_by_role("button", name="List of places").tap()
        for zone, state in SEEN:
            page.locator(f".ldx-rows [data-key='zone:{zone}']").tap()
            page.locator(f".ldx-state[data-state={state}]").tap()
            told(page, zone)
            page.locator(".ldx-entry-head").get_by_role("button", name="Close").tap()
        expect(page.locator(".ldx-strip-first")).to_contain_text("Vacuum pump")
        assert page.locator(".ldx-strip-first").inner_text() != first
    assert kept(served.store, job) == list(SEEN)
