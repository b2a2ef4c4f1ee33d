"""Whether the readings of a job hold together, and which of them fits the others badly.

conf(e) = log2( P(e1) P(e2) ... P(en) / P(e) ), in bits.  Readings that one state of affairs
explains are likelier together than each on its own, so conf is negative; a positive one
hints that they disagree: one is wrong, or something rare is going on.  It is a hint, no proof;
where all goes as the network has it, conf reaches c bits in at most one job in 2^c (the
expected 2^conf is 1, so Markov's inequality).

Source: the measure of data conflict of Jensen, Chamberlain, Nordahl & Jensen, 1990; Jensen &
Nielsen, "Bayesian Networks and Decision Graphs", 2007 (both from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from math import log

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.belief.evidence import Evidence, EvidenceError, ImpossibleEvidence, combine
from leakdx.belief.tree import JunctionTree
from leakdx.case.evidence import label_of
from leakdx.case.model import Context, SealReading, Sign, ZoneReading
from leakdx.case.timeline import Reading
from leakdx.machine.model import Machine
from leakdx.network.setting import seal_name
from leakdx.reasons.weights import side_by_side

# In bits.  Less than slight (1.4 times) is not worth a word, from clear on (4 times) one reading
# is worth a sentence of its own.
SLIGHT, CLEAR = 0.5, 2.0
# Readings a little at odds that are named.
NAMED = 3
Labels = frozenset[str]


@dataclass(frozen=True)
class Conflict:
    """How far readings disagree, all in bits; above 0 hints at disagreement.

    whole: all readings.  against_rest: each reading against all the others taken together.
    pairs: each two readings on their own.  within: each group on its own; between: the groups
    against each other, so that whole = sum of within + between.
    """

    whole: float
    against_rest: Mapping[str, float]
    pairs: Mapping[tuple[str, str], float]
    within: Mapping[str, float]
    between: float

    @property
    def badly(self) -> tuple[str, ...]:
        """Readings that the others speak against, the worst first."""
        bad = [r for r, bits in self.against_rest.items() if bits > 0]
        return tuple(sorted(bad, key=lambda r: -self.against_rest[r]))

    def foe_of(self, reading: str) -> tuple[str, float] | None:
        """The one other reading that a reading disagrees with most, and by how many bits.

        None where it disagrees with no single one.
        """
        others = [
            (bits, a if b == reading else b)
            for (a, b), bits in self.pairs.items()
            if reading in (a, b) and bits > 0
        ]
        bits, other = max(others, default=(0.0, ""))
        return (other, bits) if other else None


@dataclass(frozen=True)
class JobConflict:
    """The conflict in a job's readings.

    groups: what was looked at and on which surface -> labels.  left_if: seal point -> conf, in
    bits, that would be left were it known to leak; where none is left, that leak, rare as it
    was, explains the disagreement.
    """

    conflict: Conflict
    groups: Mapping[str, tuple[str, ...]]
    left_if: Mapping[str, float]
    sentences: tuple[str, ...]


def conflict_of(
    tree: JunctionTree,
    readings: Mapping[str, Evidence],
    groups: Mapping[str, tuple[str, ...]] | None = None,
) -> Conflict:
    """The conflict in some readings, in two batches.

    groups: name -> labels, each reading in exactly one; without it each stands for itself.
    Raises ImpossibleEvidence where all readings together have probability zero, EvidenceError
    where one does not fit or has a batch axis, ValueError where groups do not part the readings.
    """
    parts = {g: frozenset(labels) for g, labels in (groups or {}).items()}
    if groups is not None:
        _check_groups(readings, groups)
    everything = frozenset(readings)
    singles = {r: frozenset((r,)) for r in readings}
    rests = {r: everything - one for r, one in singles.items()}
    pairs = {pair: frozenset(pair) for pair in combinations(readings, 2)}
    logs = dict(_log_pairs(tree, readings))
    # Each by itself, and those pairs, are known from there.
    asked = (everything, *rests.values(), *pairs.values(), *parts.values(), *singles.values())
    logs |= log_chances(tree, readings, (one for one in asked if one not in logs))
    if logs[everything] == -np.inf:
        raise ImpossibleEvidence(tuple(combine(readings.values())), ())

    def conf(apart: Iterable[Labels], together: Labels) -> float:
        return (sum(logs[a] for a in apart) - logs[together]) / log(2)

    return Conflict(
        whole=conf(singles.values(), everything),
        against_rest={r: conf((singles[r], rests[r]), everything) for r in readings},
        pairs={(a, b): conf((singles[a], singles[b]), both) for (a, b), both in pairs.items()},
        within={g: conf((singles[r] for r in part), part) for g, part in parts.items()},
        between=conf(parts.values() if parts else singles.values(), everything),
    )


def _log_pairs(tree: JunctionTree, readings: Mapping[str, Evidence]) -> dict[Labels, float]:
    """Natural log of P(this reading), and of P(both), wherever one of two is on one variable.

    P(both) is P(one) times the likelihood of the other averaged over P(its variable | one), so a
    column for each reading gives it with all of those; only two that are each on several
    variables take a column of their own.
    """
    plain = {r: next(iter(e.items())) for r, e in readings.items() if len(e) == 1}
    if not plain or any(e.batch is not None for e in readings.values()):
        return {}
    order = {r: k for k, r in enumerate(readings)}
    alone = side_by_side(list(readings.values()), np.eye(len(readings), dtype=bool))
    beliefs = tree.update(alone, only=list(dict.fromkeys(name for name, _ in plain.values())))
    logs = np.asarray(beliefs.log_evidence)
    found = {frozenset((r,)): float(logs[k]) for r, k in order.items()}
    for r, (name, likelihood) in plain.items():
        both = np.asarray(likelihood @ beliefs[name])
        with np.errstate(divide="ignore"):
            more = logs + np.log(both) + readings[r].log_scale
        found |= {frozenset((r, o)): float(more[k]) for o, k in order.items() if o != r}
    return found


def log_chances(
    tree: JunctionTree, readings: Mapping[str, Evidence], sets: Iterable[Labels]
) -> dict[Labels, float]:
    """Natural log of P(these readings and no others taken in), for each set, in one batch.

    Each likelihood counts with its log_scale, so any factor in it counts alike in every set
    that holds it.  Raises EvidenceError where a reading does not fit or has a batch axis.
    """
    batched = [r for r, e in readings.items() if e.batch is not None]
    if batched:
        raise EvidenceError(f"evidence of {', '.join(batched)} has a batch axis")
    distinct = tuple(dict.fromkeys(sets))
    if not distinct:
        return {}
    columns = []
    for label, evidence in readings.items():
        taken = np.array([label in one for one in distinct])
        likelihoods = {n: np.where(taken, a[:, None], 1.0) for n, a in evidence.items()}
        columns.append(Evidence(likelihoods, np.where(taken, evidence.log_scale, 0.0)))
    asked = combine([Evidence({}, np.zeros(len(distinct))), *columns])
    logs = np.asarray(tree.log_evidence(asked))
    return dict(zip(distinct, (float(v) for v in logs), strict=True))


def _check_groups(readings: Mapping[str, Evidence], groups: Mapping[str, tuple[str, ...]]) -> None:
    grouped = [r for labels in groups.values() for r in labels]
    if sorted(grouped) != sorted(readings):
        raise ValueError("groups must hold each reading exactly once")


def job_conflict(solved: Solved) -> JobConflict:
    """The conflict in a job's readings, grouped by what was looked at and on which surface."""
    groups = groups_of(solved)
    conflict = conflict_of(solved.tree, solved.asked.readings, groups)
    left_if = _left_if(conflict.whole, solved)
    machine = solved.asked.network.setting.machine
    names = {s.id: s.name or plain(s.id) for s in machine.seal_points}
    words = words_of_readings(solved)
    said: tuple[str, ...] = ()
    if len(words) > 1:
        said = (*_whole(conflict.whole, left_if, names), *_single(conflict, words))
    return JobConflict(conflict, groups, left_if, said)


def _left_if(whole: float, solved: Solved) -> dict[str, float]:
    """conf(e, h) = conf(e) + log2( P(h) / P(h | e) ) for each h, a seal point leaks now."""
    machine, generations = solved.asked.network.setting.machine, solved.asked.story.generations
    names = {s.id: seal_name(s.id, generations.get(s.id, 1) - 1) for s in machine.seal_points}
    before = solved.tree.update({}, only=tuple(names.values()))
    left = {}
    for seal, name in names.items():
        leaks = [float(b[name][1:].sum()) for b in (before, solved.beliefs)]
        if min(leaks) > 0:
            left[seal] = whole + log(leaks[0] / leaks[1]) / log(2)
    return left


def groups_of(solved: Solved) -> dict[str, tuple[str, ...]]:
    """What was looked at, and on which surface -> labels of those readings."""
    story = solved.asked.story
    what = {ZoneReading: "seen at zones", SealReading: "seen at seal points", Sign: "signs"}
    kinds = {}
    for taken in story.taken:
        surface = f", {_surface(taken.epoch)}" if len(story.epochs) > 1 else ""
        kinds[label_of(taken)] = what[type(taken.reading)] + surface
    groups: dict[str, tuple[str, ...]] = {}
    for label in solved.asked.readings:
        kind = kinds.get(label, "said of causes")
        groups[kind] = (*groups.get(kind, ()), label)
    return groups


def _surface(epoch: int) -> str:
    return f"after wash or repair {epoch}" if epoch else "as it came"


def words_of_readings(solved: Solved) -> dict[str, str]:
    """Label of each reading -> the reading in a technician's words."""
    machine = solved.asked.network.setting.machine
    story = solved.asked.story
    said = {label_of(t): _reading_words(t.reading, machine) for t in story.taken}
    for number, context in enumerate(story.contexts):
        said[f"context {number + 1}: {context.context.value}"] = _context_words(context, machine)
    return {label: said[label] for label in solved.asked.readings}


def _reading_words(reading: Reading, machine: Machine) -> str:
    fluid = _fluid_words(reading.fluid) if not isinstance(reading, SealReading) else ""
    if isinstance(reading, ZoneReading):
        names = {z.id: z.name for z in machine.zones}
        age = f", {reading.age.value}" if reading.age else ""
        return f"{names[reading.zone] or plain(reading.zone)}: {reading.state.value}{age}{fluid}"
    if isinstance(reading, SealReading):
        names = {s.id: s.name for s in machine.seal_points}
        called = names[reading.seal_point] or plain(reading.seal_point)
        return f"{called}: {plain(reading.state.value)}"
    return f"{plain(reading.sign.value)}{fluid}: {reading.value.value}"


def _context_words(context: Context, machine: Machine) -> str:
    names = {s.id: s.name for s in machine.seal_points}
    at = names.get(context.seal_point or "") or plain(context.seal_point or "")
    said = f"{plain(context.context.value)}{_fluid_words(context.fluid)}"
    return f"{said} at {at}" if at else said


def _fluid_words(fluid: str | None) -> str:
    return "" if fluid is None else f" ({plain(fluid)})"


def plain(identifier: str) -> str:
    """An id as words."""
    return identifier.replace("_", " ")


def times(bits: float) -> str:
    """A number of bits as a factor: '3.2', '385', 'more than 10,000'."""
    factor = 2 ** min(abs(bits), 20.0)
    if factor > 10_000:
        return "more than 10,000"
    return f"{factor:.1f}" if factor < 9.95 else f"{factor:,.0f}"


def _whole(bits: float, left_if: Mapping[str, float], names: Mapping[str, str]) -> Iterator[str]:
    if bits <= SLIGHT:
        yield (
            f"Taken together the readings support one another: they are {times(bits)} times as "
            "likely together as if they had nothing to do with each other."
            if bits < -SLIGHT
            else "Taken together the readings neither support nor contradict one another much."
        )
        return
    seldom = (
        f" Where all is as reckoned here, that happens in at most one job in {times(bits)}."
        if bits > CLEAR
        else ""
    )
    yield (
        f"Taken together the readings disagree: they are {times(bits)} times less likely together "
        f"than if they had nothing to do with each other.{seldom} One may be wrong, or something "
        "rare is going on."
    )
    if not left_if:
        return
    seal = min(left_if, key=lambda s: left_if[s])
    if left_if[seal] <= 0:
        yield f"The rare thing may be this: if {names[seal]} leaks, nothing is left of it."
    elif left_if[seal] < bits - SLIGHT:
        yield (
            f"No single leak explains all of it; {names[seal]} explains most: if it leaks, they "
            f"are {times(left_if[seal])} times less likely together, not {times(bits)}."
        )


def _single(conflict: Conflict, words: Mapping[str, str]) -> Iterator[str]:
    against = conflict.against_rest
    clear = [r for r in conflict.badly if against[r] > CLEAR]
    slight = [words[r] for r in conflict.badly if SLIGHT < against[r] <= CLEAR]
    for label in clear:
        said = (
            f'"{words[label]}" fits the rest badly: all the other readings together make it '
            f"{times(against[label])} times less likely than it was without them"
        )
        foe = conflict.foe_of(label)
        if foe and foe[1] > SLIGHT:
            said += f'; it is most at odds with "{words[foe[0]]}"'
        yield f"{said}. Worth a second look."
    if slight:
        more = f" and {len(slight) - NAMED} more" if len(slight) > NAMED else ""
        named = "; ".join(f'"{said}"' for said in slight[:NAMED])
        yield f"A little at odds with the rest, none alone a reason to doubt: {named}{more}."
    if not clear and not slight:
        yield "No single reading fits the others badly."
