"""Close looks at seal points, and signs of the whole machine, as variables.

They are built only where they were read: a sign hangs on every seal point of its fluid.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from leakdx.flow.carry import Scale
from leakdx.flow.courses import FlowMap, ground_shares
from leakdx.machine.model import FluidKind, SealPoint, SignKind, Zone
from leakdx.network.causes import between_cases, strained_fluids
from leakdx.network.looks import LOOKS, looks_of_flow
from leakdx.network.odds import CLASSES
from leakdx.network.setting import (
    Setting,
    SignAsked,
    flow_name,
    look_name,
    seal_name,
    sign_name,
)
from leakdx.network.tables import Array, Influence, Maximum, Variable
from leakdx.network.uses import close_looks, seldom
from leakdx.priors.model import Priors

Piece = tuple[Variable, Maximum]
Place = tuple[FlowMap, Scale]

SEAL_LOOKS = ("tight", "weeping", "drops_form", "dripping")
NO_YES = ("no", "yes")
REGIMES = (
    SignKind.LEAKS_COLD_START,
    SignKind.LEAKS_HOT_IDLE,
    SignKind.LEAKS_AT_SPEED,
    SignKind.LEAKS_AT_REST,
)
HOT = (SignKind.SMOKE, SignKind.BURNT_SMELL)
INTERNAL = (SignKind.LEVEL_RISES, SignKind.FLUID_THINNED, SignKind.FLUID_EMULSIFIED)


def is_hot(zone: Zone, priors: Priors) -> bool:
    """Whether fluid on a zone smokes and smells when the machine is hot."""
    return (zone.temperature_C or 0.0) >= priors["signs.hot_zone_C"]


def look_tables(
    setting: Setting, places: Sequence[Place], sizes: Mapping[str, int], priors: Priors
) -> Iterator[Piece]:
    """How each seal point that was looked at closely appears.

    Its own leak shows; so may fluid that came from above, which is why the zone counts.
    """
    seals = {s.id: s for s in setting.machine.seal_points}
    cases = strained_fluids(setting.machine)
    for epoch, seal_id in sorted(setting.looked):
        seal = seals[seal_id]
        generations = setting.epochs[epoch].active.get(seal_id, (0,))
        looks = close_looks(seal, setting.epochs[epoch], places[epoch][1], priors)
        if between_cases(seal, cases):
            looks = seldom(looks, priors)
        influences = [Influence(seal_name(seal_id, generations[-1]), looks)]
        for zone in seal.zones[:1]:
            if (flow := flow_name(seal.fluid, zone, epoch)) in sizes:
                influences.append(Influence(flow, _seen_from_above(sizes[flow], priors)))
        effect = Variable(look_name(seal_id, epoch), SEAL_LOOKS)
        yield effect, Maximum(effect.name, np.eye(4)[0], tuple(influences))


def _seen_from_above(levels: int, priors: Priors) -> Array:
    """P(look that fluid from above gives a tight point | level of flow there), (4, levels)."""
    wet = np.array([0.0] + [priors["detection.seal.seen_above"]] * (levels - 1))
    return np.stack([1 - wet, wet, np.zeros(levels), np.zeros(levels)])


def sign_tables(
    setting: Setting, places: Sequence[Place], sizes: Mapping[str, int], priors: Priors
) -> Iterator[Piece]:
    """The whole-machine signs that were read; ``places`` are the epochs' flows and scales."""
    for sign in sorted(setting.signs, key=sign_name):
        effect = Variable(sign_name(sign), NO_YES)
        influences = list(_influences(setting, sign, places[sign.epoch], sizes, priors))
        without = priors[f"signs.{sign.kind.value}.without"]
        background = np.array([1 - without, without])
        yield effect, Maximum(effect.name, background, tuple(influences))


def _influences(
    setting: Setting, sign: SignAsked, place: Place, sizes: Mapping[str, int], priors: Priors
) -> Iterator[Influence]:
    flow = place[0]
    if sign.kind is SignKind.GROUND_WET or sign.kind in HOT:
        yield from _from_zones(setting, sign, place, sizes, priors)
        return
    active = setting.epochs[sign.epoch].active
    for seal in _seals_in_flow_order(setting, flow):
        if not _concerns(setting, sign, seal):
            continue
        yes = _strength(sign.kind, seal, priors)
        for generation in active.get(seal.id, (0,)):
            yield Influence(seal_name(seal.id, generation), np.array([1 - yes, yes]))


def _seals_in_flow_order(setting: Setting, flow: FlowMap) -> list[SealPoint]:
    """Seal points front to rear: neighbours in the chain are then neighbours on the machine."""
    place = dict(zip(flow.surfaces.ids, flow.surfaces.centre, strict=True))
    return sorted(setting.machine.seal_points, key=lambda s: tuple(-place[s.zones[0]]))


def _concerns(setting: Setting, sign: SignAsked, seal: SealPoint) -> bool:
    if sign.kind in INTERNAL:
        return seal.leaks_into == sign.fluid
    if sign.kind is SignKind.FUEL_SMELL:
        fuels = {FluidKind.PETROL, FluidKind.DIESEL_FUEL}
        return any(f.id == seal.fluid and f.kind in fuels for f in setting.machine.fluids)
    return seal.fluid == sign.fluid


def _strength(kind: SignKind, seal: SealPoint, priors: Priors) -> Array:
    """Chance of the sign for each leak class, shape (4,)."""
    if kind in REGIMES:
        shows = priors[f"signs.{kind.value}.{seal.drive.value}"]
        return np.array([0.0, *(shows * priors[f"signs.regime_seen.{c}"] for c in CLASSES)])
    return np.array([0.0, *(priors[f"signs.{kind.value}.{c}"] for c in CLASSES)])


def _from_zones(
    setting: Setting, sign: SignAsked, place: Place, sizes: Mapping[str, int], priors: Priors
) -> Iterator[Influence]:
    """Fluid on the ground, or on hot metal: these hang on zones, not on seals."""
    flow, scale = place
    looks = looks_of_flow(scale, priors)
    ground = ground_shares(flow)
    for k in sorted(range(flow.surfaces.count), key=lambda k: tuple(-flow.surfaces.centre[k])):
        zone = setting.machine.zones[k]
        name = flow_name(sign.fluid, zone.id, sign.epoch)
        if name not in sizes or k in flow.collectors:
            continue
        if sign.kind is SignKind.GROUND_WET:
            # A film lets nothing fall; runs and drops do, as far as they miss what is below.
            yes = (
                np.array([0.0, *(priors[f"signs.ground_wet.{look}"] for look in LOOKS[1:])]) @ looks
            )
            yes *= ground[k] * priors["signs.ground_wet.falls"]
        elif is_hot(zone, priors):
            yes = np.array([0.0, *(priors[f"signs.{sign.kind.value}.{c}"] for c in CLASSES)])
            yes = yes @ looks
        else:
            continue
        if yes.max() > 0.02:
            yield Influence(name, np.array([1 - yes, yes]))
