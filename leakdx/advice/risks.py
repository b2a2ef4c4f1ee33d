"""What a look may do to joints that were tight: swollen rubber, disturbed joints.

A look that washes brings degreaser or solvent onto rubber; one that tries the screws of a joint
or takes it apart may start a leak there.  The chances are judgement (``looks.swells``,
``looks.disturbs`` of the priors).  What access steps do to joints on the way is not known: no
step of a machine file says which joints it parts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from leakdx.advice.renewal import Labour
from leakdx.machine.model import Inspection, Machine, MachineState, Material, Method, SealKind
from leakdx.priors.model import Priors

# Rubbers that a degreaser or solvent may swell or harden, fluorocarbon hardly.
RUBBERS = (
    Material.NITRILE,
    Material.NEOPRENE,
    Material.ETHYLENE_PROPYLENE,
    Material.POLYACRYLATE,
    Material.SILICONE,
    Material.FLUOROCARBON,
)
SWELLS = "degreaser or solvent can swell the rubber at"
TRIED = "trying the screws can start a leak at"
UNDONE = "taking it apart can start a leak at"
# What is no joint is not disturbed by being taken off.
_WALLS = frozenset(
    {
        SealKind.HEAT_EXCHANGER_CORE,
        SealKind.CASTING_CRACK,
        SealKind.CASTING_POROSITY,
        SealKind.WELD,
        SealKind.CORRODED_WALL,
        SealKind.OPEN_HOLE,
    }
)
# Below this no risk is worth a word, minutes.
_WORD = 0.5
_NAMED = 3


@dataclass(frozen=True)
class Harm:
    """A seal point that a look may make leak: the chance where it is tight, and by what."""

    seal: str
    chance: float
    by: str


def washes(inspection: Inspection) -> bool:
    """Whether a look brings degreaser or solvent onto what it looks at."""
    cleans = inspection.method in (Method.WASH_AND_RUN, Method.POWDER)
    return cleans or MachineState.WASHED in inspection.state


def harms_of(
    machine: Machine, inspection: Inspection, places: frozenset[str], priors: Priors
) -> tuple[Harm, ...]:
    """What a look at these zones may harm, in the machine's order.

    Nothing is reckoned for a seal point of unknown material.
    """
    found = []
    for seal in machine.seal_points:
        if washes(inspection) and places & set(seal.zones) and seal.material in RUBBERS:
            material = seal.material
            found.append(Harm(seal.id, priors[f"looks.swells.{material.value}"], SWELLS))
        joint = seal.id in inspection.reads.seal_points and seal.kind not in _WALLS
        if joint and "joint" in inspection.destroys:
            if inspection.method is Method.TORQUE_CHECK:
                found.append(Harm(seal.id, priors["looks.disturbs.tried"], TRIED))
            else:
                found.append(Harm(seal.id, priors["looks.disturbs.undone"], UNDONE))
    return tuple(found)


def risk_of(harms: Sequence[Harm], labour: Labour, leaks: Mapping[str, float]) -> float:
    """Expected minutes that harmed joints cost; a joint that leaks already cannot start to.

    leaks: chance that each seal point leaks.
    """
    return sum(h.chance * (1 - leaks[h.seal]) * labour.left(h.seal) for h in harms)


def told(
    harms: Sequence[Harm], labour: Labour, leaks: Mapping[str, float], names: Mapping[str, str]
) -> tuple[str, ...]:
    """The risks in words, one for each way of harming, the dearest joints first.

    names: of the seal points, by id.
    """
    found = []
    for by in dict.fromkeys(h.by for h in harms):
        cost = {h: risk_of([h], labour, leaks) for h in harms if h.by == by}
        if sum(cost.values()) < _WORD:
            continue
        order = sorted(cost, key=lambda h: -cost[h])
        where = [names[h.seal] for h in order[:_NAMED]]
        more = len(order) - len(where)
        where += [f"{more} more joint{'s' if more > 1 else ''}"] if more else []
        ends = f"{', '.join(where[:-1])} and {where[-1]}" if len(where) > 1 else where[0]
        found.append(f"{by} {ends}")
    return tuple(found)
