"""Where fluid goes next: the share of what leaves each zone that takes each way.

Four ways lead on: it runs over a shared edge, drips from an edge or an underside onto
whatever lies below, is carried or flung, or wicks along a drawn path.  Shares come from
geometry and attitude alone; how much arrives is the business of ``carry``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.attitude import Attitude
from leakdx.flow.falling import carried, flung, landing
from leakdx.flow.running import Pull, exposure, pull_on, run_shares, track, within
from leakdx.flow.surfaces import SharedEdge, Surfaces, shared_edges, surfaces_of
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors

Array = NDArray[np.float64]


class Way(StrEnum):
    """How fluid gets from one zone to the next."""

    RUN = "run"
    DRIP = "drip"
    CARRY = "carry"
    FLING = "fling"
    WICK = "wick"


Weights = dict[tuple[int, int, Way], float]
# Weight of a course that is kept though nothing goes there.
LEAST = 1e-9


@dataclass(frozen=True)
class Course:
    """One way from zone ``source`` to zone ``target`` (indices).

    ``share`` is the expected part of what leaves the source; ``sideways`` marks a way
    that a seal point in the source zone may take but a stream passing through may not,
    because it would close a loop.
    """

    source: int
    target: int
    share: float
    way: Way
    sideways: bool = False


@dataclass(frozen=True)
class Detail:
    """How many courses are followed: the strongest from each zone and to each zone.

    A course with less than ``least_share`` of what leaves its zone is not followed.
    """

    ways: int
    feeds: int
    least_share: float


# From the fullest to the barest; the first whose sums can be done exactly is taken.
DETAILS = (
    Detail(6, 9, 0.015),
    Detail(5, 7, 0.02),
    Detail(4, 5, 0.03),
    Detail(4, 4, 0.05),
    Detail(3, 4, 0.06),
    Detail(3, 3, 0.08),
    Detail(2, 3, 0.1),
    Detail(1, 3, 0.2),
)


@dataclass(frozen=True)
class Wind:
    """How the machine stands, and the air that meets it from the front, m/s.

    turning: its rotating parts turn and fling what gets onto them.
    """

    attitude: Attitude = Attitude()
    airflow_m_s: float = 0.0
    turning: bool = True


@dataclass(frozen=True, eq=False)
class FlowMap:
    """All courses of a machine in one attitude and airflow.

    edges: the edges shared by zones.  down: (3,) gravity; along: (Z, 3) pull within
    each zone, in units of gravity.
    to_ground: (Z,) share of what leaves each zone that falls clear of the machine.
    order: zone indices from the top of the flow to its bottom.
    collectors: zones that many ways lead to and none leads on from, but to their like.
    track_mm: (Z,) length of the way across each zone.
    steepness: (Z,) sine of its slope along the pull.
    strong: the ways (source, target, how) that were worth following.
    """

    surfaces: Surfaces
    edges: tuple[SharedEdge, ...]
    down: Array
    along: Array
    courses: tuple[Course, ...]
    to_ground: Array
    order: tuple[int, ...]
    collectors: frozenset[int]
    track_mm: Array
    steepness: Array
    strong: frozenset[tuple[int, int, Way]]


def flow_map(
    machine: Machine,
    wind: Wind,
    priors: Priors,
    detail: Detail = DETAILS[0],
    like: FlowMap | None = None,
) -> FlowMap:
    """Courses of fluid over a machine.

    like: a map of the same machine with other priors, whose courses, order and collectors are
    kept; only how much takes each way is worked out anew, what no longer goes there at all
    counting as LEAST.  Raises UnknownNumber if the priors lack a flow coefficient.
    """
    surfaces = surfaces_of(machine) if like is None else like.surfaces
    edges = shared_edges(machine, surfaces) if like is None else like.edges
    exposures = np.array([exposure(z.airflow_exposure, priors) for z in machine.zones])
    pull = pull_on(surfaces, wind.attitude, wind.airflow_m_s * exposures, priors)
    run, fall = run_shares(surfaces, edges, pull, priors)
    weights: Weights = defaultdict(float)
    for (a, b), w in run.items():
        weights[a, b, Way.RUN] += w
    ground = _add_drops(weights, surfaces, fall, pull)
    for (a, b), w in carried(surfaces, pull, priors).items():
        weights[a, b, Way.CARRY] += w
    if wind.turning:
        for (a, b), w in flung(machine, surfaces, priors).items():
            weights[a, b, Way.FLING] += w
    index = {z: k for k, z in enumerate(surfaces.ids)}
    _give_way(weights, ground, machine, index)
    for p in machine.paths:
        way = Way.WICK if p.wicks else Way.RUN
        weights[index[p.source], index[p.target], way] += p.share
    if like is None:
        kept = _strongest(weights, ground, detail)
        strong = frozenset((c.source, c.target, c.way) for c in kept)
        courses, order = _without_loops(kept, surfaces, -(surfaces.centre @ pull.down))
        collectors = _collectors(courses, detail.feeds)
        courses = _main_feeds(courses, collectors, detail.feeds)
    else:
        strong, order, collectors = like.strong, like.order, like.collectors
        courses = _again(like, weights, ground)
    steep = np.minimum(np.linalg.norm(within(surfaces, pull.down[None, :]), axis=1), 1.0)
    return FlowMap(
        surfaces=surfaces,
        edges=edges,
        down=pull.down,
        along=pull.along,
        courses=courses,
        to_ground=ground,
        order=order,
        collectors=collectors,
        track_mm=track(surfaces, pull),
        steepness=steep,
        strong=strong,
    )


def _give_way(weights: Weights, ground: Array, machine: Machine, index: Mapping[str, int]) -> None:
    """Leave as much of each zone's outflow to the drawn paths as they state."""
    stated: dict[int, float] = defaultdict(float)
    for p in machine.paths:
        stated[index[p.source]] += p.share
    for key in weights:
        weights[key] *= max(0.0, 1 - stated.get(key[0], 0.0))
    for zone, share in stated.items():
        ground[zone] *= max(0.0, 1 - share)


def _add_drops(weights: Weights, s: Surfaces, fall: Array, pull: Pull) -> Array:
    """Add what drips from each zone to the weights; what meets no zone comes back, (Z,).

    Drops do not fall through the wall of a body.  What would is kept back where the zone has
    another way out, and comes out at that wall where it has none.
    """
    ground = np.zeros(s.count)
    open_ways = {a for (a, _, _), w in weights.items() if w > 0}
    for a in np.flatnonzero(fall > 0):
        land = landing(s, int(a), pull)
        ground[a] += fall[a] * land.missed
        shut_in = int(a) not in open_ways and not land.hits and not land.missed
        for b, share in (land.walls if shut_in else land.hits).items():
            weights[int(a), b, Way.DRIP] += fall[a] * share
    return ground


def collected_shares(flow: FlowMap, collector: int) -> dict[int, float]:
    """Zones that feed a collector, straight or through other collectors, with their shares."""
    shares: dict[int, float] = defaultdict(float)
    stack = [(collector, 1.0)]
    while stack:
        here, share = stack.pop()
        for c in flow.courses:
            if c.target != here or c.sideways:
                continue
            if c.source in flow.collectors:
                stack.append((c.source, share * c.share))
            else:
                shares[c.source] += share * c.share
    return {k: min(v, 1.0) for k, v in shares.items()}


def ground_shares(flow: FlowMap) -> Array:
    """Share of what leaves each zone that falls to the ground, also by way of collectors."""
    shares = flow.to_ground.copy()
    for k in reversed(flow.order):
        shares[k] += sum(
            c.share * shares[c.target]
            for c in flow.courses
            if c.source == k and c.target in flow.collectors and not c.sideways
        )
    return np.minimum(shares, 1.0)


def _strongest(weights: Weights, ground: Array, detail: Detail) -> list[Course]:
    """The courses worth following, their shares scaled so that nothing is lost but drops."""
    out: dict[int, list[Course]] = defaultdict(list)
    for (a, b, way), w in weights.items():
        if w > 0:
            out[a].append(Course(a, b, w, way))
    kept: list[Course] = []
    for a, ways in out.items():
        total = sum(c.share for c in ways) + ground[a]
        ground[a] /= total
        # Rounded: two ways alike must not be told apart by the last digit of a turned machine.
        ways.sort(key=lambda c: (-round(c.share, 7), c.target))
        strong = [c for c in ways if c.share / total >= detail.least_share]
        kept += _scaled(strong[: detail.ways], ground[a], total)
    return kept


def _again(like: FlowMap, weights: Weights, ground: Array) -> tuple[Course, ...]:
    """The courses of another map, their shares those of these weights; ``ground`` as well."""
    out: dict[int, list[Course]] = defaultdict(list)
    for a, b, way in sorted(like.strong):
        out[a].append(Course(a, b, max(weights.get((a, b, way), 0.0), LEAST), way))
    others: dict[int, float] = defaultdict(float)
    for key, w in weights.items():
        if key not in like.strong:
            others[key[0]] += w
    shares: dict[tuple[int, int, Way], float] = {}
    for a in {*out, *others}:
        total = sum(c.share for c in out[a]) + others[a] + ground[a]
        if total > 0:
            ground[a] /= total
            shares |= {(a, c.target, c.way): c.share for c in _scaled(out[a], ground[a], total)}
    return tuple(replace(c, share=shares[c.source, c.target, c.way]) for c in like.courses)


def _scaled(strong: list[Course], ground: float, total: float) -> list[Course]:
    """Ways out of one zone, their shares scaled so that nothing is lost but drops.

    ground: share that falls clear; total: of the weights of all ways and of the ground.
    """
    lost = 1 - ground - sum(c.share for c in strong) / total
    scale = (1 + lost / max(1 - ground - lost, 1e-9)) / total if strong else 0.0
    return [replace(c, share=float(min(c.share * scale, 1.0))) for c in strong]


def _without_loops(
    courses: list[Course], s: Surfaces, height: Array
) -> tuple[tuple[Course, ...], tuple[int, ...]]:
    """Drop the weakest course of every loop; what is dropped stays open to the seals there."""
    follows: dict[int, set[int]] = {k: set() for k in range(s.count)}
    firm, sideways = [], []

    def weakest_last(c: Course) -> tuple[float, ...]:
        drop = float(height[c.source] - height[c.target])
        return (-round(c.share, 7), -round(drop, 3), c.source, c.target)

    ranked = sorted(courses, key=weakest_last)
    for c in ranked:
        if c.source == c.target or _reaches(follows, c.target, c.source):
            sideways.append(Course(c.source, c.target, c.share, c.way, sideways=True))
        else:
            follows[c.source].add(c.target)
            firm.append(c)
    return (*firm, *(c for c in sideways if c.source != c.target)), _order(follows)


def _collectors(courses: Iterable[Course], most: int) -> frozenset[int]:
    """Zones fed by more than ``most`` ways that lead on, if at all, to other collectors."""
    feeds: dict[int, set[int]] = defaultdict(set)
    leads: dict[int, set[int]] = defaultdict(set)
    for c in courses:
        if not c.sideways:
            feeds[c.target].add(c.source)
            leads[c.source].add(c.target)
    found = {k for k, sources in feeds.items() if len(sources) > most}
    while passing := {k for k in found if leads[k] - found}:
        found -= passing
    return frozenset(found)


def _main_feeds(
    courses: tuple[Course, ...], collectors: frozenset[int], most: int
) -> tuple[Course, ...]:
    """No more than ``most`` feeds to a zone that is no collector: the strongest.

    A zone with very many feeds would tie distant parts of the machine together for the
    sake of ways that hardly matter.
    """
    by_target: dict[int, list[Course]] = defaultdict(list)
    for c in courses:
        if not c.sideways and c.target not in collectors:
            by_target[c.target].append(c)
    weak = {
        id(c)
        for feeds in by_target.values()
        for c in sorted(feeds, key=lambda c: (-round(c.share, 7), c.source))[most:]
    }
    return tuple(c for c in courses if id(c) not in weak)


def _reaches(follows: dict[int, set[int]], start: int, goal: int) -> bool:
    seen, stack = {start}, [start]
    while stack:
        here = stack.pop()
        if here == goal:
            return True
        new = follows[here] - seen
        seen |= new
        stack.extend(new)
    return False


def _order(follows: dict[int, set[int]]) -> tuple[int, ...]:
    waits = dict.fromkeys(follows, 0)
    for targets in follows.values():
        for t in targets:
            waits[t] += 1
    ready = sorted(k for k, n in waits.items() if n == 0)
    order: list[int] = []
    while ready:
        here = ready.pop(0)
        order.append(here)
        for t in sorted(follows[here]):
            waits[t] -= 1
            if waits[t] == 0:
                ready.append(t)
    return tuple(order)
