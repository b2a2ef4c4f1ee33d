"""The same page inside JupyterLab's notebook: run, enter, restart the kernel, in the dark."""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from tests.browser.ways import begun_small, entries_of, listed, order_of, saved_states

SEEN = (("bulkhead_engine_side", "dry"), ("clutch_master", "film"), ("clutch_pedal", "dry"))
WIDE = {"width": 1440, "height": 900}


def menu(page: Page, name: str, item: str) -> None:
    """Chooses from JupyterLab's menu bar."""
    page.locator(".lm-MenuBar-item").get_by_text(name, exact=True).click()
    page.locator(".lm-Menu-itemLabel").get_by_text(item, exact=True).click()


def run(page: Page) -> None:
    """Waits for the notebook and its kernel, and runs all cells."""
    expect(page.locator(".jp-NotebookPanel .jp-CodeCell").first).to_be_visible(timeout=90_000)
    expect(page.locator(".jp-Notebook-ExecutionIndicator[data-status=idle]")).to_be_visible()
    menu(page, "Run", "Run All Cells")


def placed(page: Page) -> Locator:
    """The list of places of the job that is open."""
    expect(page.locator(".ldx-ranks > li").first).to_be_visible(timeout=90_000)
    listed(page)
    return page.locator(".ldx-rows")


def enter(page: Page, zone: str, state: str) -> None:
    """Says of a zone what was seen there, and waits until it is kept."""
    told = saved_states(page).filter(has_text="Saved:")
    page.locator(f".ldx-rows [data-key='zone:{zone}']").click()
    page.locator(f".ldx-state[data-state={state}]").click()
    expect(told).to_be_visible()
    page.locator(".ldx-entry-head").get_by_role("button", name="Close").click()


def kept(store, job) -> list[tuple[str, str]]:
    return [(e.zone, e.state.value) for e in entries_of(store, job)[3:]]
