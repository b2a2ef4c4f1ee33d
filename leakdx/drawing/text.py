"""How wide text is, without asking a font, and text in lines that fit."""

from __future__ import annotations

import re
import unicodedata

NO_BREAK = "\u00a0"
SIZE = 13.0  # of the letters of the key
_NARROW = frozenset("iljtfrI.,:;'|!()[] -\u00a0")
_WIDE = frozenset("mwMWQOGD@%&")


def width_of(text: str, size: float) -> float:
    """About how wide text is in any usual font, rather too wide than too narrow."""
    total = 0.0
    for c in text:
        if unicodedata.east_asian_width(c) in "WF":
            total += 1.05
        elif c in _NARROW:
            total += 0.37
        elif c in _WIDE or c.isupper():
            total += 0.82
        else:
            total += 0.6
    return total * size


def wrapped(text: str, room: float, size: float = SIZE) -> tuple[str, ...]:
    """Text in lines no wider than ``room``; a word that is too long is cut."""
    lines = [""]
    for word in re.split(r"[ \t\n\r]+", text.strip()):
        for piece in _pieces(word, room, size):
            longer = f"{lines[-1]} {piece}".strip()
            if lines[-1] and width_of(longer, size) > room:
                lines.append(piece)
            else:
                lines[-1] = longer
    return tuple(lines)


def _pieces(word: str, room: float, size: float) -> list[str]:
    pieces = [""]
    for c in word:
        if pieces[-1] and width_of(pieces[-1] + c, size) > room:
            pieces.append("")
        pieces[-1] += c
    return pieces
