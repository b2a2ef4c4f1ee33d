"""One look as it is proposed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Outcome:
    """What a look could show: its chance, and the likeliest seal points then, with chances."""

    label: str
    chance: float
    first: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Proposal:
    """One look.  spoils: looks that could not be taken as they are after it.

    gain: minutes it saves on average, its own taken off, and what it spoils, makes dearer and
    risks charged.  ready: how many of its minutes bring the machine into the state it asks for;
    it stands for ``waits`` minutes meanwhile, if need be.  delays: looks worth taking that take
    over five minutes more after it.  risk: expected minutes that joints cost which it may make
    leak; risks: in words.
    whole: whether all it reads was counted; if not, bits and gain are lower bounds.
    """

    inspection: str
    name: str
    minutes: float
    steps: tuple[str, ...]
    bits: float
    bits_per_minute: float
    fall: float
    gain: float
    whole: bool
    spoils: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    state: tuple[str, ...]
    cautions: tuple[str, ...]
    ready: float
    waits: float
    delays: tuple[str, ...]
    risk: float
    risks: tuple[str, ...]


def proposal_dict(p: Proposal) -> dict[str, Any]:
    """Plain data in the shape of a look in ``leakdx schema next``."""
    found = {f: getattr(p, f) for f in Proposal.__dataclass_fields__}
    lists = ("steps", "spoils", "state", "cautions", "delays", "risks")
    found |= {key: list(found[key]) for key in lists}
    found["outcomes"] = [
        {
            "label": o.label,
            "chance": o.chance,
            "first": [{"seal_point": s, "leaks": c} for s, c in o.first],
        }
        for o in p.outcomes
    ]
    return found
