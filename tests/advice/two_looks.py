"""Small decisions made up at random, and two looks ahead by sums over everything."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import chain, combinations
from math import exp
from typing import Any, cast

import numpy as np
import pytest

from leakdx.advice.asking import Ahead
from leakdx.advice.lookahead import Prospect, TwoLooks
from leakdx.advice.looks import Look
from leakdx.advice.outcomes import Outlook, Reads
from leakdx.advice.renewal import Labour
from leakdx.advice.weighing import Weighed
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import compile_network
from leakdx.case.evidence import Asked
from leakdx.machine.model import Inspection
from leakdx.network.tables import Array, Network
from tests.advice.test_outcomes import made_up
from tests.belief.enumeration import weighted, written_out

# The least cut counts in hundredths of a minute.
MINUTES = 0.05
# Things that are dry, as look and thing, to the chance that they are and that each seal point
# leaks, and last the chance that they are.
Dry = Callable[[tuple[tuple[int, int], ...]], Array]


def looking(name: str, zones: Sequence[str], steps: Sequence[str], **more: Any) -> Look:
    data = {"id": name, "reads": {"zones": zones}, "minutes": 3} | more
    made = Inspection.model_validate(data)
    minutes = made.minutes + sum(STEPS[s] for s in steps)
    return Look(made, tuple(steps), minutes, made.destroys, (), frozenset(zones))


STEPS = {"lid": 2.0, "guard": 5.0}


def decision(seed: int, dear: float = 0.1) -> tuple[Prospect, Network]:
    """Looks at one to three zones behind a lid or a guard; ``dear``: factor on their minutes."""
    rng = np.random.default_rng(seed)
    network, seals, zones = made_up(rng)
    # Most seal points are tight, none is sure to be.
    tight = np.array([0.6, *[0.0] * 3])
    tables = []
    for table in network.tables:
        if table.child in seals:
            values = 0.3 * table.values.reshape(4, -1) + tight[:, None] + 0.1 / 4
            table = replace(table, values=values.reshape(table.values.shape))
        tables.append(table)
    network = replace(network, tables=tuple(tables))
    looks = (
        looking("eyes_one", zones[:1], (), minutes=dear),
        looking("eyes_two", zones[1:2], ("lid",), minutes=2 * dear),
        looking("eyes_both", zones[1:], ("lid", "guard"), minutes=dear),
        looking("wash", zones[1:2], ("lid",), minutes=9 * dear, method="wash_and_run"),
        looking("wipe", zones[2:], ("guard",), minutes=4 * dear, method="wipe"),
    )
    reads = []
    for look in looks:
        things = look.inspection.reads.zones
        dry = [{z: 0.05 + 0.3 * rng.random(network[z].size) ** 3} for z in things]
        for (array,) in (d.values() for d in dry):
            array[0] = 0.9 + 0.1 * array[0]
        reads.append(Reads(tuple(things), tuple(dry)))
    ids = tuple(f"id_{s}" for s in seals)
    labour = Labour(
        renew={s: float(rng.uniform(20, 150)) for s in ids},
        steps=STEPS,
        needs={s: frozenset(k for k in STEPS if rng.random() < 0.5) for s in ids},
        comeback=float(rng.uniform(100, 400)),
    )
    ahead = Ahead(
        cast(Asked, None),
        compile_network(network),
        0,
        Evidence({zones[0]: rng.random(network[zones[0]].size)}),
        tuple(reads),
        tuple(seals),
    )
    return Prospect(ahead, looks, labour, ids), network


def enumerated(prospect: Prospect, network: Network) -> Dry:
    """From the chance of every state of the whole network."""
    plain = written_out(network)
    whole = weighted(plain, prospect.ahead.known)
    whole = whole / whole.sum()

    def dry(things: tuple[tuple[int, int], ...]) -> Array:
        here = whole
        for look, thing in things:
            for name, likelihood in prospect.ahead.reads[look].dry[thing].items():
                here = here * likelihood.reshape([-1 if n == name else 1 for n in plain.names])
        axes = [plain.names.index(s) for s in prospect.ahead.seals]
        return np.array([*(here.take(range(1, 4), a).sum() for a in axes), here.sum()])

    return dry


def asked_of_tree(prospect: Prospect) -> Dry:
    """From the tree, one question for each set of things that are dry."""
    ahead = prospect.ahead
    before = float(ahead.tree.log_evidence(ahead.known))

    def dry(things: tuple[tuple[int, int], ...]) -> Array:
        more = [Evidence(ahead.reads[look].dry[thing]) for look, thing in things]
        got = ahead.tree.update(combine([ahead.known, *more]))
        chance = exp(float(got.log_evidence) - before)
        return chance * np.array([*(1 - got[s][0] for s in ahead.seals), 1.0])

    return dry


# The referee: nothing but sums over outcomes and over sets of seal points.


def costs(prospect: Prospect, joint: Array, *off: str) -> float:
    """Cost of the best set times the chance of the outcome: every set is tried.

    off: steps that are off and paid for.
    """
    ids = prospect.ids
    sets = chain.from_iterable(combinations(ids, n) for n in range(len(ids) + 1))
    leaks = dict(zip(ids, joint[:-1].tolist(), strict=True))
    chance = float(joint[-1])
    found: list[float] = []
    for chosen in sets:
        bare = {k for s in chosen for k in prospect.labour.needs[s]} - set(off)
        work = sum(prospect.labour.renew[s] for s in chosen)
        work += sum(prospect.labour.steps[k] for k in bare)
        stays = sum(leaks[s] * prospect.labour.left(s) for s in ids if s not in chosen)
        found.append(chance * work + stays)
    return min(found)


def entropy(joint: Array) -> float:
    """Bits of each seal point, added up, times the chance of the outcome."""
    p = np.clip(joint[:-1] / max(joint[-1], 1e-300), 1e-15, 1 - 1e-15)
    return float(-joint[-1] * (p * np.log2(p) + (1 - p) * np.log2(1 - p)).sum())


def told_most(prospect: Prospect, look: int, split: Callable[[int], tuple[Array, Array]]) -> int:
    things = range(len(prospect.ahead.reads[look].things))
    return min(things, key=lambda k: sum(entropy(joint) for joint in split(k)))


def spoilt(first: Look, second: Look) -> bool:
    """A wash takes what eyes and wiping go by."""
    return first.inspection.id == "wash" and bool(first.places & second.places)


def referee(prospect: Prospect, dry: Dry, first: int) -> tuple[list[set[str | None]], float]:
    """The best look after dry and after wet, all where some are as good, and what is saved."""
    mine = prospect.looks[first]
    now = dry(())
    thing = told_most(prospect, first, lambda k: (dry(((first, k),)), now - dry(((first, k),))))
    seen = (first, thing)
    steps = prospect.labour.steps
    cost = mine.inspection.minutes + sum(steps[s] for s in mine.steps)
    then = list[set[str | None]]()
    for wet in (False, True):

        def joint(*things: tuple[int, int], wet: bool = wet) -> Array:
            return dry(things) - dry((seen, *things)) if wet else dry((seen, *things))

        here = joint()
        after: dict[str | None, float] = {None: costs(prospect, here, *mine.steps)}
        for k, look in enumerate(prospect.looks):
            if k == first or spoilt(mine, look):
                continue
            off = set(look.steps) - set(mine.steps)
            minutes = look.inspection.minutes + sum(steps[s] for s in off)

            def split(j: int, k: int = k, here: Array = here) -> tuple[Array, Array]:
                return joint((k, j)), here - joint((k, j))

            outcomes = split(told_most(prospect, k, split))
            total = here[-1] * minutes + sum(
                costs(prospect, o, *mine.steps, *look.steps) for o in outcomes
            )
            after[look.inspection.id] = total
        least = min(after.values())
        cost += least
        then.append({name for name, total in after.items() if total < least + MINUTES})
    return then, costs(prospect, now) - cost


def alone(prospect: Prospect) -> list[Weighed]:
    """Every look by itself, without what it is worth, so that nothing hides behind that."""
    nothing = Outlook(("dry",), np.ones(1), np.zeros((1, len(prospect.ids))))
    return [Weighed(look, nothing, False, 0.0, -1e9, 0.0) for look in prospect.looks]


def agrees(prospect: Prospect, dry: Dry, found: Sequence[TwoLooks], near: float) -> int:
    """How many second looks were said; all is found as the referee has it."""
    place = {look.inspection.id: k for k, look in enumerate(prospect.looks)}
    for two in found:
        then, gain = referee(prospect, dry, place[two.first])
        assert two.gain == pytest.approx(gain, abs=near)
        assert two.dry in then[0] and two.wet in then[1]
    return sum((two.dry is not None) + (two.wet is not None) for two in found)
