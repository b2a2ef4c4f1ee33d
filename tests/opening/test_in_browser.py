"""What a reader sees while it opens, when it no longer answers, and that JupyterLab is quiet."""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.opening.served import PATIENCE_S, Opened, started

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

WAIT_MS = 1000 * PATIENCE_S
OURS = re.compile(r"(http|ws)://127\.0\.0\.1:\d+/|blob:|data:")


@pytest.fixture(scope="module")
def opened(folder: Path) -> Iterator[Opened]:
    with started(folder, "-m", "leakdx.cli", "open", "--page", "--no-browser") as page:
        yield page
        assert page.end(signal.SIGINT) == 130


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    yield page
    context.close()


def see_the_desk(page: Page) -> None:
    page.wait_for_selector(".ldx-desk")
    page.wait_for_selector("#waiting", state="hidden")


def test_the_words_go_when_the_desk_is_there(opened: Opened, page: Page) -> None:
    page.goto(opened.address, wait_until="commit")
    page.wait_for_selector("text=Opening leakdx")
    see_the_desk(page)
    # The secret is not left where somebody may read or copy it.
    assert "token" not in page.url


def test_when_the_kernel_is_gone_it_says_so_and_reload_leads_back(
    opened: Opened, page: Page
) -> None:
    page.goto(opened.address)
    see_the_desk(page)
    for kernel in opened.kernels():
        kernel.kill()
    page.wait_for_selector("text=The page no longer answers.")
    page.click("#reload")
    see_the_desk(page)


def test_when_nothing_appears_it_says_so_and_can_be_reloaded(opened: Opened, page: Page) -> None:
    page.route("**/static/voila.js", lambda route: route.abort())
    page.goto(opened.address)
    page.wait_for_selector("text=Nothing has appeared yet.")
    page.unroute("**/static/voila.js")
    page.click("#reload")
    see_the_desk(page)


def test_jupyterlab_shows_the_notebook_and_asks_nothing(browser: Browser, tmp_path: Path) -> None:
    with started(tmp_path, "-m", "leakdx.cli", "open", "--no-browser") as lab:
        page = browser.new_page()
        page.set_default_timeout(WAIT_MS)
        asked: list[str] = []
        wrong: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto(lab.address)
        page.wait_for_selector(".jp-RenderedMarkdown h1")
        # Long enough for what would come up by itself.
        page.wait_for_timeout(3000)
        assert not page.query_selector_all(".jp-Dialog, .Toastify__toast")
        page.click(".lm-MenuBar-item:has-text('Run')")
        page.click(".lm-Menu-item:has-text('Run All Cells')")
        page.wait_for_selector(".ldx-desk")
        assert not [url for url in asked if not OURS.match(url)]
        assert len(asked) > 20
        assert not wrong
        page.close()
        assert lab.end(signal.SIGINT) == 130
