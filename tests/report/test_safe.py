"""What is made of text from files, and which pictures are let into a page."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from leakdx.report.safe import REPLACED, cleaned, css_text, inline_picture

HEAD = '<svg xmlns="http://www.w3.org/2000/svg">'


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("plain, ÄÖ, 漢字, שלום", "plain, ÄÖ, 漢字, שלום"),
        ("two\nlines\tand\r\nmore", "two lines and  more"),
        ("bell\x07, escape\x1b[31m", f"bell{REPLACED}, escape{REPLACED}[31m"),
        # These turn the direction of all that follows.
        ("a\u202eb\u2066c", f"a{REPLACED}b{REPLACED}c"),
        # Half of a character cannot be written to a file.
        ("half \ud800", f"half {REPLACED}"),
        ("no character \ufffe", f"no character {REPLACED}"),
        # An emoji of several, joined.
        ("\U0001f469\u200d\U0001f527", "\U0001f469\u200d\U0001f527"),
    ],
)
def test_control_characters_are_replaced(text: str, kept: str) -> None:
    assert cleaned(text) == kept


def test_what_is_no_text_stays() -> None:
    made = Markup("<b>\n</b>")
    assert cleaned(made) is made
    assert cleaned(3) == 3


@given(st.text(st.characters()))
def test_clean_text_can_always_be_written(text: str) -> None:
    made = str(cleaned(text))
    made.encode("utf-8")
    assert len(made) == len(text)
    assert cleaned(made) == made


@given(st.text())
def test_text_in_a_style_sheet_ends_nothing(text: str) -> None:
    made = css_text(text)
    assert re.fullmatch(r"([A-Za-z0-9]|\\[0-9a-f]+ )*", made)
    back = re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), made)
    assert back == cleaned(text)


def test_a_drawing_is_let_in_and_stays_black_on_white() -> None:
    style = "<style>a{fill:red}\n@media (prefers-color-scheme: dark){a{fill:blue}}</style>"
    made = inline_picture(f'{HEAD}{style}<g clip-path="url(#here)"><path d="M0 0"/></g></svg>')
    assert isinstance(made, Markup)
    assert "prefers-color-scheme" not in made
    assert "@media not all{a{fill:blue}}" in made


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        '<g onclick="alert(1)"/>',
        '<a href="https://example.invalid"><text>x</text></a>',
        '<g href="x"/>',
        '<image href="x.png"/>',
        "<foreignObject><p>x</p></foreignObject>",
        '<rect fill="url(https://example.invalid/#a)"/>',
        "<style>@import 'x.css';</style>",
        "<style>a{background:url(x.png)}</style>",
        "<!-- a comment -->",
    ],
)
def test_what_is_no_mere_drawing_is_refused(inside: str) -> None:
    with pytest.raises(ValueError, match="the picture"):
        inline_picture(f"{HEAD}{inside}</svg>")


@pytest.mark.parametrize("text", ["", "<p>x</p>", "<svg>", '<svg width="1"/>'])
def test_what_is_no_svg_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no SVG"):
        inline_picture(text)
