"""Where fluid goes next: the share of what leaves each zone that takes each way.

Four ways lead on: it runs over a shared edge, drips from an edge or an underside onto
whatever lies below, is carried or flung, or wicks along a drawn path.  Shares come from
geometry and attitude alone; how much arrives is the business of ``carry``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.attitude import REARWARD, Attitude
from leakdx.flow.surfaces import SharedEdge, Surfaces, shared_edges, surfaces_of
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors

Array = NDArray[np.float64]

AIR_DENSITY = 1.2  # kg/m3, ISO 2533 standard atmosphere at sea level, rounded
GRAVITY = 9.80665  # m/s2, ISO 80000-3 standard value
OIL_DENSITY = 870.0  # kg/m3, only for the ratio of airflow drag to weight
GRID = 9  # points along each side of a patch from which drops may fall


class Way(StrEnum):
    """How fluid gets from one zone to the next."""

    RUN = "run"
    DRIP = "drip"
    CARRY = "carry"
    FLING = "fling"
    WICK = "wick"


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
    """How the machine stands, and the air that meets it from the front, m/s."""

    attitude: Attitude = Attitude()
    airflow_m_s: float = 0.0


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


@dataclass(frozen=True, eq=False)
class _Pull:
    """What draws fluid along: gravity and air, unit of gravity, and each zone's coefficients."""

    down: Array
    along: Array  # (Z, 3) pull within each patch
    air: Array  # (Z, 3) air's part of it


def flow_map(
    machine: Machine, wind: Wind, priors: Priors, detail: Detail = DETAILS[0]
) -> FlowMap:
    """Courses of fluid over a machine.

    Raises UnknownNumber if the priors lack a flow coefficient.
    """
    surfaces = surfaces_of(machine)
    exposure = np.array([_exposure(z.airflow_exposure, priors) for z in machine.zones])
    pull = _pull(surfaces, wind.attitude, wind.airflow_m_s * exposure, priors)
    weights: dict[tuple[int, int, Way], float] = defaultdict(float)
    ground = np.zeros(surfaces.count)
    edges = shared_edges(machine, surfaces)
    run, fall = _run_shares(surfaces, edges, pull, priors)
    for (a, b), w in run.items():
        weights[a, b, Way.RUN] += w
    for a in range(surfaces.count):
        if fall[a] <= 0:
            continue
        hits, missed = _landing(surfaces, a, pull)
        ground[a] += fall[a] * missed
        for b, share in hits.items():
            weights[a, b, Way.DRIP] += fall[a] * share
    for (a, b), w in _carried(surfaces, pull, priors).items():
        weights[a, b, Way.CARRY] += w
    for (a, b), w in _flung(machine, surfaces, priors).items():
        weights[a, b, Way.FLING] += w
    index = {z: k for k, z in enumerate(surfaces.ids)}
    for p in machine.paths:
        way = Way.WICK if p.wicks else Way.RUN
        weights[index[p.source], index[p.target], way] += p.share
    strong = _strongest(weights, ground, detail)
    courses, order = _without_loops(strong, surfaces, -(surfaces.centre @ pull.down))
    collectors = _collectors(courses, detail.feeds)
    courses = _main_feeds(courses, collectors, detail.feeds)
    steep = np.minimum(np.linalg.norm(_within(surfaces, pull.down[None, :]), axis=1), 1.0)
    return FlowMap(
        surfaces=surfaces,
        edges=edges,
        down=pull.down,
        along=pull.along,
        courses=courses,
        to_ground=ground,
        order=order,
        collectors=collectors,
        track_mm=_track(surfaces, pull),
        steepness=steep,
    )


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


def _exposure(stated: float | None, priors: Priors) -> float:
    return priors["flow.airflow_exposure"] if stated is None else stated


def _pull(s: Surfaces, attitude: Attitude, air_m_s: Array, priors: Priors) -> _Pull:
    """Gravity along each patch, and the drag of the air on the film beside it.

    The drag is rho_air c_f U^2 / 2 against the film's weight rho g delta per area.
    """
    film_m = priors["flow.film_mm"] / 1000
    drag = AIR_DENSITY * priors["flow.air_friction"] * air_m_s**2 / 2
    ratio = drag / (OIL_DENSITY * GRAVITY * film_m)
    air = np.minimum(ratio, priors["flow.airflow_limit"])[:, None] * REARWARD
    return _Pull(attitude.down, _within(s, attitude.down[None, :] + air), air)


def _within(s: Surfaces, vectors: Array) -> Array:
    """The part of each vector that lies in its patch; a lump lets fluid go round it."""
    flat = (1 - s.lump)[:, None]
    return vectors - flat * np.sum(vectors * s.normal, axis=1)[:, None] * s.normal


def _run_shares(
    s: Surfaces, edges: Iterable[SharedEdge], pull: _Pull, priors: Priors
) -> tuple[dict[tuple[int, int], float], Array]:
    """Share of each zone's outflow over each shared edge, and the share that falls off."""
    spread, corner = priors["flow.sideways_spread"], priors["flow.corner_drip"]
    run: dict[tuple[int, int], float] = {}
    downhill, falls = np.zeros(s.count), np.zeros(s.count)
    for e in edges:
        for a, b in ((e.first, e.second), (e.second, e.first)):
            strength = _over_edge(s, a, b, np.array(e.middle), pull)
            if strength is None:
                continue
            w = e.length_mm * max(strength, spread)
            downhill[a] += e.length_mm * max(strength, 0.0)
            underside = max(0.0, float(s.normal[b] @ pull.down))
            upright = 1 - max(0.0, float(s.normal[a] @ pull.down))
            drips = w * corner * underside * upright
            falls[a] += drips
            run[a, b] = run.get((a, b), 0.0) + w - drips
    facing = np.sum(s.normal * pull.down, axis=1)
    falls += np.maximum(0.0, _lower_edge(s, pull) - downhill)
    out = np.zeros(s.count)
    for (a, _), w in run.items():
        out[a] += w
    total = out + falls
    total[total <= 0] = 1.0
    fall = np.where(out + falls > 0, falls / total, 1.0)
    # Fluid hanging under a patch lets go before it reaches the edge.
    hanging = np.clip(facing, 0.0, 1.0) * priors["flow.underside_drip"]
    kept = {(a, b): w / total[a] * (1 - hanging[a]) for (a, b), w in run.items()}
    return kept, fall * (1 - hanging) + hanging


def _over_edge(s: Surfaces, a: int, b: int, middle: Array, pull: _Pull) -> float | None:
    """How straight the pull on ``a`` points at its edge with ``b``; None if ``b`` is uphill."""
    way = middle - s.centre[a]
    way = way - (1 - s.lump[a]) * (way @ s.normal[a]) * s.normal[a]
    length = np.linalg.norm(way)
    strength = float(pull.along[a] @ way / length) if length > 1e-9 else 0.0
    drop = float((s.centre[b] - s.centre[a]) @ pull.down)
    gap = float(np.linalg.norm(s.centre[b] - s.centre[a])) or 1.0
    blown = float(pull.air[a] @ (s.centre[b] - s.centre[a])) / gap
    # A neighbour that stands higher is reached only if the air drives the film there.
    if drop / gap + blown < -0.1:
        return None
    return strength


def _lower_edge(s: Surfaces, pull: _Pull) -> Array:
    """Length of edge, mm, through which the pull drives fluid out of each patch."""
    across = np.abs(np.einsum("zkc,zc->zk", s.axes, pull.along))
    return 2 * (s.half[:, 0] * across[:, 1] + s.half[:, 1] * across[:, 0])


def _track(s: Surfaces, pull: _Pull) -> Array:
    """Length of the way across each patch along the pull, mm."""
    across = np.abs(np.einsum("zkc,zc->zk", s.axes, pull.along))
    size = np.linalg.norm(across, axis=1)
    unit = np.where(size[:, None] > 0.05, across / np.maximum(size, 1e-9)[:, None], np.sqrt(0.5))
    return 2 * np.sum(s.half * unit, axis=1)


def _landing(s: Surfaces, a: int, pull: _Pull) -> tuple[dict[int, float], float]:
    """Zones that drops from patch ``a`` land on, with shares, and the share that meets none."""
    starts = _drip_points(s, a, pull)
    fall = pull.down + np.minimum(np.linalg.norm(pull.air[a]), 1.0) * REARWARD
    fall /= np.linalg.norm(fall)
    first = np.full(len(starts), np.inf)
    target = np.full(len(starts), -1)
    for b in range(s.count):
        if b == a:
            continue
        distance = _strike(s, b, starts, fall)
        nearer = distance < first
        first[nearer], target[nearer] = distance[nearer], b
    hits = {int(b): float(np.mean(target == b)) for b in np.unique(target) if b >= 0}
    return hits, float(np.mean(target < 0))


def _drip_points(s: Surfaces, a: int, pull: _Pull) -> Array:
    """Points from which drops leave patch ``a``, shape (P, 3): its lowest part."""
    ticks = np.linspace(-1, 1, GRID)
    u, v = (t.ravel() for t in np.meshgrid(ticks, ticks))
    points = (
        s.centre[a]
        + u[:, None] * s.half[a, 0] * s.axes[a, 0]
        + v[:, None] * s.half[a, 1] * s.axes[a, 1]
    )
    depth = points @ (pull.down + pull.air[a])
    level = np.ptp(depth) < 0.1 * 2 * s.half[a].max()
    if not level:
        points = points[depth >= depth.max() - 0.13 * np.ptp(depth)]
    # Drops hang proud of the surface and scatter a little as they fall.
    proud = points + 4.0 * s.normal[a]
    shifts = 8.0 * np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 0]], float)
    return (proud[None, :, :] + shifts[:, None, :]).reshape(-1, 3)


def _strike(s: Surfaces, b: int, starts: Array, fall: Array) -> Array:
    """Distance each drop falls before it meets patch ``b``; inf if it never does."""
    thick = s.lump[b] > 0.25
    if thick:
        return _strike_box(s.low[b], s.high[b], starts, fall)
    closing = -float(fall @ s.normal[b])
    if closing < 0.08:
        return np.full(len(starts), np.inf)
    distance = ((starts - s.centre[b]) @ s.normal[b]) / closing
    landed = starts + distance[:, None] * fall - s.centre[b]
    inside = np.all(np.abs(landed @ s.axes[b].T) <= s.half[b] + 3.0, axis=1)
    return np.where(inside & (distance > 1.0), distance, np.inf)


def _strike_box(low: Array, high: Array, starts: Array, fall: Array) -> Array:
    steep = np.where(np.abs(fall) < 1e-9, 1e-9, fall)
    near = (np.where(steep > 0, low, high) - starts) / steep
    far = (np.where(steep > 0, high, low) - starts) / steep
    enter, leave = near.max(axis=1), far.min(axis=1)
    return np.where((enter <= leave) & (enter > 1.0), enter, np.inf)


def _carried(s: Surfaces, pull: _Pull, priors: Priors) -> dict[tuple[int, int], float]:
    """Mist and torn-off drops that the air lays on zones behind and below."""
    force = np.linalg.norm(pull.air, axis=1)
    share, reach = priors["flow.carry_share"], priors["flow.carry_reach_mm"]
    found: dict[tuple[int, int], float] = {}
    for a in np.flatnonzero(force > 0.05):
        gap = s.low[a, 0] - s.high[:, 0]
        drop = (s.centre - s.centre[a]) @ pull.down
        aside = np.abs(s.centre[:, 1] - s.centre[a, 1]) - s.half.max(axis=1)
        # Drops fall as they fly: what lies behind and level or below is in their way.
        meets = (gap > 0) & (gap < reach) & (aside < 60) & (drop > -30) & (drop < reach)
        meets &= (s.normal @ REARWARD) < 0.5
        for b in np.flatnonzero(meets):
            nearness = float(np.exp(-gap[b] / (reach / 2))) / max(int(meets.sum()), 1)
            found[int(a), int(b)] = share * min(float(force[a]), 1.0) * nearness
    return found


def _flung(machine: Machine, s: Surfaces, priors: Priors) -> dict[tuple[int, int], float]:
    """Fluid thrown off a rotating part onto zones in its plane of rotation."""
    found: dict[tuple[int, int], float] = {}
    for a, zone in enumerate(machine.zones):
        if zone.spins is None:
            continue
        axis = np.array(zone.spin_axis) / np.linalg.norm(zone.spin_axis)
        apart = s.centre - s.centre[a]
        along = np.abs(apart @ axis)
        out = np.linalg.norm(apart - (apart @ axis)[:, None] * axis, axis=1)
        size = s.half.max(axis=1)
        meets = (along < size + 25) & (out > 0.7 * zone.spins) & (out < 3 * zone.spins + size)
        meets[a] = False
        for b in np.flatnonzero(meets):
            found[a, int(b)] = priors["flow.fling_share"] / int(meets.sum())
    return found


def _strongest(
    weights: dict[tuple[int, int, Way], float], ground: Array, detail: Detail
) -> list[Course]:
    """The courses worth following, their shares scaled so that nothing is lost but drops."""
    out: dict[int, list[Course]] = defaultdict(list)
    for (a, b, way), w in weights.items():
        if w > 0:
            out[a].append(Course(a, b, w, way))
    kept: list[Course] = []
    for a, ways in out.items():
        total = sum(c.share for c in ways) + ground[a]
        ground[a] /= total
        ways.sort(key=lambda c: (-c.share, c.target))
        strong = [c for c in ways if c.share / total >= detail.least_share]
        strong = strong[: detail.ways]
        lost = 1 - ground[a] - sum(c.share for c in strong) / total
        scale = (1 + lost / max(1 - ground[a] - lost, 1e-9)) / total if strong else 0.0
        kept += [Course(a, c.target, float(min(c.share * scale, 1.0)), c.way) for c in strong]
    return kept


def _without_loops(
    courses: list[Course], s: Surfaces, height: Array
) -> tuple[tuple[Course, ...], tuple[int, ...]]:
    """Drop the weakest course of every loop; what is dropped stays open to the seals there."""
    follows: dict[int, set[int]] = {k: set() for k in range(s.count)}
    firm, sideways = [], []
    ranked = sorted(courses, key=lambda c: (-c.share, -(height[c.source] - height[c.target])))
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
        for c in sorted(feeds, key=lambda c: -c.share)[most:]
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
    waits = {k: 0 for k in follows}
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
