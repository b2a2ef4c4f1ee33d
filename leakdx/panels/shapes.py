"""The shapes of what the page is told: plain data, each value replaced whole.

``head`` is the number of changes that the job had when the answer was asked for; where the job
has more by now, the answer is from before the last entry.
"""

from __future__ import annotations

from typing import Any, Literal, TypedDict


class Trouble(TypedDict):
    """What went wrong, in plain words; details: for whoever mends it, folded away."""

    said: str
    details: str


class Named(TypedDict):
    """A seal point and what it is called."""

    id: str
    name: str


class Row(TypedDict):
    """A seal point of the ranking.  low, high: of the interval; None until it is worked out."""

    seal: str
    name: str
    fluid: str
    leaks: float
    said: str
    low: float | None
    high: float | None
    zones: list[str]


class Other(TypedDict):
    """What is so besides or instead of the listed leaks; text: the chance in words."""

    said: str
    chance: float
    text: str


class LeakSetSaid(TypedDict):
    """Exactly these leak together."""

    names: list[str]
    text: str


class RankingAnswer(TypedDict):
    """The ranking.  fine: the same numbers as ``leakdx rank``, not the quick reckoning.

    sets: empty as long as they have not been listed.  fault: None unless the readings cannot be
    ranked.
    """

    head: int
    fine: bool
    rows: list[Row]
    others: list[Other]
    sets: list[LeakSetSaid]
    causes: list[str]
    notes: list[str]
    step: str
    fault: Trouble | None


class Interval(TypedDict):
    """Between what chances a seal point leaks under other plausible numbers."""

    seal: str
    name: str
    low: float
    high: float
    said: str


class FirmAnswer(TypedDict):
    """How firm the ranking is.  said: what the intervals mean, and how firm the first place is."""

    head: int
    seals: list[Interval]
    said: str


class Read(TypedDict):
    """One thing that a look reads.  id: of a zone or a seal point, or the sign."""

    kind: Literal["zone", "seal_point", "sign"]
    id: str
    name: str


class Then(TypedDict):
    """A seal point and its chance after an outcome, in words."""

    seal: str
    name: str
    text: str


class OutcomeSaid(TypedDict):
    """What a look could show.

    entries: plain entries of a job file that one tap records; None where the outcome leaves a
    reading open, or where a wash and a run must be entered first.
    """

    label: str
    said: str
    chance: float
    text: str
    then: list[Then]
    entries: list[dict[str, Any]] | None


class LookSaid(TypedDict):
    """One look.  washes: the wash and the run that it is made with are entries of their own."""

    inspection: str
    name: str
    minutes: float
    steps: list[str]
    cautions: list[str]
    state: list[str]
    ready: list[str]
    spoils: list[str]
    risks: list[str]
    bits: float
    saves: str
    reads: list[Read]
    washes: bool
    outcomes: list[OutcomeSaid]


class Said(TypedDict):
    """One sentence."""

    said: str


class PlanSaid(TypedDict):
    """What to renew if it had to be closed up now.  said: what that takes."""

    seals: list[Named]
    said: str
    dry: float
    dry_said: str


class ClosedLook(TypedDict):
    """A look that cannot or need not be taken."""

    name: str
    why: str


class NextAnswer(TypedDict):
    """The next look.  stop: why none is worth taking, None where one is.

    begin: that is because nothing seen has been entered yet.
    """

    head: int
    sentence: str
    stop: str | None
    begin: bool
    looks: list[LookSaid]
    telling: Said | None
    plan: PlanSaid
    closed: list[ClosedLook]
    left_out: list[str]
    cautions: list[str]


class Speaks(TypedDict):
    """A reading and what would be lost without it, decibans."""

    reading: str
    said: str
    decibans: float


class RivalSaid(TypedDict):
    """What else would explain it; text: its chance in words."""

    said: str
    text: str


# "for" is no name in Python, so this one is written as a call.
WhyAnswer = TypedDict(
    "WhyAnswer",
    {
        "head": int,
        "seal": str,
        "name": str,
        "sentence": str,
        "for": list[Speaks],
        "against": list[Speaks],
        "doubts": list[str],
        "conflict": list[str],
        "rivals": list[RivalSaid],
        "together": list[str],
        "routes": list[Said],
        "picture": str | None,
        "firm": list[Interval],
        "firm_said": str,
        "swings": list[Said],
    },
)


class TwoSaid(TypedDict):
    """A first look, and the best one after each outcome of it."""

    first: str
    then: list[str]
    saves: str


class AheadAnswer(TypedDict):
    """Two looks ahead, the best first."""

    head: int
    said: list[str]
    rows: list[TwoSaid]


class Section(TypedDict):
    """Lines under a heading."""

    title: str
    lines: list[str]


class CureAnswer(TypedDict):
    """Whether a repair has cured it."""

    head: int
    said: list[str]
    sections: list[Section]


class SheetAnswer(TypedDict):
    """A page to print."""

    head: int
    which: Literal["job", "customer"]
    title: str
    html: str
    filename: str


class WorkLine(TypedDict):
    """An errand under way.  stop: it may be stopped."""

    errand: str
    head: int
    status: Literal["waiting", "running"]
    said: str
    done: int
    of: int
    stop: bool


class FaultSaid(TypedDict):
    """Something that could not be done, shown beside the control that asked for it."""

    key: str
    control: str
    said: str
    details: str
