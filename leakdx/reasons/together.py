"""Leaks that share a cause: which causes are believed, and which leaks each would explain."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from leakdx.advice.ranking import LeakSet, now_names
from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.belief.evidence import Evidence, combine
from leakdx.machine.model import CauseKind, Machine
from leakdx.network.causes import TIRED, causes_of, strained_fluids, strained_name
from leakdx.network.odds import decibans
from leakdx.network.setting import cause_name, seal_name
from leakdx.network.tables import Array, Network
from leakdx.reasons.conflict import plain
from leakdx.reasons.rivals import LEAKS, TIGHT, chances

# A leak is worth explaining where it is this likely, a cause worth a sentence where it is.
LIKELY_LEAK, WORTH = 0.2, 0.1
# It explains them where it makes them this many times as likely as without it.
EXPLAINS = 1.5
# A cause goes with a set of leaks where it is likelier than not.
LIKELY = 0.5
NO, YES = np.array([1.0, 0.0]), np.array([0.0, 1.0])

NOUNS = {
    CauseKind.VENTILATION_BLOCKED: "blocked ventilation",
    CauseKind.OVERFILLED: "an overfull case",
    CauseKind.WORN_RINGS: "gas past worn rings",
    CauseKind.HARDENED_SEALS: "hardened seals",
    CauseKind.WRONG_SEALANT: "wrong sealant",
    CauseKind.SHAFT_WORN: "a worn shaft",
    CauseKind.OVERHEATED: "overheating",
    CauseKind.FASTENERS_LOOSE: "loose fasteners",
    CauseKind.FASTENER_TOO_LONG: "a fastener that is too long",
    CauseKind.OVERTIGHTENED: "overtightening",
    CauseKind.GASKET_ROLLED: "a rolled gasket",
    CauseKind.DRAIN_BACK_BLOCKED: "a blocked drain-back",
    CauseKind.CORRODED: "corrosion",
}
AGED = "seals that have aged together"


@dataclass(frozen=True)
class SharedCause:
    """A cause, how far it is believed, and the likely leaks that it would explain.

    cause: id in the machine file or of a usual cause, or "tired".  before, after: its chance
    without and with the readings; decibans: what they added to its log odds.  explains: likely
    leaks that it raises.  all_if, all_if_not: chance, given the readings, that all of those
    leak with and without the cause; None where that cannot be.
    """

    cause: str
    words: str
    before: float
    after: float
    decibans: float
    explains: tuple[str, ...]
    all_if: float | None
    all_if_not: float | None


@dataclass(frozen=True)
class SetCauses:
    """The causes likelier than not if exactly these seal points leak, the likeliest first."""

    seal_points: tuple[str, ...]
    probability: float
    causes: Mapping[str, float]


@dataclass(frozen=True)
class Together:
    """Leaks and what they share.  causes: the most believed first; sets: as they were given."""

    causes: tuple[SharedCause, ...]
    sets: tuple[SetCauses, ...]
    sentences: tuple[str, ...]


def together_of(solved: Solved, sets: Sequence[LeakSet] = ()) -> Together:
    """The shared causes of a solved job, and those of its most probable sets of leaks.

    sets: from ``leakdx.advice.ranking.leak_sets``.  One batch of two columns for each cause that
    explains anything, and one of a column for each set.
    """
    words = cause_words(solved.asked.network.setting.machine)
    causes = _causes(solved, words)
    behind = _sets(solved, words, sets)
    machine = solved.asked.network.setting.machine
    names = {s.id: s.name or plain(s.id) for s in machine.seal_points}
    said = (*_cause_sentences(causes, names), *_set_sentences(behind, names, words))
    return Together(causes, behind, said)


def cause_words(machine: Machine) -> dict[str, str]:
    """Each cause's id -> what it is called; of two that sound alike, with the id."""
    of = {c.id: f" ({plain(c.fluid)})" if c.fluid else "" for c in causes_of(machine)}
    said = {c.id: NOUNS[c.kind] + of[c.id] for c in causes_of(machine)}
    alike = Counter(said.values())
    told = {c: f"{w} ({plain(c)})" if alike[w] > 1 else w for c, w in said.items()}
    return {**told, TIRED: AGED}


def _variable(cause: str) -> str:
    return TIRED if cause == TIRED else cause_name(cause)


def _causes(solved: Solved, words: Mapping[str, str]) -> tuple[SharedCause, ...]:
    now = now_names(solved)
    likely = {s: n for s, n in now.items() if float(solved.beliefs[n][1:].sum()) > LIKELY_LEAK}
    raised = {c: _raised(_variable(c), likely, solved) for c in words}
    asking = tuple(c for c, seals in raised.items() if seals)
    questions = [
        dict.fromkeys((now[s] for s in raised[c]), LEAKS) | {_variable(c): state}
        for c in asking
        for state in (NO, YES)
    ]
    joint = dict(zip(asking, chances(solved, questions).reshape(-1, 2), strict=True))
    before = solved.tree.update({}, only=tuple(_variable(c) for c in words))
    found = []
    for cause, called in words.items():
        prior = float(before[_variable(cause)][1])
        post = solved.beliefs[_variable(cause)]
        without, given = (
            float(min(p / q, 1.0)) if q > 0 and cause in joint else None
            for p, q in zip(joint.get(cause, NO), post, strict=True)
        )
        weight = decibans(float(post[1])) - decibans(prior)
        found.append(
            SharedCause(cause, called, prior, float(post[1]), weight, raised[cause], given, without)
        )
    return tuple(sorted(found, key=lambda c: -c.after))


def _raised(cause: str, seals: Mapping[str, str], solved: Solved) -> tuple[str, ...]:
    """Those of some seal points (id -> variable) that a cause's variable raises.

    Straight, or through the strained case or the tired machine.  A joint at which the cause was
    seen at work is not among them: its odds hold that already.
    """
    parents = parents_of(solved.asked.network.network)
    between = (TIRED, *map(strained_name, strained_fluids(solved.asked.network.setting.machine)))
    felt = {cause, *(v for v in between if cause in parents.get(v, ()))}
    return tuple(s for s, name in seals.items() if felt & _acting(name, parents))


def _acting(name: str, parents: Mapping[str, tuple[str, ...]]) -> set[str]:
    """What acts on a seal point, and on what it was where that lasts."""
    found = {*parents[name]}
    for former in [p for p in found if p.startswith(seal_name(""))]:
        found |= _acting(former, parents)
    return found


def parents_of(network: Network) -> dict[str, tuple[str, ...]]:
    """Each variable's parents."""
    return {t.child: t.parents for t in network.tables} | {
        m.child: m.parents for m in network.maxima
    }


def _sets(
    solved: Solved, words: Mapping[str, str], sets: Sequence[LeakSet]
) -> tuple[SetCauses, ...]:
    if not sets:
        return ()
    columns: dict[str, Array] = {
        name: np.stack([LEAKS if seal in one.seal_points else TIGHT for one in sets], axis=1)
        for seal, name in now_names(solved).items()
    }
    names = {cause: _variable(cause) for cause in words}
    asked = combine([solved.evidence, Evidence(columns)])
    beliefs = solved.tree.update(asked, only=tuple(names.values()))
    found = []
    for place, one in enumerate(sets):
        after = {c: float(beliefs[n][1, place]) for c, n in names.items()}
        likely = sorted((c for c, p in after.items() if p > LIKELY), key=lambda c: -after[c])
        found.append(SetCauses(one.seal_points, one.probability, {c: after[c] for c in likely}))
    return tuple(found)


def _cause_sentences(causes: Sequence[SharedCause], names: Mapping[str, str]) -> Iterator[str]:
    for cause in causes:
        given, without = cause.all_if, cause.all_if_not
        if cause.after < WORTH or given is None or without is None or given < EXPLAINS * without:
            continue
        chance = f"{percent(cause.after)}, before the readings {percent(cause.before)}"
        leaks = " + ".join(names[s] for s in cause.explains)
        several = len(cause.explains) > 1
        what = f"{len(cause.explains)} leaks at once: {leaks}" if several else f"a leak: {leaks}"
        they = "All of them leak" if several else "It leaks"
        yield (
            f"{_capital(cause.words)} ({chance}) would explain {what}. {they} with "
            f"{percent(given)} if it is so, with {percent(without)} if it is not."
        )


def _set_sentences(
    sets: Sequence[SetCauses], names: Mapping[str, str], words: Mapping[str, str]
) -> Iterator[str]:
    for one in sets:
        if one.seal_points and one.causes:
            leaking = " + ".join(names[s] for s in one.seal_points)
            causes = ", ".join(f"{words[c]} {percent(p)}" for c, p in one.causes.items())
            chance = percent(one.probability)
            yield f"If just {leaking} leak{_s(one)} ({chance}), most likely behind it: {causes}."


def _s(one: SetCauses) -> str:
    return "s" if len(one.seal_points) == 1 else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
