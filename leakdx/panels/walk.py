"""The walk that a person is led through the first time: a small invented job, seen to its end."""

from __future__ import annotations

from typing import Literal, TypedDict

Panel = Literal["map", "ranking", "next", "story", "repair"]
JOB = "first_walk"


class Step(TypedDict):
    """One step.  panel: the part of the page it is about.  zone, state: what is to be tapped."""

    say: str
    panel: Panel | None
    zone: str | None
    state: str | None


class Walk(TypedDict):
    """job: the example that is opened for it."""

    title: str
    job: str
    steps: list[Step]


def first_walk() -> Walk:
    """The walk: three taps and some reading, about five minutes."""
    return {
        "title": "A first walk: oil at the bell housing",
        "job": JOB,
        "steps": [step.copy() for step in _STEPS],
    }


def _step(
    say: str, panel: Panel | None = None, zone: str | None = None, state: str | None = None
) -> Step:
    return {"say": say, "panel": panel, "zone": zone, "state": state}


_STEPS: tuple[Step, ...] = (
    _step(
        "This engine is invented, and so is its leak. Oil drips from the bell housing. The "
        "crankshaft seal is an easy guess; let us see before anything comes apart."
    ),
    _step(
        "Two places are told so far: the top of the bell housing is wet, its bottom drips. Below "
        "a leak much gets wet, so look higher up.",
        "map",
    ),
    _step(
        "The rear head cover gasket leads, but at about one in three it is no more than a hint. "
        "Each line is the chance that this joint leaks; several may leak at once.",
        "ranking",
    ),
    _step(
        "Behind the head you see oil running down. Tap the rear face of the head and say: running.",
        "map",
        "head_rear",
        "running",
    ),
    _step(
        "Now look one step higher, with a mirror, at the rear face of the head cover. It is dry. "
        "Say so: dry counts as much as wet.",
        "map",
        "head_cover_rear",
        "dry",
    ),
    _step(
        "The gasket has lost its lead to the ring of the vacuum pump: a leaking gasket would most "
        "likely have wetted that face too.",
        "ranking",
    ),
    _step(
        "Look at the pump itself. Oil runs down its body. Tap it and say: running.",
        "map",
        "vacuum_pump",
        "running",
    ),
    _step(
        "The ring of the pump now stands at about four in five. What you did not look at counts "
        "neither as wet nor as dry. 'Why?' says what speaks for it and what against.",
        "ranking",
    ),
    _step(
        "Here is the look that pays most for its minutes now, with what to mind before you start. "
        "The maker's procedure and local rules come first.",
        "next",
    ),
    _step(
        "All you entered stands here in order. Whatever you tapped by mistake you take back here; "
        "nothing is lost.",
        "story",
    ),
    _step(
        "When you have seen enough, this is the repair: what to renew together, the job sheet to "
        "print, and after it how to be sure that it is dry. Now begin a job of your own.",
        "repair",
    ),
)
