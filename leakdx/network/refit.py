"""A joint that was apart: how likely it leaks again, and what the work did to its neighbours.

A renewal goes wrong by a few faults of its own, each with a chance; a check before closing up
finds a share of them.  Nothing here is about the age or the heat of the old part.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from enum import StrEnum
from math import dist
from types import MappingProxyType

import numpy as np

from leakdx.machine.model import CauseKind, Fluid, Machine, SealKind, SealPoint
from leakdx.network.odds import class_shares, odds_of
from leakdx.network.tables import Array
from leakdx.priors.model import Priors

# Chances drawn or multiplied beyond this stay a chance.
MOST_CHANCE = 0.9


class Check(StrEnum):
    """What was checked at a renewal before it was closed up."""

    MIRROR = "mirror"
    WIPED = "wiped"
    TORQUE = "torque"


class How(StrEnum):
    """What a renewal put in."""

    NEW_PART = "new_part"
    SHORTENED = "shortened"
    REFITTED = "refitted"


class Fault(StrEnum):
    """What goes wrong when a joint is put together."""

    ROLLED = "rolled"
    UNCLEAN = "unclean"
    WRONG_SEALANT = "wrong_sealant"
    FASTENER = "fastener"
    LIP = "lip"
    DAMAGED = "damaged"
    UNMENDED = "unmended"


class Nearness(StrEnum):
    """How a joint lies to one that was worked on."""

    SAME_GASKET = "same_gasket"
    NEAR = "near"
    LAID_BARE = "laid_bare"


K = SealKind
_GASKETS = (K.FLAT_GASKET, K.MOULDED_GASKET)
_RINGS = (K.O_RING, K.TUBE_BASE)
_FACES = (*_GASKETS, K.SEALANT_JOINT, K.HEAD_GASKET)
# The kinds of seal point that each fault belongs to.
BELONGS: Mapping[Fault, tuple[SealKind, ...]] = MappingProxyType(
    {
        Fault.ROLLED: (*_GASKETS, *_RINGS, K.SHAFT_LIP_SEAL),
        Fault.UNCLEAN: (*_FACES, K.O_RING, K.CRUSH_WASHER, K.CORE_PLUG, K.HOSE_END),
        Fault.WRONG_SEALANT: (*_GASKETS, K.O_RING),
        Fault.FASTENER: (
            *_FACES,
            K.TUBE_BASE,
            K.THREADED_PLUG,
            K.BONDED_WASHER,
            K.CRUSH_WASHER,
            K.PIPE_UNION,
            K.SENDER,
            K.HOSE_END,
        ),
        Fault.LIP: (K.SHAFT_LIP_SEAL, K.ROD_SEAL),
        Fault.DAMAGED: tuple(SealKind),
        Fault.UNMENDED: (K.BREATHER,),
    }
)
# The faults that each check finds.
FINDS: Mapping[Check, tuple[Fault, ...]] = MappingProxyType(
    {
        Check.MIRROR: (Fault.ROLLED, Fault.WRONG_SEALANT, Fault.LIP),
        Check.WIPED: (Fault.UNCLEAN,),
        Check.TORQUE: (Fault.FASTENER,),
    }
)
# Shared causes that are such a fault, where a machine lists them.
FAULT_OF_CAUSE: Mapping[CauseKind, Fault] = MappingProxyType(
    {
        CauseKind.GASKET_ROLLED: Fault.ROLLED,
        CauseKind.WRONG_SEALANT: Fault.WRONG_SEALANT,
        CauseKind.FASTENERS_LOOSE: Fault.FASTENER,
    }
)
# Walls and holes: nothing that work beside them could move.
UNMOVED = frozenset(
    {
        K.HEAT_EXCHANGER_CORE,
        K.CASTING_CRACK,
        K.CASTING_POROSITY,
        K.WELD,
        K.CORRODED_WALL,
        K.OPEN_HOLE,
        K.BREATHER,
    }
)


def fault_chance(fault: Fault, seal: SealPoint, priors: Priors) -> float:
    """Chance of a fault when a seal point is put together, no check made."""
    if seal.kind not in BELONGS[fault]:
        return 0.0
    if fault is Fault.ROLLED and seal.tight_access:
        return priors["refit.fault.rolled_blind"]
    chance = priors[f"refit.fault.{fault.value}"]
    if seal.tight_access:
        chance = np.minimum(chance * priors["refit.blind"], MOST_CHANCE)
    return chance


def overlooked(fault: Fault, checks: Collection[Check], priors: Priors) -> float:
    """Share of a fault that is left after some checks, which find it each on its own."""
    left = 1.0
    for check in FINDS:
        if check in checks and fault in FINDS[check]:
            left = left * (1 - priors[f"refit.found.{check.value}.{fault.value}"])
    return left


def leaks_again(seal: SealPoint, checks: Collection[Check], priors: Priors) -> float:
    """Chance that a renewed seal point leaks by a fault of the renewal: some fault, overlooked."""
    sound = 1.0
    for fault in Fault:
        if seal.kind in BELONGS[fault]:
            sound = sound * (
                1 - fault_chance(fault, seal, priors) * overlooked(fault, checks, priors)
            )
    return 1 - sound


def refit_odds(seal: SealPoint, fluid: Fluid, checks: Collection[Check], priors: Priors) -> float:
    """Odds that a renewed seal point leaks; what presses on it counts, as for any other."""
    odds = odds_of(leaks_again(seal, checks, priors))
    odds *= priors[f"modifiers.fluid.{fluid.kind.value}"]
    odds *= priors[f"modifiers.drive.{seal.drive.value}"]
    return odds


def neighbours(
    machine: Machine, seal: SealPoint, reach_mm: float
) -> Iterator[tuple[tuple[int, float], str, Nearness]]:
    """Joints that work on one may disturb: (order, id, how they lie to it), by file order.

    Stretches of the same gasket, joints within reach and joints behind the same last step; the
    lower the order, the sooner it is to be followed.
    """
    zones = {z.id: z.centroid_mm for z in machine.zones}
    here = seal.position_mm or zones[seal.zones[0]]
    for other in machine.seal_points:
        if other.id == seal.id or other.kind in UNMOVED:
            continue
        away = dist(here, other.position_mm or zones[other.zones[0]])
        if seal.part_of is not None and other.part_of == seal.part_of:
            yield (0, away), other.id, Nearness.SAME_GASKET
        elif None not in (seal.position_mm, other.position_mm) and away <= reach_mm:
            yield (1, away), other.id, Nearness.NEAR
        elif seal.access and other.access and other.access[-1] == seal.access[-1]:
            yield (2, away), other.id, Nearness.LAID_BARE


def disturbed_by(near: Collection[Nearness], priors: Priors) -> float:
    """Chance that some works nearby made a joint leak that was tight."""
    tight = 1.0
    for one in near:
        tight = tight * (1 - priors[f"refit.disturbs.{one.value}"])
    return 1 - tight


def shaken(table: Array, chance: float | Array, priors: Priors) -> Array:
    """A table of leak classes (4, ...) after what was tight began to leak with some chance."""
    moved = table[0] * chance
    shares = class_shares(priors)
    rows = [table[0] - moved, *(t + moved * s for t, s in zip(table[1:], shares, strict=True))]
    return np.stack(np.broadcast_arrays(*rows))


def following(table: Array, stays: float | Array) -> Array:
    """A table (4, ...) with a parent more, the class of the joint as it was: (4, 4, ...).

    A leak stays, in its class, with the chance ``stays``; otherwise the joint is as in the table.
    """
    columns = [table]
    for k in range(1, len(table)):
        same = np.zeros(len(table))
        same[k] = 1.0
        lie = same.reshape(-1, *[1] * (table.ndim - 1))
        columns.append(np.asarray((1 - stays) * table + stays * lie))
    return np.stack(np.broadcast_arrays(*columns), axis=1)
