"""What was chosen of a layout's options, and what follows from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import product

from leakdx.kit.model import Choice, Layout, Option, Per, Placement, Repeat

Choices = Mapping[str, Choice]
When = Mapping[str, Choice | tuple[Choice, ...]]


def same(one: Choice, other: Choice) -> bool:
    """Whether two choices are the same; true is not 1."""
    return type(one) is type(other) and one == other


def usual(layout: Layout) -> dict[str, Choice]:
    """The usual choice of every option."""
    return {option.id: option.usual for option in layout.options}


def chosen(layout: Layout, options: Choices) -> dict[str, Choice]:
    """The usual choices, and those that were made instead."""
    return usual(layout) | dict(options)


def every_choice(layout: Layout) -> Iterator[dict[str, Choice]]:
    """Every combination of choices that the options of a layout allow."""
    names = [option.id for option in layout.options]
    for values in product(*(option.choices for option in layout.options)):
        yield dict(zip(names, values, strict=True))


def applies(when: When, choices: Choices) -> bool:
    """Whether something is there under these choices."""
    for option, wanted in when.items():
        allowed = wanted if isinstance(wanted, tuple) else (wanted,)
        if option not in choices or not any(same(choices[option], w) for w in allowed):
            return False
    return True


def offers(option: Option, choice: Choice) -> bool:
    """Whether an option can be chosen so."""
    return any(same(choice, known) for known in option.choices)


def count(repeat: Repeat | None, choices: Choices) -> int | None:
    """How often a part stands there; None for a part that is not repeated."""
    if repeat is None:
        return None
    return repeat.count if isinstance(repeat.count, int) else _number(choices[repeat.count])


def most(repeat: Repeat | None, options: Iterable[Option]) -> int | None:
    """How often it could stand there under any choice."""
    if repeat is None or isinstance(repeat.count, int):
        return None if repeat is None else int(repeat.count)
    return max(_number(c) for o in options if o.id == repeat.count for c in o.choices)


def stretch_of(placement: Placement, choices: Choices) -> tuple[float, float, float]:
    """The factors along the part's axes."""
    found = {"x": 1.0, "y": 1.0, "z": 1.0}
    for side, factor in placement.stretch.items():
        if isinstance(factor, Per):
            found[side] = _number(choices[factor.option]) / factor.drawn_for
        else:
            found[side] = float(factor)
    return found["x"], found["y"], found["z"]


def _number(choice: Choice) -> int:
    if isinstance(choice, bool) or not isinstance(choice, int):
        raise TypeError(f"a number was checked to stand here, not {choice!r}")
    return choice
