"""What speaks against the leader: what if a reading were wrong, and what would put another on top.

A reading that is wrong is one that should have said the opposite.  A zone read dry, a seal point
read tight and a sign either way are "not so": P(rest, not so) = P(rest) - P(rest, so), exact.  A
zone or seal point read wet in some way is taken as read dry, or tight, by the same look.  What
was said of joints and causes (contexts) is left out at most, never turned round.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.belief.evidence import Evidence, ImpossibleEvidence
from leakdx.belief.tree import JunctionTree
from leakdx.case.evidence import Asked, label_of, reading_evidence
from leakdx.case.model import SealReading, SealState, Sign, ZoneState
from leakdx.case.timeline import Taken
from leakdx.network.tables import Array
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors
from leakdx.reasons.weights import (
    Claim,
    Weights,
    chance_of,
    chances_in,
    holding,
    job_claims,
    listed,
    side_by_side,
    spoken,
    told,
)

# What a reading being wrong is taken as: "not so" (None), or another reading in its place.
Wrongs = Mapping[str, Evidence | None]

# A difference of probabilities this far below its parts means that the rest proves the reading;
# the chances of what is left would be no better than rounding.
NOTHING = 1e-7
# Another is on top where its chance is higher by more than rounding.
CLEARLY = 1e-9
# Columns asked at once; a step of progress each.
PIECE = 64


@dataclass(frozen=True, eq=False)
class Doubt:
    """The chances if one reading were wrong.

    reading: its label.  chances: (S,), in the order of the weights' claims.  leader: the claim
    that would be on top.  log_chance: natural log of P(the other readings, this one wrong).
    """

    reading: str
    chances: Array
    leader: str
    log_chance: float


@dataclass(frozen=True, eq=False)
class Against:
    """What would become of the leader if single readings were wrong.

    leader, chance: the likeliest claim as things stand.  doubts: one for each reading that can
    be wrong, in the order taken.  firm: labels of those that cannot: contexts, and readings
    that the others prove.  most: the doubt that changes the leader's chance most.
    """

    leader: str
    chance: float
    doubts: tuple[Doubt, ...]
    firm: tuple[str, ...]
    most: Doubt | None


@dataclass(frozen=True, eq=False)
class Change:
    """Fewest readings to change to put another on top.

    left_out: labels taken away.  wrong: labels taken as wrong.  leader: the claim then on top.
    chances: (S,) of all claims then.
    """

    left_out: tuple[str, ...]
    wrong: tuple[str, ...]
    leader: str
    chances: Array


def against(solved: Solved, weights: Weights, priors: Priors | None = None) -> Against:
    """The leader of a job with each of its readings wrong in turn, all in one batch.

    priors: those the job was solved with; the shipped ones if absent.
    """
    return _doubted(_Asking.of(solved, weights, priors), weights)


def smallest_change(
    solved: Solved,
    weights: Weights,
    step: Callable[[], object] = lambda: None,
    priors: Priors | None = None,
) -> Change | None:
    """The smallest change of a job's readings that puts another on top; None from three on.

    Single readings are searched completely, then pairs.  Of one size leaving out comes before
    being wrong, which is more; of equal changes the one that puts another furthest ahead is
    told.  step: called before each piece of the work, of 64 columns at most.
    """
    return _smallest(_Asking.of(solved, weights, priors), weights, step)


def doubts_of(
    tree: JunctionTree,
    readings: Mapping[str, Evidence],
    wrongs: Wrongs,
    claims: Mapping[str, Claim],
    weights: Weights,
) -> Against:
    """The same on any network; a reading that is no key of ``wrongs`` cannot be wrong."""
    return _doubted(_Asking.on(tree, readings, wrongs, claims, weights), weights)


def change_of(
    tree: JunctionTree,
    readings: Mapping[str, Evidence],
    wrongs: Wrongs,
    claims: Mapping[str, Claim],
    weights: Weights,
) -> Change | None:
    """The smallest change on any network, as smallest_change finds it for a job."""
    return _smallest(_Asking.on(tree, readings, wrongs, claims, weights), weights, lambda: None)


def job_wrongs(solved: Solved, priors: Priors | None = None) -> dict[str, Evidence | None]:
    """What each reading of a job would be if it were wrong; contexts are no keys of it."""
    return wrongs_of(solved.asked, priors or shipped_priors())


def wrongs_of(asked: Asked, priors: Priors) -> dict[str, Evidence | None]:
    """What each reading would be if it were wrong: another in its place, or None for 'not so'."""
    taken = {label_of(t): t for t in asked.story.taken}
    found: dict[str, Evidence | None] = {}
    for label in asked.readings:
        if label in taken:
            other = _opposite(taken[label])
            found[label] = (
                reading_evidence(other, asked.story, asked.network, priors) if other else None
            )
    return found


def _opposite(taken: Taken) -> Taken | None:
    """A wet reading as read dry by the same look; None for what is simply 'not so'."""
    reading = taken.reading
    if isinstance(reading, Sign) or reading.state in (ZoneState.DRY, SealState.TIGHT):
        return None
    if isinstance(reading, SealReading):
        return replace(taken, reading=reading.model_copy(update={"state": SealState.TIGHT}))
    dry = {"state": ZoneState.DRY, "age": None, "drops_per_minute": None}
    return replace(taken, reading=reading.model_copy(update=dry))


@dataclass(frozen=True, eq=False)
class _Asking:
    """Sets of readings and what the claims' chances are with each; grows as it is asked.

    parts: the R readings, then what stands in place of each (an empty one where nothing does).
    modes: for each reading "not so", "swap" or "firm".  known: set of parts, as bits, -> natural
    log of its probability and the claims' chances (S,).
    """

    tree: JunctionTree
    parts: tuple[Evidence, ...]
    modes: tuple[str, ...]
    claims: Mapping[str, Claim]
    known: dict[int, tuple[float, Array]] = field(default_factory=dict)

    @staticmethod
    def of(solved: Solved, weights: Weights, priors: Priors | None) -> _Asking:
        claims = job_claims(solved)
        wrongs = job_wrongs(solved, priors)
        return _Asking.on(solved.tree, solved.asked.readings, wrongs, claims, weights)

    @staticmethod
    def on(
        tree: JunctionTree,
        readings: Mapping[str, Evidence],
        wrongs: Wrongs,
        claims: Mapping[str, Claim],
        weights: Weights,
    ) -> _Asking:
        if tuple(readings) != weights.readings or tuple(claims) != weights.claims:
            raise ValueError("the weights are of other readings or claims")
        others = [wrongs.get(label) for label in readings]
        modes = tuple(
            "firm" if label not in wrongs else "swap" if other is not None else "not so"
            for label, other in zip(readings, others, strict=True)
        )
        parts = (*readings.values(), *(other or Evidence({}) for other in others))
        asking = _Asking(tree, parts, modes, claims)
        # What the weights know already.
        asking.known[asking.every] = (weights.log_all, chance_of(weights.after))
        for k, log in enumerate(weights.log_rest):
            rest = chance_of(weights.after - weights.left_out[k])
            asking.known[asking.every & ~(1 << k)] = (float(log), rest)
        return asking

    @property
    def every(self) -> int:
        """The set of all readings as they are."""
        return (1 << len(self.modes)) - 1

    def terms(self, left_out: Sequence[int], wrong: Sequence[int]) -> list[tuple[int, int]]:
        """Sets whose probabilities, with these signs, add up to that of the changed readings."""
        kept = self.every
        for k in left_out:
            kept &= ~(1 << k)
        found = [(1, kept)]
        for k in wrong:
            without = [(sign, m & ~(1 << k)) for sign, m in found]
            if self.modes[k] == "swap":
                other = 1 << (len(self.modes) + k)
                found = [(sign, m | other) for sign, m in without]
            else:
                found = without + [(-sign, m) for sign, m in found]
        return found

    def learn(self, sets: Sequence[int], step: Callable[[], object]) -> None:
        """Ask for those sets that are not known yet."""
        new = [m for m in dict.fromkeys(sets) if m not in self.known]
        for start in range(0, len(new), PIECE):
            step()
            piece = new[start : start + PIECE]
            while piece:
                piece = self._ask(piece)

    def _ask(self, sets: list[int]) -> list[int]:
        """Ask for these sets; what is left to ask again because some of them cannot be."""
        evidence = side_by_side(self.parts, holding(sets, len(self.parts)))
        try:
            beliefs = told(self.tree, evidence, self.claims)
        except ImpossibleEvidence as error:
            for column in error.columns:
                self.known[sets[column]] = (-np.inf, np.zeros(len(self.claims)))
            return [m for m in sets if m not in self.known]
        logs = np.asarray(beliefs.log_evidence)
        for m, log, row in zip(sets, logs, chances_in(beliefs, self.claims), strict=True):
            self.known[m] = (float(log), row)
        return []

    def changed(self, terms: Sequence[tuple[int, int]]) -> tuple[float, Array] | None:
        """Log probability of changed readings and the claims' chances; None if impossible."""
        top = max(self.known[m][0] for _, m in terms)
        if top == -np.inf:
            return None
        total, joint = 0.0, np.zeros(len(self.claims))
        for sign, m in terms:
            log, chances = self.known[m]
            part = sign * float(np.exp(log - top))
            total += part
            joint += part * chances
        if total < NOTHING:
            return None
        return top + float(np.log(total)), np.clip(joint / total, 0.0, 1.0)


def leader_of(claims: Sequence[str], chances: Array) -> int:
    """Place of the likeliest claim; of equals the first by id, as in the ranking."""
    return min(range(len(claims)), key=lambda s: (-chances[s], claims[s]))


def _doubted(asking: _Asking, weights: Weights) -> Against:
    now = chance_of(weights.after)
    leader = leader_of(weights.claims, now)
    terms = {k: asking.terms([], [k]) for k, mode in enumerate(asking.modes) if mode != "firm"}
    asking.learn([m for each in terms.values() for _, m in each], lambda: None)
    doubts = []
    for k, each in terms.items():
        found = asking.changed(each)
        if found is not None:
            top = weights.claims[leader_of(weights.claims, found[1])]
            doubts.append(Doubt(weights.readings[k], found[1], top, found[0]))
    told_of = {d.reading for d in doubts}
    return Against(
        leader=weights.claims[leader],
        chance=float(now[leader]),
        doubts=tuple(doubts),
        firm=tuple(r for r in weights.readings if r not in told_of),
        most=max(doubts, key=lambda d: abs(d.chances[leader] - now[leader]), default=None),
    )


def _smallest(asking: _Asking, weights: Weights, step: Callable[[], object]) -> Change | None:
    leader = leader_of(weights.claims, chance_of(weights.after))
    for stage in _stages(asking.modes):
        terms = [asking.terms(left_out, wrong) for left_out, wrong in stage]
        asking.learn([m for each in terms for _, m in each], step)
        best, found = CLEARLY, None
        for (left_out, wrong), each in zip(stage, terms, strict=True):
            changed = asking.changed(each)
            if changed is None:
                continue
            chances = changed[1]
            top = leader_of(weights.claims, chances)
            ahead = float(chances[top] - chances[leader])
            if ahead > best:
                labels = [tuple(weights.readings[k] for k in ks) for ks in (left_out, wrong)]
                best, found = ahead, Change(labels[0], labels[1], weights.claims[top], chances)
        if found is not None:
            return found
    return None


def _stages(modes: Sequence[str]) -> Iterator[list[tuple[tuple[int, ...], tuple[int, ...]]]]:
    """Changes (left out, wrong) from the mildest on: one reading, then two."""
    every = range(len(modes))
    free = [k for k in every if modes[k] != "firm"]
    yield [((k,), ()) for k in every]
    yield [((), (k,)) for k in free]
    yield [(pair, ()) for pair in combinations(every, 2)]
    yield [((i,), (k,)) for k in free for i in every if i != k]
    yield [((), pair) for pair in combinations(free, 2)]


def doubt_sentence(found: Against, weights: Weights, names: Mapping[str, str]) -> str:
    """What one wrong reading would change most; names: of claims and, by label, of readings."""
    if found.most is None:
        return "No reading can be wrong by itself."
    doubt = found.most
    there = float(doubt.chances[weights.claims.index(found.leader)])
    way = "fall" if there < found.chance else "rise"
    start = (
        f"If {_called(doubt.reading, names)} were a mistake, {spoken_of(found.leader, names)} "
        f"would {way} from {percent(found.chance)} to {percent(there)}"
    )
    if doubt.leader == found.leader:
        return f"{start} and stay on top; no other mistake would change it more."
    other = float(doubt.chances[weights.claims.index(doubt.leader)])
    return f"{start} and {spoken_of(doubt.leader, names)} would be on top with {percent(other)}."


def change_sentence(found: Change | None, weights: Weights, names: Mapping[str, str]) -> str:
    """What it takes to put another on top; names: of claims and, by label, of readings."""
    leader = weights.claims[leader_of(weights.claims, chance_of(weights.after))]
    if found is None:
        if len(weights.readings) < 3:
            return f"However they are turned, the readings leave {spoken_of(leader, names)} on top."
        return (
            "At least three readings would have to be wrong before another than "
            f"{spoken_of(leader, names)} comes out on top."
        )
    parts = []
    if found.left_out:
        parts.append(f"without {listed([_called(r, names) for r in found.left_out])}")
    if found.wrong:
        mistakes = "were a mistake" if len(found.wrong) == 1 else "were mistakes"
        parts.append(f"if {listed([_called(r, names) for r in found.wrong])} {mistakes}")
    start = " and ".join(parts)
    now, then = (
        percent(float(found.chances[weights.claims.index(c)])) for c in (leader, found.leader)
    )
    return (
        f"{start[:1].upper()}{start[1:]}, {spoken_of(found.leader, names)} would be on top with "
        f"{then}, before {spoken_of(leader, names)} with {now}."
    )


def spoken_of(claim: str, names: Mapping[str, str]) -> str:
    """What a claim is called in a sentence."""
    return spoken(names.get(claim) or claim.replace("_", " "))


def _called(label: str, names: Mapping[str, str]) -> str:
    return names.get(label) or label
