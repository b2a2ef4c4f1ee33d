"""Chances in the words of somebody who does not reckon with them: "about 2 in 3"."""

from __future__ import annotations

from math import log

from leakdx.advice.words import percent

# As people say them; n in d.
_SAID = (
    *((1, d) for d in (1000, 500, 300, 200, 100, 50, 30, 20, 15, 10, 8, 6, 5, 4, 3)),
    *((2, 5), (1, 2), (3, 5), (2, 3)),
    *((d - 1, d) for d in (4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200, 300, 500, 1000)),
)


def about(chance: float) -> str:
    """A chance as so many in so many, the nearest by its odds; never "none" and never "all"."""
    if chance < 0.0005:
        return "less than 1 in 1000"
    if chance > 0.9995:
        return "more than 999 in 1000"
    nearest = min(_SAID, key=lambda f: abs(_odds(f[0] / f[1]) - _odds(chance)))
    return f"about {nearest[0]} in {nearest[1]}"


def in_words(chance: float) -> str:
    """The same with its percentage: "about 2 in 3 (65 %)"."""
    return f"{about(chance)} ({percent(chance)})"


def _odds(chance: float) -> float:
    return log(chance / (1 - chance))
