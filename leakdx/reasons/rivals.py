"""What else would explain a job: a misreading, old residue, a second leak, a point not listed.

Each rival with its probability given all readings.  A reading is in doubt as far as what it was
said of is in truth otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from leakdx.advice.ranking import not_these, now_names
from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.belief.evidence import Evidence, combine
from leakdx.case.evidence import label_of, reading_evidence
from leakdx.case.model import SealReading, SealState, Sign, ZoneReading, ZoneState
from leakdx.case.timeline import Taken
from leakdx.machine.model import Method
from leakdx.network.setting import seal_name
from leakdx.network.signs import SEAL_LOOKS
from leakdx.network.tables import Array
from leakdx.priors.model import Priors
from leakdx.reasons.conflict import plain, words_of_readings

# A reading is worth a sentence where it is this likely to be otherwise.
WORTH = 0.05
TIGHT, LEAKS = np.array([1.0, 0, 0, 0]), np.array([0.0, 1, 1, 1])
GRIME = ("grime", "grime_run", "grime_after_repair")

# The ways.
OLD, MISREAD, ELSEWHERE = "old residue", "misread", "fluid from elsewhere"
MISSED, WRONG, MISLEADING = "missed or too little to see", "wrongly said", "misleading"


@dataclass(frozen=True)
class Doubt:
    """How likely a reading's matter is otherwise than it reads, given all readings.

    instead: what would be so ("nothing ran there").  ways: how that came about -> probability;
    they exclude each other and add up to ``otherwise``.
    """

    reading: str
    said: str
    instead: str
    otherwise: float
    ways: Mapping[str, float]


@dataclass(frozen=True)
class Rivals:
    """Rival explanations, each with its probability given all readings.

    doubts: the readings, the most doubtful first.  second_leak, one_leak, none_leaks: two or
    more listed seal points leak now, exactly one, none; they add up to one.  not_listed: an
    origin that the machine file does not list.  nothing_leaks: neither listed nor unlisted.
    """

    doubts: tuple[Doubt, ...]
    second_leak: float
    one_leak: float
    none_leaks: float
    not_listed: float
    nothing_leaks: float

    @property
    def sentences(self) -> tuple[str, ...]:
        """The rivals in a technician's words."""
        return tuple(_sentences(self))


@dataclass(frozen=True, eq=False)
class _Way:
    """One way for a reading to mislead: variables in these states, and the share due to it."""

    called: str
    states: Mapping[str, Array]
    share: float = 1.0


@dataclass(frozen=True, eq=False)
class _Rival:
    """What would be so instead of what was read, and its ways, which exclude each other."""

    instead: str
    ways: tuple[_Way, ...]


def chances(solved: Solved, questions: Sequence[Mapping[str, Array]]) -> Array:
    """P(question | all readings), shape (questions,), in one batch of as many columns.

    A question is a likelihood of ones and zeros for some variables, each of shape (size,).
    """
    if not questions:
        return np.zeros(0)
    sizes = {n: len(a) for q in questions for n, a in q.items()}
    columns = {
        name: np.stack([q.get(name, np.ones(size)) for q in questions], axis=1)
        for name, size in sizes.items()
    }
    # A question of no variable still is a column.
    asked = combine([solved.evidence, Evidence(columns, np.zeros(len(questions)))])
    logs = np.asarray(solved.tree.log_evidence(asked))
    result: Array = np.clip(np.exp(logs - solved.beliefs.log_evidence), 0.0, 1.0)
    return result


def rivals_of(solved: Solved, priors: Priors) -> Rivals:
    """The rivals of a solved job: one batch of some two columns a reading and one a seal point.

    Raises UnknownNumber if a prior number is missing.
    """
    rivals = _rivals(solved, priors)
    flat = [(label, way) for label, rival in rivals.items() for way in rival.ways]
    names = tuple(now_names(solved).values())
    ones = [dict.fromkeys(names, TIGHT) | {name: LEAKS} for name in names]
    found = chances(solved, [*(way.states for _, way in flat), *ones])
    said = words_of_readings(solved)
    shares: dict[str, dict[str, float]] = {label: {} for label in rivals}
    for (label, way), chance in zip(flat, found, strict=False):
        had = shares[label].get(way.called, 0.0)
        shares[label][way.called] = had + way.share * float(chance)
    doubts = [Doubt(r, said[r], rivals[r].instead, sum(s.values()), s) for r, s in shares.items()]
    none, not_listed, nothing = not_these(solved, priors)
    one = float(found[len(flat) :].sum())
    return Rivals(
        doubts=tuple(sorted(doubts, key=lambda d: -d.otherwise)),
        second_leak=max(1.0 - none - one, 0.0),
        one_leak=one,
        none_leaks=none,
        not_listed=not_listed,
        nothing_leaks=nothing,
    )


def _rivals(solved: Solved, priors: Priors) -> dict[str, _Rival]:
    """For each reading that bears on anything, what may be so instead."""
    taken = {label_of(t): t for t in solved.asked.story.taken}
    found: dict[str, _Rival] = {}
    for label, evidence in solved.asked.readings.items():
        if not evidence:
            continue
        reading = taken[label].reading if label in taken else None
        if isinstance(reading, ZoneReading):
            found[label] = _of_zone(taken[label], reading, solved, priors)
        elif isinstance(reading, SealReading):
            found[label] = _of_seal(taken[label].epoch, reading, evidence, solved)
        else:
            found[label] = _of_yes_or_no(evidence, isinstance(reading, Sign))
    return found


def _of_zone(taken: Taken, reading: ZoneReading, solved: Solved, priors: Priors) -> _Rival:
    evidence = solved.asked.readings[label_of(taken)]
    if reading.state is ZoneState.DRY:
        # One fluid is there; it is not, but the second is; and so on: these exclude each other.
        dry = {n: np.eye(len(a))[0] for n, a in evidence.items()}
        names = tuple(evidence)
        ways = (
            _Way(MISSED, {n: dry[n] for n in names[:place]} | {name: 1 - dry[name]})
            for place, name in enumerate(names)
        )
        return _Rival(f"{plain(reading.fluid or 'something')} ran there all the same", tuple(ways))
    ((name, levels),) = evidence.items()
    misread = _misread_share(taken, float(levels[0]), solved, priors)
    none = {name: np.eye(len(levels))[0]}
    instead = f"no {plain(reading.fluid)} ran there" if reading.fluid else "nothing ran there"
    return _Rival(instead, (_Way(OLD, none, 1 - misread), _Way(MISREAD, none, misread)))


def _of_seal(epoch: int, reading: SealReading, evidence: Evidence, solved: Solved) -> _Rival:
    active = solved.asked.network.setting.epochs[epoch].active
    seal = seal_name(reading.seal_point, active.get(reading.seal_point, (0,))[-1])
    if reading.state is SealState.TIGHT:
        return _Rival("it leaked all the same", (_Way(MISSED, {seal: LEAKS}),))
    (look,) = evidence
    clean = np.eye(len(SEAL_LOOKS))[0]
    ways = (
        _Way(ELSEWHERE, {seal: TIGHT, look: 1 - clean}),
        _Way(MISREAD, {seal: TIGHT, look: clean}),
    )
    return _Rival("it was tight", ways)


def _of_yes_or_no(evidence: Evidence, sign: bool) -> _Rival:
    """A sign, or else what was said that bears on a cause, turned round."""
    ((name, likelihood),) = evidence.items()
    yes = bool(likelihood[1] > likelihood[0])
    turned = {name: np.eye(2)[0 if yes else 1]}
    if sign:
        return _Rival("it is not so" if yes else "it is so", (_Way(WRONG, turned),))
    instead = "what it points to is not at work" if yes else "what it rules out is at work"
    return _Rival(instead, (_Way(MISLEADING, turned),))


def _misread_share(taken: Taken, whole: float, solved: Solved, priors: Priors) -> float:
    """Share of misreading in a wet reading where nothing flows; the rest is old residue.

    whole: P(this reading | no flow).  The share is P(no residue) P(this reading | neither flow
    nor residue) / whole.
    """
    assert isinstance(taken.reading, ZoneReading)
    if whole <= 0:
        return 0.0
    clean = _with(priors, {f"detection.{g}": 0.0 for g in GRIME})
    # What a flawless eye would call dry where nothing flows is what shows no residue.
    flawless = _with(priors, {"detection.eyes.miss": 0.0, "detection.eyes.false_call": 0.0})
    fluid = taken.reading.fluid or solved.asked.network.flows(taken.reading.zone, taken.epoch)[0]
    plain = ZoneReading(
        zone=taken.reading.zone, state=ZoneState.DRY, fluid=fluid, method=Method.EYES
    )
    seen = Taken(taken.number, taken.epoch, plain)
    return _of_no_flow(taken, solved, clean) * _of_no_flow(seen, solved, flawless) / whole


def _of_no_flow(taken: Taken, solved: Solved, priors: Priors) -> float:
    """P(reading | no flow)."""
    asked = solved.asked
    return prod(
        float(levels[0])
        for levels in reading_evidence(taken, asked.story, asked.network, priors).values()
    )


def _with(priors: Priors, values: Mapping[str, float]) -> Priors:
    """The same numbers but for some."""
    changed = {k: priors.numbers[k].model_copy(update={"value": v}) for k, v in values.items()}
    return Priors({**priors.numbers, **changed})


def _sentences(rivals: Rivals) -> Iterator[str]:
    for doubt in rivals.doubts:
        if doubt.otherwise >= WORTH:
            ways = ", ".join(
                f"{w} {percent(p)}" if len(doubt.ways) > 1 else w for w, p in doubt.ways.items()
            )
            chance = percent(doubt.otherwise)
            yield f'"{doubt.said}": {chance} that {doubt.instead} ({ways}).'
    yield (
        f"A second leak: {percent(rivals.second_leak)} that two or more listed seal points leak "
        f"now (exactly one {percent(rivals.one_leak)}, none {percent(rivals.none_leaks)})."
    )
    yield f"A point that is not on the list: {percent(rivals.not_listed)}."
    yield (
        f"Nothing leaks now, and what is seen is spilled or old: {percent(rivals.nothing_leaks)}."
    )
