"""The weight of each reading for each claim, in decibans: three ways, kept apart by name.

The weight of evidence of a reading is what it changes 10 log10 of the odds by.  With several
readings that is told in three ways, which agree only where readings do not bear on each other
(independent given the claim and given its opposite):

* in order: as it joins those taken before it.  These add up to the whole, but the order matters;
* alone: as if it were the only reading.  What two readings both say is counted in each;
* left out: what would be lost without it.  What two readings both say is counted in neither.

Source: Good, "Probability and the Weighing of Evidence", 1950; General Report on Tunny, 1945.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.advice.solving import Solved
from leakdx.belief.evidence import LOPSIDED, Evidence, EvidenceError
from leakdx.belief.tree import Beliefs, JunctionTree
from leakdx.case.evidence import label_of
from leakdx.case.model import SealReading, SealState, Yes, ZoneReading, ZoneState
from leakdx.case.timeline import Reading
from leakdx.machine.model import Machine, SignKind
from leakdx.network.setting import seal_name
from leakdx.network.tables import Array

# Variable of a claim, and the states of it in which the claim holds.
Claim = tuple[str, tuple[int, ...]]

# Log odds stop here, dB, as in network.odds.decibans.
MOST = 120.0
LEAKING = (1, 2, 3)
# Decibans of no interest, and readings told on each side.
LEAST_TOLD = 0.5
MOST_TOLD = 3


@dataclass(frozen=True, eq=False)
class Weights:
    """What R readings say of S claims, in decibans (dB).

    readings: labels, in the order taken.  claims: ids.  before, after: (S,) with no reading,
    with all.  in_order: (R, S) change as each reading joins those before it.  alone: (R, S)
    with that reading only, less ``before``.  left_out: (R, S) ``after``, less what it would be
    without that reading.  log_alone, log_rest: (R,) natural logs of P(that reading) and of
    P(all the others); log_all: of P(all).

    Log odds stop at 120 dB either way.  A claim that gets there (sure, or ruled out) has more
    weight than is told: what is told of each reading is then a lower bound.
    """

    readings: tuple[str, ...]
    claims: tuple[str, ...]
    before: Array
    after: Array
    in_order: Array
    alone: Array
    left_out: Array
    log_alone: Array
    log_rest: Array
    log_all: float

    @property
    def adds_up(self) -> bool:
        """Whether ``in_order`` adds up to ``after - before`` within 1e-6 dB and none stopped.

        False where a claim is sure or ruled out, before or after: its log odds have no end,
        and no parts add up to that.
        """
        off = np.abs(self.in_order.sum(axis=0) - (self.after - self.before))
        ends = np.abs(np.concatenate([self.before, self.after]))
        return bool((off < 1e-6).all() and (ends < MOST).all())


def weights_of(
    tree: JunctionTree, readings: Mapping[str, Evidence], claims: Mapping[str, Claim]
) -> Weights:
    """The weights of some readings for some claims, all in one batch of about 3R columns.

    readings: label -> small Evidence without a batch axis, in the order taken; several may
    touch one variable.  claims: id -> variable and the states of it in which the claim holds.

    Raises:
        ImpossibleEvidence: where the readings cannot hold together.
        EvidenceError: for readings or claims that do not fit the network.
    """
    count = len(readings)
    every = (1 << count) - 1
    alone = [1 << k for k in range(count)]
    prefixes = [(1 << k) - 1 for k in range(count + 1)]
    rests = [every & ~one for one in alone]
    columns = {m: c for c, m in enumerate(dict.fromkeys([every, *prefixes, *alone, *rests]))}
    holds = holding(list(columns), count)
    beliefs = told(tree, side_by_side(list(readings.values()), holds), claims)
    db = log_odds(beliefs, claims)
    logs = np.asarray(beliefs.log_evidence)
    place = columns.__getitem__
    steps = db[[place(m) for m in prefixes]]
    before, after = db[place(0)], db[place(every)]
    return Weights(
        readings=tuple(readings),
        claims=tuple(claims),
        before=before,
        after=after,
        in_order=np.diff(steps, axis=0),
        alone=db[[place(m) for m in alone]] - before,
        left_out=after - db[[place(m) for m in rests]],
        log_alone=logs[[place(m) for m in alone]],
        log_rest=logs[[place(m) for m in rests]],
        log_all=float(logs[place(every)]),
    )


def job_claims(solved: Solved) -> dict[str, Claim]:
    """Of each seal point, by id: that it leaks now."""
    story = solved.asked.story
    return {
        s.id: (seal_name(s.id, story.generations.get(s.id, 1) - 1), LEAKING)
        for s in solved.asked.network.setting.machine.seal_points
    }


def job_weights(solved: Solved) -> Weights:
    """The weights of a job's readings for each seal point leaking now."""
    return weights_of(solved.tree, solved.asked.readings, job_claims(solved))


def holding(sets: Sequence[int], count: int) -> NDArray[np.bool_]:
    """Sets as bits of whole numbers, written as a table (count, number of sets)."""
    return np.array([[bool(m >> k & 1) for m in sets] for k in range(count)]).reshape(
        count, len(sets)
    )


def side_by_side(parts: Sequence[Evidence], holds: NDArray[np.bool_]) -> Evidence:
    """One column for each set of parts, as ``combine`` would give it.

    holds: (parts, B), whether a part counts in a column.  Raises EvidenceError for a part with
    a batch axis, for unequal sizes, and where a likelihood would vanish.
    """
    tables: dict[str, Array] = {}
    log = np.zeros(holds.shape[1])
    for part, here in zip(parts, holds, strict=True):
        if part.batch is not None:
            raise EvidenceError("a reading has a batch axis")
        log += np.where(here, part.log_scale, 0.0)
        for name, likelihood in part.items():
            top = float(likelihood.max()) or 1.0
            log += np.where(here, np.log(top), 0.0)
            factor = np.where(here, (likelihood / top)[:, None], 1.0)
            old = tables.get(name)
            if old is None:
                tables[name] = factor
                continue
            if old.shape != factor.shape:
                raise EvidenceError(f"likelihoods of {name} differ in length")
            product = old * factor
            if ((product == 0) & (old > 0) & (factor > 0)).any():
                raise EvidenceError(LOPSIDED)
            most = product.max(axis=0)
            most = np.where(most > 0, most, 1.0)
            log += np.log(most)
            tables[name] = product / most
    return Evidence(tables, log)


def told(tree: JunctionTree, evidence: Evidence, claims: Mapping[str, Claim]) -> Beliefs:
    """Posterior beliefs of the claims' variables; raises as JunctionTree.update does.

    Raises EvidenceError also for a state that a claim's variable does not have.
    """
    faults = [
        f"{variable} has no states {sorted(wrong)}"
        for variable, states in claims.values()
        if variable in tree.network
        and (wrong := set(states) - set(range(tree.network[variable].size)))
    ]
    if faults:
        raise EvidenceError("; ".join(faults))
    return tree.update(evidence, only=list(dict.fromkeys(v for v, _ in claims.values())))


def log_odds(beliefs: Beliefs, claims: Mapping[str, Claim]) -> Array:
    """Decibans of each claim in each column, (B, S), stopped at 120 dB."""
    holds, fails = _sums(beliefs, claims)
    with np.errstate(divide="ignore"):
        decibans = 10 * (np.log10(holds) - np.log10(fails))
    return np.asarray(np.clip(decibans, -MOST, MOST))


def chances_in(beliefs: Beliefs, claims: Mapping[str, Claim]) -> Array:
    """Chance of each claim in each column, (B, S)."""
    return _sums(beliefs, claims)[0]


def chance_of(decibans: Array) -> Array:
    """Chances of these log odds in decibans, any shape."""
    return np.asarray(1 / (1 + 10 ** (-decibans / 10)))


def _sums(beliefs: Beliefs, claims: Mapping[str, Claim]) -> tuple[Array, Array]:
    """Chance that each claim holds and that it fails, each summed by itself, (B, S).

    One less the other would lose all digits of a small chance.
    """
    width = np.size(beliefs.log_evidence)
    holds, fails = np.empty((width, len(claims))), np.empty((width, len(claims)))
    for s, (variable, states) in enumerate(claims.values()):
        table = beliefs[variable]
        there = np.isin(np.arange(len(table)), states)
        holds[:, s], fails[:, s] = table[there].sum(axis=0), table[~there].sum(axis=0)
    return holds, fails


def in_words(decibans: float) -> str:
    """A weight in plain words: 'about 4 times likelier'; times the odds.

    10 dB are ten times the odds; 13 dB 20 to 1, 4 dB 5 to 2.  Source: General Report on
    Tunny, 1945.
    """
    times = 10 ** (abs(decibans) / 10)
    than = "likelier" if decibans > 0 else "less likely"
    if times > 1000:
        return f"more than 1000 times {than}"
    # Two figures are all that a weight is good for.
    figure = f"{float(f'{times:.2g}'):g}"
    return "about as likely as before" if times < 1.1 else f"about {figure} times {than}"


def sentence_of(weights: Weights, seal: str, name: str, labels: Mapping[str, str]) -> str:
    """One sentence: the readings that count most for a claim and against it, by left out.

    seal: id of the claim.  name: as it is to be called.  labels: reading -> words for it, such
    as job_words gives; a label without words is taken as it is.  Less than 0.5 dB is not told.
    """
    column = weights.left_out[:, weights.claims.index(seal)]
    sides = []
    for sign, words in ((1, "for it"), (-1, "against it")):
        order = [int(k) for k in np.argsort(-sign * column, kind="stable")[:MOST_TOLD]]
        told_of = [k for k in order if sign * column[k] >= LEAST_TOLD]
        parts = [
            f"{_figure(abs(float(column[k])))} dB {words if not n else ''}".rstrip()
            + f" from {_called(weights.readings[k], labels)}"
            for n, k in enumerate(told_of)
        ]
        if parts:
            sides.append(listed(parts))
    start = f"For {spoken(name)}: "
    return start + ("; ".join(sides) if sides else "no reading speaks clearly") + "."


def _figure(decibans: float) -> str:
    return f"{decibans:.1f}" if decibans < 2 else f"{decibans:.0f}"


def _called(label: str, labels: Mapping[str, str]) -> str:
    return labels.get(label) or label


def listed(parts: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return " and ".join([*([", ".join(parts[:-1])] if parts[1:] else []), *parts[-1:]])


def spoken(name: str) -> str:
    """A name of a machine file in a sentence: 'Bell housing, top': 'the bell housing (top)'."""
    first, *rest = name.split(", ", 1)
    if first[1:2].islower():
        first = first[:1].lower() + first[1:]
    return f"the {first}" + (f" ({rest[0]})" if rest else "")


# Of each state of a zone, what was seen: before and after the age of the residue.
_SEEN = {
    ZoneState.FILM: "film on",
    ZoneState.RUNNING: "runs on",
    ZoneState.DRIPPING: "drops falling from",
    ZoneState.WET: "wetness on",
}
_SEAL_SEEN = {
    SealState.WEEPING: "weeping",
    SealState.DROPS_FORM: "drops forming",
    SealState.DRIPPING: "drops falling",
    SealState.WET: "wetness",
}
# Of each sign: who does what; of a fluid where there is a place for it.
_SIGNS = {
    SignKind.LEVEL_FALLS: ("the level{of}", "falling"),
    SignKind.LEVEL_RISES: ("the level{of}", "rising"),
    SignKind.PRESSURE_LOSS: ("pressure{of}", "being lost"),
    SignKind.GROUND_WET: ("the ground", "being wet"),
    SignKind.SMOKE: ("smoke", "being seen"),
    SignKind.BURNT_SMELL: ("a burnt smell", "being there"),
    SignKind.FUEL_SMELL: ("a smell of fuel", "being there"),
    SignKind.FLUID_THINNED: ("{the}", "being thinned"),
    SignKind.FLUID_EMULSIFIED: ("{the}", "being emulsified"),
    SignKind.LEAKS_COLD_START: ("its", "leaking at a cold start"),
    SignKind.LEAKS_HOT_IDLE: ("its", "leaking at hot idle"),
    SignKind.LEAKS_AT_SPEED: ("its", "leaking at speed"),
    SignKind.LEAKS_AT_REST: ("its", "leaking at rest"),
}


def job_words(solved: Solved) -> dict[str, str]:
    """Words for each reading of a job, by its label: 'the dry bell housing (top)'."""
    machine = solved.asked.network.setting.machine
    words = {label_of(t): _reading_words(t.reading, machine) for t in solved.asked.story.taken}
    return {label: words.get(label) or _said(label) for label in solved.asked.readings}


def _said(label: str) -> str:
    """What was said of a joint or of the machine: label 'context 1: ventilation_clear'."""
    return f'what was said, "{label.split(": ", 1)[-1].replace("_", " ")}"'


def _reading_words(reading: Reading, machine: Machine) -> str:
    if isinstance(reading, ZoneReading):
        thing = _named(reading.zone, machine)
        if reading.state in (ZoneState.DRY, ZoneState.NOT_LOOKED):
            return thing.replace("the ", "the dry ", 1)
        if reading.age is None and reading.state is ZoneState.WET:
            return thing.replace("the ", "the wet ", 1)
        age = f"{reading.age.value} " if reading.age else ""
        return f"the {age}{_SEEN[reading.state]} {thing}"
    if isinstance(reading, SealReading):
        thing = _named(reading.seal_point, machine)
        if reading.state in (SealState.TIGHT, SealState.NOT_LOOKED):
            return thing.replace("the ", "the tight ", 1)
        return f"the {_SEAL_SEEN[reading.state]} seen at {thing}"
    fluids = {f.id: f.name or f.id.replace("_", " ") for f in machine.fluids}
    # 'Engine oil, one pressure circuit': the rest is no part of what it is called.
    fluid = spoken(fluids[reading.fluid or machine.fluids[0].id].split(", ")[0])
    who, does = _SIGNS[reading.sign]
    who = who.format(of=fluid.replace("the ", " of ", 1), the=fluid)
    return f"{who} {does}" if reading.value is Yes.YES else f"{who} not {does}"


def _named(thing: str, machine: Machine) -> str:
    return spoken(dict(_names(machine)).get(thing) or thing.replace("_", " "))


def _names(machine: Machine) -> Iterator[tuple[str, str | None]]:
    yield from ((z.id, z.name) for z in machine.zones)
    yield from ((s.id, s.name) for s in machine.seal_points)
