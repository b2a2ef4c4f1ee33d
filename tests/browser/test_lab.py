"""The same page inside JupyterLab's notebook: run, enter, restart the kernel, in the dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.ways import begun_small, entries_of, listed, order_of, saved_states

SEEN = (("clutch_master", "film"), ("carpet", "dry"), ("clutch_hose", "dry"))
WIDE = {"width": 1440, "height": 900}
# What JupyterLab puts over the notebook unasked.
POPPED_UP = ".jp-Dialog, .jp-toastContainer .Toastify__toast, .Toastify__toast"
# Contrast of the ink on the paper of the page, as WCAG reckons it.
CONTRAST = """e => {
  const of = (said) => {
    const [r, g, b] = said.match(/[\\d.]+/g).slice(0, 3)
      .map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const style = getComputedStyle(e);
  const [a, b] = [of(style.color), of(style.backgroundColor)].sort((x, y) => y - x);
  return (a + 0.05) / (b + 0.05);
}"""


def menu(page: Page, *items: str) -> None:
    """Chooses from JupyterLab's menu bar, one menu after the other."""
    first, *rest = items
    page.locator(".lm-MenuBar-item").get_by_text(first, exact=True).click()
    for item in rest:
        page.locator(".lm-Menu-itemLabel").get_by_text(item, exact=True).click()


def run(page: Page) -> None:
    """Waits for the notebook and its kernel, and runs all cells."""
    expect(page.locator(".jp-NotebookPanel .jp-CodeCell").first).to_be_visible(timeout=90_000)
    idle(page)
    expect(page.locator(POPPED_UP)).to_have_count(0)
    menu(page, "Run", "Run All Cells")


def idle(page: Page) -> None:
    """Waits until the kernel is there and has nothing to do."""
    status = page.locator("#jp-bottom-panel").get_by_text("Python 3 | Idle")
    expect(status).to_be_visible(timeout=60_000)


def ranked(page: Page) -> None:
    """Waits for the job that is open, with its ranking, and shows its places as a list."""
    expect(page.locator(".ldx-ranks > li").first).to_be_visible(timeout=90_000)
    listed(page)


def enter(page: Page, zone: str, state: str) -> None:
    """Says of a zone what was seen there, and waits until it is kept."""
    page.locator(f".ldx-rows [data-key='zone:{zone}']").click()
    page.locator(f".ldx-state[data-state={state}]").click()
    expect(saved_states(page)).to_contain_text("Saved:")
    page.locator(".ldx-entry-head").get_by_role("button", name="Close").click()


def kept(store: Path, job: str) -> list[tuple[str, str]]:
    """What was read of zones since the job began."""
    return [(e.zone, e.state.value) for e in entries_of(store, job)[3:]]


def test_readings_in_the_notebook_and_the_kernel_begun_again(opening, visiting, tmp_path) -> None:
    store = tmp_path / "store"
    job = begun_small(store)
    opened = opening()
    with visiting(opened.address, viewport=WIDE) as visit:
        page = visit.page
        run(page)
        ranked(page)
        before = order_of(page)
        for zone, state in SEEN:
            enter(page, zone, state)
        assert order_of(page) != before
        assert kept(store, job) == list(SEEN)
        # Nothing was announced meanwhile.
        expect(page.locator(POPPED_UP)).to_have_count(0)

        page.evaluate("document.querySelector('.ldx-desk').dataset.old = 'yes'")
        menu(page, "Kernel", "Restart Kernel and Run All Cells…")
        page.locator(".jp-Dialog").get_by_text("Restart", exact=True).click()
        # Another page in the place of the one before, with the same job as it was.
        expect(page.locator(".ldx-desk[data-old]")).to_have_count(0, timeout=60_000)
        ranked(page)
        expect(page.locator(".ldx-desk")).to_have_count(1)
        expect(page.locator(".ldx-desk")).to_contain_text("Pedal sinks")
        for zone, state in SEEN:
            row = page.locator(f".ldx-rows [data-key='zone:{zone}']")
            expect(row).to_contain_text(re.compile(state, re.IGNORECASE))
        enter(page, "bell_under", "dry")
    assert kept(store, job) == [*SEEN, ("bell_under", "dry")]


@pytest.mark.parametrize("chosen", ["by the computer", "by hand"])
def test_the_dark_theme_leaves_the_page_readable(opening, visiting, tmp_path, chosen) -> None:
    store = tmp_path / "store"
    job = begun_small(store)
    opened = opening()
    scheme = "dark" if chosen == "by the computer" else "light"
    with visiting(opened.address, viewport=WIDE, color_scheme=scheme) as visit:
        page = visit.page
        run(page)
        ranked(page)
        if chosen == "by hand":
            menu(page, "Settings", "Theme", "Synchronize with System Settings")
            menu(page, "Settings", "Theme", "JupyterLab Dark")
        expect(page.locator("body[data-jp-theme-light=false]")).to_be_attached()
        enter(page, *SEEN[0])
        for part in (".ldx-desk", ".ldx-rows [data-key='zone:clutch_master']"):
            assert page.locator(part).first.evaluate(CONTRAST) >= 4.5
        # The page is as dark as the notebook around it, whoever said so.
        paper = page.locator(".ldx-desk").evaluate("e => getComputedStyle(e).backgroundColor")
        assert max(map(int, re.findall(r"\d+", paper))) < 64
    assert kept(store, job) == [SEEN[0]]
