"""The pages on paper and on a phone, by a real Chromium."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from pypdf import PageObject, PdfReader

from leakdx.advice.solving import solve
from leakdx.reasons.picture import picture_of
from leakdx.report.customer import CustomerSheet, Suspect
from leakdx.report.found import Found, Place
from leakdx.report.pages import customer_page, job_sheet_page
from leakdx.report.proposing import SHOWN, Proposed
from tests.advice.repaired import PRIORS
from tests.report.made import RENEW, WASH, WET, loaded_job, shipped, told_of
from tests.report.reading import PageRead

pytestmark = pytest.mark.browser
PAPERS = ("A4", "Letter")
FOOT = re.compile(r"Page (\d+) of (\d+)")
# Points from the foot of the paper within which only the foot line stands.
FOOT_HIGH = 45.0


@dataclass
class Shown:
    """A page in the browser, and all that it asked for or complained of."""

    page: Page
    asked: list[str]
    said: list[str]


Shower = Callable[[str], Shown]


@pytest.fixture
def show(browser: Browser, tmp_path: Path) -> Iterator[Shower]:
    context = browser.new_context()

    def shown(html: str) -> Shown:
        path = tmp_path / "page.html"
        path.write_text(html, encoding="utf-8")
        made = Shown(context.new_page(), [], [])
        made.page.on("request", lambda request: made.asked.append(request.url))
        made.page.on("console", lambda message: made.said.append(message.text))
        made.page.goto(path.as_uri())
        assert made.asked == [path.as_uri()]
        return made

    yield shown
    context.close()


@cache
def job_page() -> str:
    loaded, made, _ = shipped("rear_of_engine_wet")
    drawn = picture_of(solve(loaded, PRIORS), made.renew[0].seal_point)
    places = "; ".join(f"at place number {n} of the machine" for n in range(30))
    return job_sheet_page(
        replace(made, wash_and_run=(*made.wash_and_run, f"Then look there: {places}.")), drawn
    )


@cache
def full() -> CustomerSheet:
    """As much as an owner is ever told, with long names."""
    told = shipped("rear_of_engine_wet")[2]
    assert told.proposal is not None
    name = "Head cover gasket, rear stretch with the half-round at the camshaft end"
    joint = Proposed(name, 0.3, "behind parts that come off for another as well")
    many = replace(told.proposal, joints=(joint,) * SHOWN, price="About 1200 kr.")
    wet = Found((Place(name, "engine oil, running, fresh"),) * 20, ("x",), (), frozenset(), 0)
    return replace(told, found=wet, proposal=many, suspects=(Suspect(name, 0.3),) * 4)


@cache
def after() -> CustomerSheet:
    return told_of(loaded_job(WET, RENEW, WASH, WET), "plug")


def pages() -> list[str]:
    return [job_page(), *(customer_page(t) for t in (full(), after()))]


def printed(shown: Shown, paper: str, folder: Path) -> PdfReader:
    path = folder / f"{paper}.pdf"
    shown.page.pdf(path=path, format=paper)
    return PdfReader(path)


def plain(text: str) -> str:
    """Text without spaces: a line may be broken anywhere on paper."""
    return re.sub(r"\s", "", text)


@dataclass(frozen=True)
class Line:
    """Text on paper, and how far from its foot, in points."""

    high: float
    text: str


def lines_of(page: PageObject) -> list[Line]:
    """The lines on a page of paper, from the top down."""
    found: dict[float, str] = {}

    def keep(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            high = round(tm[4] * cm[1] + tm[5] * cm[3] + cm[5], 0)
            found[high] = found.get(high, "") + text

    page.extract_text(visitor_text=keep)
    return [Line(high, found[high]) for high in sorted(found, reverse=True)]


@pytest.mark.parametrize("paper", PAPERS)
def test_all_of_it_is_printed_and_nothing_is_fetched(
    paper: str, show: Shower, tmp_path: Path
) -> None:
    for html in pages():
        shown = show(html)
        pdf = printed(shown, paper, tmp_path)
        texts = [page.extract_text() for page in pdf.pages]
        read = PageRead(html)
        whole = plain("".join(texts))
        titles = [t for tag in ("h1", "h2", "h3") for t in read.of(tag)]
        assert len(titles) >= 8
        assert [t for t in titles if plain(t) not in whole] == []
        # Every sheet of paper says which it is of how many.
        counts = [FOOT.search(t) for t in texts]
        expected = [(str(n), str(len(texts))) for n in range(1, len(texts) + 1)]
        assert [c and (c[1], c[2]) for c in counts] == expected
        assert len(shown.asked) == 1 and shown.said == []


@pytest.mark.parametrize("paper", PAPERS)
def test_the_owners_sheet_is_two_pages_at_most(paper: str, show: Shower, tmp_path: Path) -> None:
    for told in (full(), after()):
        assert len(printed(show(customer_page(told)), paper, tmp_path).pages) <= 2


@pytest.mark.parametrize("paper", PAPERS)
def test_no_heading_is_left_at_the_foot_of_a_page(paper: str, show: Shower, tmp_path: Path) -> None:
    for html in pages():
        read = PageRead(html)
        headings = {plain(t) for tag in ("h2", "h3", "h4", "thead") for t in read.of(tag)}
        for page in printed(show(html), paper, tmp_path).pages:
            lines = [line.text for line in lines_of(page) if line.high > FOOT_HIGH]
            assert plain(lines[-1]) not in headings, lines[-3:]


@pytest.mark.parametrize("paper", PAPERS)
def test_no_joint_is_cut_in_two(paper: str, show: Shower, tmp_path: Path) -> None:
    joints = len(shipped("rear_of_engine_wet")[1].joints)
    begins, ends = [], []
    for page in printed(show(job_page()), paper, tmp_path).pages:
        text = page.extract_text()
        begins.append(text.count("Take out and clean"))
        ends.append(text.count("Found here"))
    assert begins == ends
    assert sum(begins) == joints


@pytest.mark.parametrize("width", [360, 1200])
def test_it_fits_the_screen(width: int, show: Shower) -> None:
    long = "W" * 390
    title = replace(full(), title=long, machine=long)
    sheet = replace(shipped("rear_of_engine_wet")[1], job_name=long, cautions=(long,))
    for html in (*pages(), customer_page(title), job_sheet_page(sheet)):
        page = show(html).page
        page.set_viewport_size({"width": width, "height": 800})
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width
        # Letters no smaller than 13 px anywhere but in the drawing.
        small = page.evaluate(
            "[...document.querySelectorAll('main *:not(svg, svg *)')]"
            ".filter(e => parseFloat(getComputedStyle(e).fontSize) < 13).map(e => e.outerHTML)"
        )
        assert small == []


def test_a_box_is_ticked_by_its_words_and_is_large_enough(show: Shower) -> None:
    page = show(job_page()).page
    page.set_viewport_size({"width": 360, "height": 800})
    page.get_by_text("Take off the head cover").first.click()
    ticked = page.locator("input:checked")
    assert ticked.count() == 1
    row = page.locator("label", has=ticked).bounding_box()
    assert row is not None and row["height"] >= 40 and row["width"] >= 250


def test_it_is_black_on_white_on_a_dark_screen_too(show: Shower) -> None:
    page = show(job_page()).page
    page.emulate_media(color_scheme="dark")
    colour = "e => getComputedStyle(document.querySelector(e)).{}"
    assert page.evaluate(colour.format("backgroundColor"), "body") == "rgb(255, 255, 255)"
    assert page.evaluate(colour.format("color"), "body") == "rgb(0, 0, 0)"
    assert page.evaluate(colour.format("fill"), "svg .paper") == "rgb(255, 255, 255)"
