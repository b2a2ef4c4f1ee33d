"""What the page does where its widget does not come: it loads itself anew, and not for ever."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened

# Stands for the widget manager that gave up, which is what it then writes.
GAVE_UP = """() => {
  const told = document.createElement("p");
  told.textContent = "Error displaying widget: model not found";
  document.getElementById("desk").prepend(told);
}"""


def test_a_page_whose_widget_did_not_come_loads_itself_anew(
    served: Opened, visiting: Callable[..., Any]
) -> None:
    with visiting(served.address) as visit:
        page: Page = visit.page
        # As soon as the place of the widget is there, and before the widget is.
        page.locator("#desk").wait_for(state="attached")
        with page.expect_navigation():
            page.evaluate(GAVE_UP)
        expect(page.locator(".ldx-desk main")).to_be_visible()
        assert page.evaluate("sessionStorage.getItem('leakdx-again')") is None
