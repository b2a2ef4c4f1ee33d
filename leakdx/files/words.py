"""Plain words for values and names, as they appear in faults."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import Any

_LONGEST = 60
_MANY = 1000

# The unit is the ending of the key; the longest ending that fits wins.
_UNITS = (
    ("_mm2_s", "viscosity", "mm2/s"),
    ("_kg_m3", "density", "kg/m3"),
    ("_mm2", "area", "mm2"),
    ("centroid_mm", "point", "mm, as [x forward, y left, z up]"),
    ("position_mm", "point", "mm, as [x forward, y left, z up]"),
    ("bbox_mm", "box", "mm, as low and high corners"),
    ("_mm", "length", "mm"),
    ("_ml", "volume", "ml"),
    ("_deg", "angle", "degrees"),
    ("_C", "temperature", "degrees C"),
    ("_m_s", "speed", "m/s"),
    ("_years", "time", "years"),
    ("minutes", "time", "minutes"),
    ("hours", "time", "hours"),
    ("spins", "radius", "mm"),
)


def plain(text: str) -> str:
    """``text`` on one line with nothing a terminal would act on, cut at 60 characters."""
    shown = "".join(c if c.isprintable() else repr(c)[1:-1] for c in text[: _LONGEST + 1])
    return shown if len(shown) <= _LONGEST else shown[: _LONGEST - 3] + "..."


def shown(value: Any) -> str:
    """A value as a person would point at it."""
    match value:
        case None:
            return "empty"
        case Enum():
            return shown(value.value)
        case bool():
            return "true" if value else "false"
        case str():
            return f"'{plain(value)}'"
        case int():
            return plain(str(value)) if abs(value) < 10**_LONGEST else "a very long number"
        case float():
            return "not a number" if math.isnan(value) else f"{value:g}"
        case Mapping():
            return "a set of keys"
        case Sequence():
            return "a list" if value else "an empty list"
        case _:
            return f"a {type(value).__name__}"


def listed(names: Iterable[str], *, most: int = 12) -> str:
    """Names with commas, cut after ``most``."""
    every = list(names)
    text = ", ".join(plain(name) for name in every[:most])
    return text if len(every) <= most else f"{text} and {len(every) - most} more"


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like ``name``, or None where none is near."""
    pool = list(known)
    if len(pool) > _MANY:
        # Comparing with every name of a huge file takes seconds for each fault.
        pool = [other for other in pool if other[:2] == name[:2]][:_MANY]
    found = difflib.get_close_matches(name[:200], pool, n=1, cutoff=0.6)
    return found[0] if found else None


def choose(name: str, known: Iterable[str], *, what: str) -> str:
    """A remedy for a name that is not known: the nearest one, or all of them."""
    pool = list(known)
    near = nearest(name, pool)
    if near is not None:
        return f"Did you mean '{near}'?"
    if not pool:
        return f"There is no {what} to choose from: add it, or leave this out."
    return f"Use one of: {listed(pool)}."


def unit_of(key: str) -> tuple[str, str] | None:
    """Quantity and unit that a key asks for ("area", "mm2"), or None for a key without a unit."""
    for ending, quantity, unit in _UNITS:
        if key.endswith(ending):
            return quantity, unit
    return None


def as_identifier(text: str) -> str | None:
    """``text`` made into a name that files accept, or None where nothing is left of it."""
    made = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
    made = made if made[:1].isalpha() else f"n_{made}" if made else ""
    return made[:64] or None
