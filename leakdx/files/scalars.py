"""What an unquoted word of a file means: the YAML 1.2 core rules, not the older ones.

Under the older rules ``value: no`` is false and ``at: 12:30`` is 750; here both are text.
"""

from __future__ import annotations

import re
import sys

_INTEGER = re.compile(r"[-+]?[0-9]+")
_REAL = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_ENDLESS = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)|[-+]?(inf|Inf|INF|nan|NaN|NAN)")
_FIXED: dict[str, bool | None] = {
    "": None,
    "~": None,
    "null": None,
    "Null": None,
    "NULL": None,
    "true": True,
    "True": True,
    "TRUE": True,
    "false": False,
    "False": False,
    "FALSE": False,
}
_MOST_DIGITS = 300

Scalar = str | int | float | bool | None


class NotFinite(ValueError):
    """The word stands for no number that can be reckoned with."""


def meaning(word: str) -> Scalar:
    """The value of an unquoted word.

    Raises:
        NotFinite: for a not-a-number, an infinity, or a number too large to hold.
    """
    if word in _FIXED:
        return _FIXED[word]
    # Most words are text: one look at the first letter spares three patterns.
    if not (word[0] in "+-." or word[0].isdigit() or word[0] in "inIN"):
        return word
    if _ENDLESS.fullmatch(word):
        raise NotFinite(word)
    if len(word) > _MOST_DIGITS:
        if _REAL.fullmatch(word):
            raise NotFinite(word)
        return word
    if _INTEGER.fullmatch(word):
        return _finite(word, int(word))
    if _REAL.fullmatch(word):
        return _finite(word, float(word))
    return word


def _finite(word: str, number: int | float) -> int | float:
    if abs(number) > sys.float_info.max:
        raise NotFinite(word)
    return number


def needs_quotes(text: str) -> bool:
    """Whether ``text`` written without quotes would be read as something else than text."""
    try:
        return not isinstance(meaning(text), str)
    except NotFinite:
        return True
