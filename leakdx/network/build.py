"""From a machine and its flow to a Bayesian network.

Causes raise seals; seals and other origins feed zones; zones feed the zones that their
fluid reaches; each zone is the worst of what reaches it.  Each fluid has its own zones.
Nothing here assumes a single fault, and nothing here knows what was seen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from leakdx.flow.carry import Scale, Zones, leak_levels, scale_for, zone_levels, zones_for
from leakdx.flow.courses import DETAILS, FlowMap, collected_shares, flow_map
from leakdx.flow.liquids import liquid_at
from leakdx.flow.outlets import first_zones
from leakdx.machine.model import Fluid, SignKind
from leakdx.network.alike import alike
from leakdx.network.causes import SealParents, cause_tables, seal_table
from leakdx.network.odds import class_shares, crowding
from leakdx.network.refit import following, shaken
from leakdx.network.setting import (
    DRY_WET,
    LEAK_STATES,
    OTHER_STATES,
    Setting,
    flow_name,
    mixed_name,
    other_name,
    seal_name,
)
from leakdx.network.signs import HOT, is_hot, look_tables, sign_tables
from leakdx.network.tables import Array, Influence, Maximum, Network, Table, Variable
from leakdx.network.unlisted import with_lasting
from leakdx.network.uses import rate_factor, seldom
from leakdx.priors.model import Priors

Piece = tuple[Variable, Table | Maximum]


@dataclass(frozen=True, eq=False)
class Spread:
    """How fluids spread in one epoch: the same map for all, scale and zones for each."""

    epoch: int
    flow: FlowMap
    scale: Scale
    zones: dict[str, Zones]


@dataclass(frozen=True, eq=False)
class LeakNetwork:
    """The network of a setting, and the spreading it was built from, by epoch."""

    setting: Setting
    network: Network
    spreads: tuple[Spread, ...]

    def flows(self, zone: str, epoch: int) -> tuple[str, ...]:
        """Fluids that have a variable for that zone in that epoch, in the machine's order."""
        names = (f.id for f in self.setting.machine.fluids)
        return tuple(f for f in names if flow_name(f, zone, epoch) in self.network)

    @property
    def others(self) -> dict[tuple[str, str], str]:
        """Of each fluid and zone, what else lets it out there now: the newest such variable."""
        return {
            (fluid.id, zone.id): name
            for epoch in range(len(self.setting.epochs))
            for fluid in self.setting.machine.fluids
            for zone in self.setting.machine.zones
            if (name := other_name(fluid.id, zone.id, epoch)) in self.network
        }


@dataclass(frozen=True)
class Numbers:
    """Priors by what they go into: ordinary tables, or all that flow and looks are made of."""

    tables: Priors
    maxima: Priors


def build_network(setting: Setting, priors: Priors, like: LeakNetwork | None = None) -> LeakNetwork:
    """The Bayesian network for a setting.

    like: a network of the same setting with other priors, whose variables and arrows are kept.
    The flow then takes the same courses in other shares.  What the priors would add to a zone
    is left out; what they would leave out (a seal point that wets too little of it) brings
    nothing.  Raises UnknownNumber if a prior number is missing, ValueError for a fluid whose
    viscosity points make no curve.
    """
    spreads = spreads_of(setting, flows_of(setting, priors, like), priors)
    return network_of(setting, spreads, Numbers(priors, priors), like)


def network_of(
    setting: Setting, spreads: tuple[Spread, ...], priors: Numbers, like: LeakNetwork | None
) -> LeakNetwork:
    """As build_network, from fluids that spread already."""
    pieces = pieces_of(setting, spreads, priors, like)
    variables = tuple(v for v, _ in pieces)
    tables = tuple(p for _, p in pieces if isinstance(p, Table))
    maxima = tuple(p for _, p in pieces if isinstance(p, Maximum))
    if like is not None:
        maxima = alike(maxima, like.network.maxima)
    return LeakNetwork(setting, Network(variables, tables, maxima), spreads)


def flows_of(
    setting: Setting, priors: Priors, like: LeakNetwork | None = None
) -> tuple[FlowMap, ...]:
    """The flow of each epoch; along the courses of ``like``, if any."""
    detail = DETAILS[setting.detail]
    known = [None] * len(setting.epochs) if like is None else [s.flow for s in like.spreads]
    return tuple(
        flow_map(setting.machine, epoch.wind, priors, detail, flow)
        for epoch, flow in zip(setting.epochs, known, strict=True)
    )


def spreads_of(setting: Setting, flows: tuple[FlowMap, ...], priors: Priors) -> tuple[Spread, ...]:
    """How fluids spread in each epoch, by a flow for each."""
    return tuple(_spread(setting, n, flow, priors) for n, flow in enumerate(flows))


def pieces_of(
    setting: Setting, spreads: tuple[Spread, ...], numbers: Numbers, like: LeakNetwork | None
) -> list[Piece]:
    """All variables with their tables and maxima, which may name more parents than ``like``.

    Of priors of B draws the tables may have a last axis (B,).
    """
    priors = numbers.tables
    times = {seal: len(odds) for seal, odds in setting.odds.items()}
    pieces: list[Piece] = list(cause_tables(setting.machine, priors, times))
    known = frozenset(v.name for v, _ in pieces)
    parents = SealParents(
        setting.machine, known, setting.seen, checked=setting.checked, fresh=setting.fresh
    )
    pieces += _seals(setting, parents, priors)
    for spread in spreads:
        pieces += _zones(setting, spread, numbers, like)
    pieces = with_lasting(setting, pieces)
    pieces += _mixed(setting, {v.name: v for v, _ in pieces})
    places = [(s.flow, s.scale) for s in spreads]
    sizes = {v.name: v.size for v, _ in pieces}
    pieces += look_tables(setting, places, sizes, numbers.maxima)
    pieces += sign_tables(setting, places, sizes, numbers.maxima)
    return pieces


def _spread(setting: Setting, number: int, flow: FlowMap, priors: Priors) -> Spread:
    machine, epoch = setting.machine, setting.epochs[number]
    zones = {
        f.id: zones_for(machine, flow, liquid_at(f, epoch.temperature_C, priors), priors)
        for f in machine.fluids
    }
    return Spread(number, flow, scale_for(epoch.hours, priors), zones)


def _seals(setting: Setting, parents: SealParents, priors: Priors) -> Iterator[Piece]:
    fluids = {f.id: f for f in setting.machine.fluids}
    before = parents.before()
    crowd = crowding(setting.machine, priors)
    for seal in setting.machine.seal_points:
        generations = setting.odds.get(seal.id, (1.0,))
        own = [g for g in range(len(generations)) if (seal.id, g) not in setting.lasting]
        for generation, odds in enumerate(generations):
            this = (seal.id, generation)
            variable = Variable(seal_name(seal.id, generation), LEAK_STATES)
            of: tuple[str, ...] = ()
            # A lasting one is what it was, so what acts on it acted on the former one.
            values = np.eye(len(LEAK_STATES))[0]
            if this not in setting.lasting:
                hangs_on = parents if generation == own[-1] else before
                of, values = seal_table(seal, fluids[seal.fluid], odds * crowd, hangs_on, priors)
            if this in setting.disturbed:
                values = shaken(values, setting.disturbed[this], priors)
            if this in setting.lasting or this in setting.stays:
                of = (seal_name(seal.id, generation - 1), *of)
                values = following(values, setting.stays.get(this, 1.0))
            yield variable, Table(variable.name, of, values)


def _zones(
    setting: Setting, spread: Spread, numbers: Numbers, like: LeakNetwork | None
) -> Iterator[Piece]:
    if like is None:
        needed = _needed(setting, spread, numbers.maxima)
    else:
        ids = enumerate(spread.flow.surfaces.ids)
        needed = {k for k, zone in ids if like.flows(zone, spread.epoch)}
    for fluid in setting.machine.fluids:
        yield from _zones_of_fluid(setting, spread, fluid, needed, numbers)


def _needed(setting: Setting, spread: Spread, priors: Priors) -> set[int]:
    """Zones (indices) that bear on a reading: those read, and all that feed them."""
    index = {z: k for k, z in enumerate(spread.flow.surfaces.ids)}
    if setting.whole:
        return set(index.values())
    seals = {s.id: s for s in setting.machine.seal_points}
    asked = {z for e, z in setting.read if e == spread.epoch}
    asked |= {z for e, s in setting.looked if e == spread.epoch for z in seals[s].zones}
    kinds = {s.kind for s in setting.signs if s.epoch == spread.epoch}
    if SignKind.GROUND_WET in kinds:
        asked |= index.keys()
    if kinds & set(HOT):
        asked |= {z.id for z in setting.machine.zones if is_hot(z, priors)}
    courses = [c for c in spread.flow.courses if not c.sideways]
    return _walked({index[z] for z in asked}, [(c.target, c.source) for c in courses])


def _walked(start: set[int], steps: Iterable[tuple[int, int]]) -> set[int]:
    """All that can be reached from ``start`` by steps (from, to), start included."""
    leads = defaultdict(list)
    for here, there in steps:
        leads[here].append(there)
    found, stack = set(start), list(start)
    while stack:
        new = set(leads[stack.pop()]) - found
        found |= new
        stack.extend(new)
    return found


def _reached(setting: Setting, spread: Spread, fluid: Fluid) -> set[int]:
    """Zones (indices) that need a variable for a fluid.

    The machine's first fluid may turn up anywhere, from an origin nobody listed; another
    only where its own seal points lead, or where a reading says it was seen.
    """
    index = {z: k for k, z in enumerate(spread.flow.surfaces.ids)}
    if fluid.id == setting.machine.fluids[0].id:
        return set(index.values())
    start = {index[z] for s in setting.machine.seal_points if s.fluid == fluid.id for z in s.zones}
    start |= {index[z] for f, z in setting.wetted if f == fluid.id}
    return _walked(start, [(c.source, c.target) for c in spread.flow.courses])


def _zones_of_fluid(
    setting: Setting, spread: Spread, fluid: Fluid, needed: set[int], numbers: Numbers
) -> Iterator[Piece]:
    priors = numbers.maxima
    flow, scale, zones = spread.flow, spread.scale, spread.zones[fluid.id]
    fed = _seal_influences(setting, spread, fluid, priors)
    upstream: defaultdict[int, defaultdict[int, float]] = defaultdict(lambda: defaultdict(float))
    for c in flow.courses:
        if not c.sideways:
            # Two ways between the same zones (over the edge and in drops) are one here.
            upstream[c.target][c.source] += c.share
    states = tuple(f"level{k}" for k in range(scale.levels))
    ids = flow.surfaces.ids
    keeps = np.array([zones.appetite(float(t)) for t in scale.hours])
    reached = _reached(setting, spread, fluid)
    origins = len(reached - flow.collectors)
    wetted = [k for k in flow.order if k in reached & needed]
    running = [k for k in wetted if k not in flow.collectors]
    here = set(running)
    others = _other_levels(scale, priors)
    for k in running:
        other = Variable(other_name(fluid.id, ids[k], spread.epoch), OTHER_STATES)
        spilled = _spilled(setting, spread, fluid, ids[k])
        chances = _other_chances(origins, spilled, numbers.tables)
        yield other, Table(other.name, (), chances)
        influences = [Influence(other.name, others), *fed[k]]
        influences += [
            Influence(
                flow_name(fluid.id, ids[source], spread.epoch),
                zone_levels(min(share, 1.0), keeps[:, source], scale, priors),
            )
            for source, share in upstream[k].items()
            if source in here
        ]
        effect = Variable(flow_name(fluid.id, ids[k], spread.epoch), states)
        background = np.eye(scale.levels)[0]
        yield effect, Maximum(effect.name, background, tuple(influences))
    for k in wetted:
        if k in flow.collectors and (spread.epoch, ids[k]) in setting.read:
            feeds = [(s, share) for s, share in collected_shares(flow, k).items() if s in here]
            influences = [_any(i) for i in fed[k]] + [
                _any(
                    Influence(
                        flow_name(fluid.id, ids[s], spread.epoch),
                        zone_levels(share, keeps[:, s], scale, priors),
                    )
                )
                for s, share in sorted(feeds, key=lambda f: flow.order.index(f[0]))
            ]
            effect = Variable(flow_name(fluid.id, ids[k], spread.epoch), DRY_WET)
            stray = priors["base_rates.stray_wet"]
            background = np.array([1 - stray, stray])
            yield effect, Maximum(effect.name, background, tuple(influences))


def _any(influence: Influence) -> Influence:
    """The same influence, asking only whether anything arrives at all."""
    return Influence(influence.parent, np.stack([influence.table[0], 1 - influence.table[0]]))


def unlisted_elsewhere(network: LeakNetwork, priors: Priors) -> float:
    """Chance of an unlisted origin at a zone that bears on no reading, in no epoch.

    Such zones need not be built; what is not looked at keeps its prior.
    """
    setting, spread = network.setting, network.spreads[-1]
    left, ids, built = 1.0, spread.flow.surfaces.ids, network.others
    for fluid in setting.machine.fluids:
        zones = _reached(setting, spread, fluid) - spread.flow.collectors
        missing = sum((fluid.id, ids[k]) not in built for k in zones)
        left *= (1 - priors["base_rates.unlisted"]) ** (missing / max(len(zones), 1))
    return 1 - left


def _seal_influences(
    setting: Setting, spread: Spread, fluid: Fluid, priors: Priors
) -> defaultdict[int, list[Influence]]:
    """What the seal points of a fluid bring to each zone."""
    epoch = setting.epochs[spread.epoch]
    found: defaultdict[int, list[Influence]] = defaultdict(list)
    for seal in setting.machine.seal_points:
        if seal.fluid != fluid.id:
            continue
        strength = rate_factor(seal.drive, epoch, priors)
        for zone, share in first_zones(seal, spread.flow, priors).items():
            table = leak_levels(share, spread.scale, priors, strength)
            if seal.leaks_into is not None:
                table = seldom(table, priors)
            for generation in epoch.active.get(seal.id, (0,)):
                found[zone].append(Influence(seal_name(seal.id, generation), table))
    return found


def _spilled(setting: Setting, spread: Spread, fluid: Fluid, zone: str) -> bool:
    """Whether the job says that this fluid (or one not named) was spilled on a zone."""
    spills = setting.epochs[spread.epoch].spilled
    return (None, zone) in spills or (fluid.id, zone) in spills


def _other_chances(zones: int, spilled_here: bool, priors: Priors) -> Array:
    """Chances of no other origin, a spill, and an unlisted origin at one of ``zones``, (3,)."""
    unlisted = 1 - (1 - priors["base_rates.unlisted"]) ** (1 / zones)
    spilled = 1 - (1 - priors["base_rates.spilled"]) ** (1 / zones)
    if spilled_here:
        spilled = priors["signs.said"]
    return np.array([(1 - spilled) * (1 - unlisted), spilled, (1 - spilled) * unlisted])


def _other_levels(scale: Scale, priors: Priors) -> Array:
    """P(level | other origin), shape (levels, 3); an unlisted origin leaks as any seal does."""
    unlisted = leak_levels(1.0, scale, priors) @ np.append(0.0, class_shares(priors))
    spill_ml_h = priors["flow.spill_ml"] / scale.hours
    factor = np.exp(np.log(priors["flow.spill_factor"]) * np.linspace(-1.5, 1.5, 7))
    spilled = scale.chances((spill_ml_h[:, None] * factor).ravel())
    return np.column_stack([np.eye(scale.levels)[0], spilled, unlisted])


def _mixed(setting: Setting, made: Mapping[str, Variable]) -> Iterator[Piece]:
    """For zones read without knowing the fluid: the most of any fluid there."""
    for epoch, zone in sorted(setting.mixed):
        names = (flow_name(f.id, zone, epoch) for f in setting.machine.fluids)
        parents = [made[n] for n in names if n in made]
        effect = Variable(mixed_name(zone, epoch), parents[0].states)
        same = np.eye(effect.size)
        influences = tuple(Influence(p.name, same) for p in parents)
        yield effect, Maximum(effect.name, same[0], influences)
