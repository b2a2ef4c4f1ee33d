"""From the location of an error to the path a person can follow."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from leakdx.files.words import plain

Step = str | int | float
Location = tuple[Step, ...]


# How the validator names a branch that is not a model, and the key of a mapping.
_BRANCH = re.compile(r"\[key\]|(literal|tuple|list|dict|function|constrained)[a-z-]*\[.*\]")


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str | bytes)


def _leads_on(value: Any, following: Step) -> bool:
    if isinstance(value, Mapping):
        return True
    return _is_list(value) and isinstance(following, int)


def followed(location: Location, data: Any) -> Location:
    """``location`` without the steps that stand for a choice of type and not for a key.

    A validator of a union puts the branch it took into the location; such a step is no key of
    the data, or it names a key that holds nothing to go into.
    """
    steps: list[Step] = []
    here = data
    location = tuple(step for step in location if not _made_up(step))
    for position, step in enumerate(location):
        last = position == len(location) - 1
        if isinstance(here, Mapping) and step in here:
            if last or _leads_on(here[step], location[position + 1]):
                here = here[step]
                steps.append(step)
        elif _is_list(here) and isinstance(step, int) and step < len(here):
            here = here[step]
            steps.append(step)
        elif last:
            steps.append(step)
    return tuple(steps)


def _made_up(step: Step) -> bool:
    return isinstance(step, str) and _BRANCH.fullmatch(step) is not None


def value_at(location: Location, data: Any) -> Any:
    """The value at a followed location; None where there is none."""
    here = data
    for step in location:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def path_of(location: Location, data: Any) -> str:
    """A path such as ``zones.rocker_left.area_mm2``, with ids in place of counts where known."""
    text = ""
    here = data
    for step in location:
        inside = value_at((step,), here)
        if isinstance(step, int) and not isinstance(here, Mapping):
            name = inside.get("id") if isinstance(inside, Mapping) else None
            known = isinstance(name, str) and name.isidentifier()
            text += f".{plain(str(name))}" if known else f"[{step}]"
        else:
            text += f".{plain(str(step))}" if text else plain(str(step))
        here = inside
    return text
