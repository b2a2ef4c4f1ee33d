"""The pages: text from files goes through Jinja2, which escapes all of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from leakdx.advice import sheet as job_sheet
from leakdx.advice import sheet_text
from leakdx.advice.sheet import Sheet
from leakdx.advice.words import percent
from leakdx.report import customer
from leakdx.report.customer import CustomerSheet
from leakdx.report.safe import cleaned, css_text, inline_picture

# Places in a row from which a sentence is told as a list.
_MANY = 4


@dataclass(frozen=True)
class Parted:
    """A sentence that names many places: what stands before, the places, what stands after."""

    head: str
    items: tuple[str, ...]
    tail: str


def parted(text: str) -> Parted:
    """A sentence with its places as a list, where it names many; every word of it is kept."""
    head, colon, rest = text.partition(": ")
    items = rest.split("; ")
    if not colon or len(items) < _MANY:
        return Parted(text, (), "")
    last, stop, tail = items[-1].partition(". ")
    return Parted(f"{head}:", (*items[:-1], last if stop else last.removesuffix(".")), tail)


def job_sheet_page(sheet: Sheet, picture: str | None = None) -> str:
    """The strip-down and refit sheet as one page of HTML to print.

    picture: SVG text of the likeliest way of the fluid, as ``reasons.picture.picture_of``
    makes it; the page goes without where there is none.  Raises ValueError for a picture that is
    no plain drawing.
    """
    drawn = None if picture is None else inline_picture(picture)
    return _templates().get_template("job.html").render(sheet=sheet, picture=drawn)


def customer_page(told: CustomerSheet) -> str:
    """The sheet for the machine's owner as one page of HTML to print."""
    return _templates().get_template("customer.html").render(told=told)


@cache
def _templates() -> Environment:
    found = Environment(
        loader=PackageLoader("leakdx.report"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=cleaned,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters |= {"percent": percent, "css_text": css_text, "parted": parted}
    found.globals |= {"job": job_sheet, "said": sheet_text, "customer": customer}
    return found
