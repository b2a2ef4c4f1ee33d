"""The way of the fluid: from a seal point, as if it leaks, to the zones that were read wet.

A route goes over the network's own influences: from the seal point to a zone that it wets
itself, and from zone to zone.  Each step has a chance: that of the fluid that there is at its
source, as far as seal point and readings tell how much that is, enough to be seen gets to its
target.  The likeliest route is the one with the greatest product of these chances.

What the product leaves out: how much there is at one zone is taken as known from the readings
alone, not from the step before, though a leak that got over one step is likely a strong one
and gets over the next more often.  Nor does it count that fluid may arrive by several routes
at once.  So it says which way to follow with a lamp, not how likely the zone is to be wet:
that is ``arrives``, which is exact.

Only zones that bear on a reading have a variable, and a zone without one is on no route; nor
is, but at its end, a zone that only collects (a tray, a lowest underside).  Where two
ways join the same zones (over the edge, and in drops) the network has one step, called after
the way that takes more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush
from math import log, prod

import numpy as np

from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.belief.evidence import Evidence, ImpossibleEvidence, combine
from leakdx.case.model import ZoneReading, ZoneState
from leakdx.flow.courses import Course, FlowMap
from leakdx.machine.model import SealPoint
from leakdx.network.setting import OTHER_STATES, flow_name, seal_name
from leakdx.network.tables import Array, Influence

SHOWS = "shows"
SIDEWAYS = "sideways"
# How a step is said; the zone it leads to follows.
WORDS = {
    SHOWS: "shows on",
    SIDEWAYS: "creeps to",
    "run": "runs over the edge to",
    "drip": "drips onto",
    "carry": "is carried by the air to",
    "fling": "is flung onto",
    "wick": "is wicked along to",
}
WET = frozenset({ZoneState.FILM, ZoneState.RUNNING, ZoneState.DRIPPING, ZoneState.WET})


@dataclass(frozen=True)
class Step:
    """One step: from a seal point (the first) or a zone to a zone, by id.

    way: a key of ``WORDS``: how most of it goes.  chance: that enough to be seen gets over,
    where the source is wet.
    """

    source: str
    target: str
    way: str
    chance: float


@dataclass(frozen=True)
class Route:
    """The likeliest route of one fluid from a seal point to a zone.

    chance: the product of the steps' chances.  arrives: P(the zone is wet with that fluid,
    from wherever | the seal point leaks, readings), exact.
    """

    seal_point: str
    zone: str
    fluid: str
    steps: tuple[Step, ...]
    chance: float
    arrives: float


def routes_of(solved: Solved, seal: str) -> tuple[Route, ...]:
    """The likeliest route to each zone read wet that the seal point can reach.

    Of the newest epoch in which a zone was read wet with its fluid, or with one not named.  The
    route with the greatest chance comes first.  Empty where the seal point as it is now was not
    there in that epoch, where it reaches none of them, or where the readings leave it no chance
    to leak.  Raises KeyError for a seal point that the machine does not have.
    """
    point = _seal_point(solved, seal)
    wet = wet_zones(solved, point.fluid)
    if not wet:
        return ()
    newest = max(epoch for epoch, _ in wet)
    zones = [zone for epoch, zone in wet if epoch == newest]
    found = _routes(solved, point, newest, zones)
    return tuple(sorted(found, key=lambda r: (-round(r.chance, 9), r.zone)))


def route_to(solved: Solved, seal: str, zone: str) -> Route | None:
    """The likeliest route to a zone, in the newest epoch it was read in, or in the present one.

    None where there is none.  Raises KeyError for a seal point that the machine does not have.
    """
    point = _seal_point(solved, seal)
    found = _routes(solved, point, epoch_of(solved, zone), [zone])
    return found[0] if found else None


def arrives(solved: Solved, seal: str, zone: str) -> float:
    """P(a zone is wet with the seal point's fluid | the seal point leaks, readings).

    0 where the zone has no variable for it, or the readings leave no chance of a leak.
    """
    point = _seal_point(solved, seal)
    name = flow_name(point.fluid, zone, epoch_of(solved, zone))
    beliefs = _as_if_leaking(solved, _now(solved, seal), [name])
    return 0.0 if beliefs is None else _wet(beliefs[name])


def arrives_alone(solved: Solved, seal: str, zone: str) -> float:
    """P(a zone is wet with the seal point's fluid | it leaks, all else tight, nothing read).

    What this leak would do alone, by all its ways.  0 where the zone has no variable.
    """
    point = _seal_point(solved, seal)
    name = flow_name(point.fluid, zone, epoch_of(solved, zone))
    network = solved.asked.network.network
    mine = _now(solved, seal)
    if name not in network or mine not in network:
        return 0.0
    said: dict[str, Array] = {}
    for variable in network.variables:
        if variable.name.startswith("seal__") or variable.states == OTHER_STATES:
            said[variable.name] = np.eye(variable.size)[0]
    said[mine] = 1 - said[mine]
    return _wet(solved.tree.update(Evidence(said), only=[name])[name])


def epoch_of(solved: Solved, zone: str) -> int:
    """The newest epoch in which a zone was read; the present one where it was not."""
    read = [epoch for epoch, r in _looked_at(solved) if r.zone == zone]
    return max(read, default=len(solved.asked.story.epochs) - 1)


def wet_zones(solved: Solved, fluid: str) -> tuple[tuple[int, str], ...]:
    """Epoch and zone of the readings that may be of a fluid and say wet, each once, in order."""
    found = (
        (epoch, r.zone)
        for epoch, r in _looked_at(solved)
        if r.state in WET and r.fluid in (None, fluid)
    )
    return tuple(dict.fromkeys(found))


def marks_of(solved: Solved, epoch: int) -> dict[str, bool]:
    """The zones read in an epoch, and whether each was read wet (with any fluid)."""
    found: dict[str, bool] = {}
    for e, r in _looked_at(solved):
        if e == epoch:
            found[r.zone] = found.get(r.zone, False) or r.state in WET
    return found


def sentence_of(route: Route, names: Mapping[str, str]) -> str:
    """A route in words; ``names``: of seal points and zones by id, the id where there is none."""
    steps = route.steps

    def name(thing: str) -> str:
        return names.get(thing) or thing.replace("_", " ")

    # Names have commas of their own.
    said = "; then ".join(f"{WORDS[s.way]} {name(s.target)} ({percent(s.chance)})" for s in steps)
    whole = f"The whole route: {percent(route.chance)}. " if len(steps) > 1 else ""
    return (
        f"{name(route.seal_point)}: {said}. {whole}"
        f"If it leaks, its fluid is there, by whatever way and from whatever leak: "
        f"{percent(route.arrives)}."
    )


def _looked_at(solved: Solved) -> list[tuple[int, ZoneReading]]:
    """Every zone reading that says something, with its epoch."""
    return [
        (t.epoch, t.reading)
        for t in solved.asked.story.taken
        if isinstance(t.reading, ZoneReading) and t.reading.state is not ZoneState.NOT_LOOKED
    ]


def _seal_point(solved: Solved, seal: str) -> SealPoint:
    machine = solved.asked.network.setting.machine
    return {s.id: s for s in machine.seal_points}[seal]


def _now(solved: Solved, seal: str) -> str:
    """Variable of a seal point as it is now."""
    return seal_name(seal, solved.asked.story.generations.get(seal, 1) - 1)


def _as_if_leaking(solved: Solved, mine: str, names: Iterable[str]) -> Mapping[str, Array] | None:
    """Posterior of variables if a seal point leaks; None where it cannot, or one is not there."""
    wanted = tuple(names)
    network = solved.asked.network.network
    if mine not in network or any(n not in network for n in wanted):
        return None
    leaks = 1 - np.eye(network[mine].size)[0]
    try:
        return solved.tree.update(combine([solved.evidence, Evidence({mine: leaks})]), only=wanted)
    except ImpossibleEvidence:
        return None


def _wet(chances: Array) -> float:
    """Chance of any level but the lowest."""
    # Rounding may carry a sum of chances past one.
    return min(float(chances[1:].sum()), 1.0)


# For each variable of a zone what acts on it.
Ways = Mapping[str, tuple[Influence, ...]]


def _routes(
    solved: Solved, point: SealPoint, epoch: int, zones: Iterable[str]
) -> tuple[Route, ...]:
    """The routes to some zones in an epoch: one question to the network for all of them."""
    mine = _now(solved, point.id)
    machine = solved.asked.network.setting.machine
    ids = {flow_name(point.fluid, z.id, epoch): z.id for z in machine.zones}
    ways = {
        m.child: tuple(i for i in m.influences if i.parent in ids or i.parent == mine)
        for m in solved.asked.network.network.maxima
        if m.child in ids
    }
    ends = [n for z in dict.fromkeys(zones) if (n := flow_name(point.fluid, z, epoch)) in ways]
    between = _led_to(ways, mine) & _leading_to(ways, ends)
    ends = [n for n in ends if n in between]
    beliefs = _as_if_leaking(solved, mine, sorted(between)) if ends else None
    if beliefs is None:
        return ()
    chances = {
        target: {i.parent: gets_over(beliefs[i.parent], i) for i in into if i.parent in between}
        for target, into in ways.items()
        if target in between
    }
    flow = solved.asked.network.spreads[epoch].flow
    found = []
    for end in ends:
        steps = tuple(
            Step(
                ids.get(source, point.id),
                ids[target],
                _way(flow, point, ids.get(source), ids[target]),
                chances[target][source],
            )
            for source, target in likeliest(chances, mine, end)
        )
        if steps:
            chance = prod(s.chance for s in steps)
            route = Route(point.id, ids[end], point.fluid, steps, chance, _wet(beliefs[end]))
            found.append(route)
    return tuple(found)


def gets_over(source: Array, influence: Influence) -> float:
    """Chance that an influence brings anything, its source not being in the lowest state.

    source: (states,) chances of the states of its parent.  0 where the source is sure to be in
    the lowest.
    """
    there = _wet(source)
    if there <= 0:
        return 0.0
    brings = 1 - influence.table[0, 1:]
    return min(float(source[1:] @ brings) / there, 1.0)


def likeliest(
    chances: Mapping[str, Mapping[str, float]], start: str, end: str
) -> tuple[tuple[str, str], ...]:
    """The path with the greatest product of its steps' chances, as (source, target) pairs.

    chances: target -> source -> chance.  Of two alike the one that needs fewer steps.  Empty
    where there is none with a chance above 0.  Dijkstra's shortest path (Numerische Mathematik
    1 (1959) 269-271) over minus the logarithms, walked from the end back.
    """
    best: dict[str, tuple[float, int]] = {end: (0.0, 0)}
    onward: dict[str, str] = {}
    heap = [(0.0, 0, end)]
    done: set[str] = set()
    while heap:
        cost, steps, here = heappop(heap)
        if here in done:
            continue
        done.add(here)
        if here == start:
            break
        for source, chance in chances.get(here, {}).items():
            if chance <= 0:
                continue
            # Rounded, so that the last digit does not choose between two alike.
            through = (round(cost - log(chance), 12), steps + 1)
            if source not in best or through < best[source]:
                best[source] = through
                onward[source] = here
                heappush(heap, (*through, source))
    path = []
    here = start
    while here in onward:
        path.append((here, onward[here]))
        here = onward[here]
    return tuple(path)


def _led_to(ways: Ways, start: str) -> set[str]:
    """What can be reached from a variable, itself included."""
    leads: dict[str, set[str]] = defaultdict(set)
    for target, into in ways.items():
        for influence in into:
            leads[influence.parent].add(target)
    return _walked(leads, [start])


def _leading_to(ways: Ways, ends: Iterable[str]) -> set[str]:
    """What leads to some variables, themselves included."""
    return _walked({t: {i.parent for i in into} for t, into in ways.items()}, ends)


def _walked(leads: Mapping[str, set[str]], start: Iterable[str]) -> set[str]:
    found, stack = set(start), list(start)
    while stack:
        new = leads.get(stack.pop(), set()) - found
        found |= new
        stack.extend(new)
    return found


def _way(flow: FlowMap, point: SealPoint, source: str | None, target: str) -> str:
    """How most of a step goes; ``source`` is None for the step from the seal point."""
    index = {z: k for k, z in enumerate(flow.surfaces.ids)}
    there = index[target]
    if source is not None:
        return _main_way(flow, index[source], there)
    if target in point.zones:
        return SHOWS
    own = {index[z] for z in point.zones}
    steps = [c for c in flow.courses if c.source in own and c.target == there]
    # What runs over an edge near the seal point is on its way at once.
    firm = [c for c in steps if not c.sideways]
    return str(_strongest(firm).way) if firm else SIDEWAYS


def _main_way(flow: FlowMap, source: int, target: int) -> str:
    """The way that takes most, straight, or to a zone that collects by way of others."""
    direct = [c for c in flow.courses if c.source == source and not c.sideways]
    straight = [c for c in direct if c.target == target]
    if straight:
        return str(_strongest(straight).way)
    fed = [c for c in direct if c.target in flow.collectors]
    return str(_strongest(fed).way)


def _strongest(courses: Iterable[Course]) -> Course:
    return max(courses, key=lambda c: (round(c.share, 7), -c.target, str(c.way)))
