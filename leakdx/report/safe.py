"""Text from files and people, made fit for a page: nothing in it may act on the page."""

from __future__ import annotations

import re
import unicodedata
from xml.etree import ElementTree

from markupsafe import Markup

REPLACED = "\ufffd"
# They join letters and emoji and turn nothing round.
_JOINERS = "\u200c\u200d"
_SVG = "{http://www.w3.org/2000/svg}"
_ABOUT = ("svg", "title", "desc", "style", "defs", "pattern", "clipPath", "g")
_SHAPES = ("path", "rect", "circle", "polygon", "line", "text", "tspan")
_DRAWN = frozenset((*_ABOUT, *_SHAPES))
_DARK = re.compile(r"@media\s*\(prefers-color-scheme:\s*dark\)")


def cleaned(value: object) -> object:
    """What a page prints of a value: text without control characters, all else as it is.

    A line break becomes a space.  Other control characters, those that turn the direction of
    writing, and halves of characters become ``REPLACED``.
    """
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return "".join(map(_plain, value))


def _plain(letter: str) -> str:
    if letter in "\n\r\t\v\f\u0085\u2028\u2029":
        return " "
    kind = unicodedata.category(letter)
    acts = kind in ("Cc", "Cs") or (kind == "Cf" and letter not in _JOINERS)
    # The last two of each plane are no characters at all.
    return REPLACED if acts or ord(letter) & 0xFFFE == 0xFFFE else letter


def css_text(text: str) -> str:
    """Text within the quotes of a style sheet; only letters and digits stand as they are."""
    plain = str(cleaned(text))
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in plain)


def inline_picture(picture: str) -> Markup:
    """A drawing of ours, to stand within a page that is black on white on every screen.

    Raises:
        ValueError: where it is no SVG, or holds anything but a drawing: a script, a link, or
            something to be fetched.
    """
    if "<!" in picture:
        raise ValueError("the picture is no plain SVG: it holds a declaration or a comment")
    try:
        root = ElementTree.fromstring(picture)
    except ElementTree.ParseError as error:
        raise ValueError(f"the picture is no SVG: {error}") from error
    if root.tag != f"{_SVG}svg":
        raise ValueError("the picture is no SVG")
    for element in root.iter():
        _check(element)
    return Markup(_DARK.sub("@media not all", picture))


def _check(element: ElementTree.Element) -> None:
    name = element.tag.removeprefix(_SVG)
    if name not in _DRAWN:
        raise ValueError(f"the picture holds a <{name}>, which is no part of a drawing")
    for key, value in element.attrib.items():
        if key.startswith("on") or "href" in key or key == "src":
            raise ValueError(f"the picture holds {key}=, which is no part of a drawing")
        if "url(" in value.replace("url(#", ""):
            raise ValueError(f"the picture would fetch something for {key}=")
    if name == "style" and re.search(r"url\(|@import", element.text or ""):
        raise ValueError("the picture would fetch something for its style")
