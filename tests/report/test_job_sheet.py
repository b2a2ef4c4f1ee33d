"""The job sheet's page: sound, self-contained, and safe whatever a file says."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.sheet import INSIDE, MAKER_FIRST, Sheet
from leakdx.advice.sheet_text import INVENTED, REACHED, TICKED, TITLES, joint_parts
from leakdx.drawing.style import css
from leakdx.report.customer import CustomerSheet
from leakdx.report.pages import Parted, customer_page, job_sheet_page, parted
from leakdx.report.safe import cleaned
from tests.report.made import RENEW, WET, loaded_job, sheet_for, shipped, told_of
from tests.report.reading import PageRead

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" class="ldx"><title>Way</title>'
    '<path class="line" d="M0 0"/></svg>'
)
WORD = "Plain"
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "{{ 7 * 7 }} {% for x in y %} {# z",
    "</style></title></section><h1>",
    "<!-- <![CDATA[ ]]> -->",
    "&lt;b&gt;&amp;b",
    "\u202eright to left, שלום",
    "\x00\x07\x1b[31m\x85",
    "W" * 300,
    "👩\u200d🔧🇳🇿",
    "line\nbreak \\",
]


@cache
def material(word: str) -> tuple[Sheet | CustomerSheet, ...]:
    """What each kind of page is made of, with a word in every text of a file."""
    wet, done = loaded_job(WET, word=word), loaded_job(WET, RENEW, WET, word=word)
    made = sheet_for(wet, "cover_gasket", "plug", proof=True)
    return (
        made,
        replace(made, joints=()),
        told_of(wet, "cover_gasket", "plug"),
        told_of(done, "plug"),
    )


def pages(material: Iterable[Sheet | CustomerSheet]) -> list[str]:
    return [
        job_sheet_page(m, PICTURE) if isinstance(m, Sheet) else customer_page(m) for m in material
    ]


def put(thing: Any, text: str) -> Any:
    """The same with a text in the place of the harmless word, wherever it stands."""
    if isinstance(thing, str) and not isinstance(thing, Enum):
        return thing.replace(WORD, text)
    if isinstance(thing, tuple):
        return tuple(put(t, text) for t in thing)
    if is_dataclass(thing) and not isinstance(thing, type):
        return replace(thing, **{f.name: put(getattr(thing, f.name), text) for f in fields(thing)})
    return thing


@pytest.fixture(scope="module")
def harmless() -> list[str]:
    return pages(material(WORD))


def sound(page: str) -> PageRead:
    """A page, read; nothing may be amiss with it."""
    found = PageRead(page)
    assert found.faults == []
    return found


def test_pages_are_sound_and_self_contained(harmless: list[str]) -> None:
    for page in harmless:
        assert page.startswith('<!DOCTYPE html>\n<html lang="en">')
        found = sound(page)
        assert len(found.of("title")[0]) > 5
        assert ("http-equiv", "Content-Security-Policy") in found.elements[3][1]
        assert ("content", POLICY) in found.elements[3][1]
        outside = page.replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|url\(|@import|\bsrc=|\bhref=|<script", outside)


def check_harmless(text: str, found: list[str], harmless: list[str]) -> None:
    for page, plain in zip(found, harmless, strict=True):
        read = sound(page)
        assert read.elements == sound(plain).elements
        # It is all there to be read, as it was written.
        assert " ".join(f"{cleaned(text)} job".split()) in read.shown


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_makes_an_element_or_an_attribute(text: str, harmless: list[str]) -> None:
    check_harmless(text, pages(put(m, text) for m in material(WORD)), harmless)


def test_nor_does_any_that_comes_from_a_file(harmless: list[str]) -> None:
    text = "".join(HOSTILE[:7]) + "\u202e\x1b"
    check_harmless(text, pages(material(text)), harmless)


@given(text=st.text(st.characters(), min_size=1, max_size=80))
@settings(max_examples=60, deadline=None)
def test_nor_does_any_text_at_all(text: str) -> None:
    made = replace(stand_sheet(), job_name=text, machine_name=text, cautions=(text,))
    plain = replace(stand_sheet(), job_name="x", machine_name="x", cautions=("x",))
    assert sound(job_sheet_page(made)).elements == sound(job_sheet_page(plain)).elements


@cache
def stand_sheet() -> Sheet:
    return sheet_for(loaded_job(WET), "cover_gasket")


def test_the_foot_of_the_paper_ends_no_style() -> None:
    plain, bad = stand_sheet(), replace(stand_sheet(), job='x"; } </style><b>{')
    found = sound(job_sheet_page(bad))
    assert found.elements == sound(job_sheet_page(plain)).elements
    [style] = found.of("style")
    assert style.count("{") == style.count("}")


def test_everything_on_the_sheet_is_on_the_page() -> None:
    loaded, made, _ = shipped("rear_of_engine_wet")
    shown = sound(job_sheet_page(made)).shown
    told = [made.job_name, made.machine_name, made.sentence, MAKER_FIRST, INVENTED, INSIDE]
    told += [REACHED, TICKED, *TITLES, *made.cautions, *made.parts, *made.fluids, *made.off]
    told += [*made.run_cautions, *made.wash_and_run]
    told += [c.name for c in (*made.renew, *made.reached[:6])]
    told += [s.name for s in made.steps] + [r.text for r in made.refit]
    for joint in made.joints:
        told += [joint.name, joint.kind_said]
        told += [t for title, texts in joint_parts(joint) for t in (title, *texts)]
    for check in made.checks:
        told += [check.name, *check.records, *(said for _, said in check.boxes)]
    told += ["Name", "Date", "Hours or distance on the machine", "Notes"]
    assert loaded.job.id in shown
    missing = [t for t in told if " ".join(t.split()) not in shown]
    assert missing == []


def test_headings_and_tables_say_what_they_are() -> None:
    _, made, _ = shipped("rear_of_engine_wet")
    found = sound(job_sheet_page(made, PICTURE))
    levels = [int(tag[1]) for tag, _ in found.elements if re.fullmatch(r"h\d", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    heads = [dict(attrs).get("scope") for tag, attrs in found.elements if tag == "th"]
    assert set(heads) == {"col", "row"}
    # Each box can be ticked by its words.
    assert [t for t, _ in found.elements].count("label") == [t for t, _ in found.elements].count(
        "input"
    )


def test_many_places_in_a_sentence_are_a_list() -> None:
    text = "Then look there: one; two; three; four, right. About 9 minutes in all."
    items = ("one", "two", "three", "four, right")
    assert parted(text) == Parted("Then look there:", items, "About 9 minutes in all.")
    assert parted("Look there: one; two; three.") == Parted("Look there: one; two; three.", (), "")
    assert parted("a; b; c; d; e") == Parted("a; b; c; d; e", (), "")
    assert parted("At: a; b; c; d.").items == ("a", "b", "c", "d")
    made = replace(stand_sheet(), wash_and_run=(text,))
    shown = sound(job_sheet_page(made)).shown
    assert all(item in shown for item in (*items, "About 9 minutes in all."))


def test_the_picture_is_within_the_page_and_without_one_there_is_none() -> None:
    _, made, _ = shipped("rear_of_engine_wet")
    assert PICTURE in job_sheet_page(made, PICTURE)
    assert "svg" not in [tag for tag, _ in sound(job_sheet_page(made)).elements]
    with pytest.raises(ValueError, match="<script>"):
        job_sheet_page(made, PICTURE.replace("path", "script"))


def test_page_and_drawing_have_no_class_in_common() -> None:
    # Each has its own style, and both act on the whole page.
    page = PageRead(job_sheet_page(stand_sheet()))
    [style] = page.of("style")
    of_page = set(re.findall(r"\.([a-z_-][\w-]*)", style))
    of_drawing = set(re.findall(r"\.([a-z_-][\w-]*)", css()))
    assert of_page & of_drawing == set()


def test_nothing_to_renew_is_one_sentence_and_no_more() -> None:
    dry = [{"zone": zone, "state": "dry"} for zone in ("side", "foot", "rear")]
    made = sheet_for(loaded_job(*dry))
    found = sound(job_sheet_page(made, PICTURE))
    assert "Nothing is to be renewed" in found.shown
    assert not {"h2", "input", "svg"} & {tag for tag, _ in found.elements}
