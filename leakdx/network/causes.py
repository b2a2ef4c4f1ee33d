"""Shared causes: a case under pressure, a machine whose seals have aged together.

Single causes (ventilation blocked, overfilled, worn rings) act through one variable a
case, so that a seal point has few parents however many causes a machine lists.  Local ones
(loose fasteners, a rolled gasket) act straight on the joints they name or belong to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from leakdx.machine.model import (
    Cause,
    CauseKind,
    Drive,
    Fluid,
    FluidKind,
    Machine,
    SealKind,
    SealPoint,
)
from leakdx.network.noisymax import noisy_or_table
from leakdx.network.odds import CLASSES, base_odds, leak_column
from leakdx.network.refit import FAULT_OF_CAUSE, Check, overlooked
from leakdx.network.setting import cause_name, seal_name
from leakdx.network.tables import Array, Table, Variable
from leakdx.priors.model import Priors

NO_YES = ("no", "yes")
TIRED = "tired"
# Causes that raise the pressure or the level in a case.
PRESSURE = (CauseKind.VENTILATION_BLOCKED, CauseKind.OVERFILLED, CauseKind.WORN_RINGS)
# Causes that age all seals together.
AGEING = (CauseKind.HARDENED_SEALS, CauseKind.OVERHEATED)
# Kinds of seal point that other causes act on where they list none.  A corroded weld or core
# has to be listed: most of them never see salt or water.
AT_HOME = {
    CauseKind.SHAFT_WORN: (SealKind.SHAFT_LIP_SEAL, SealKind.ROD_SEAL),
    CauseKind.WRONG_SEALANT: (SealKind.SEALANT_JOINT, SealKind.MOULDED_GASKET),
    CauseKind.OVERTIGHTENED: (
        SealKind.THREADED_PLUG,
        SealKind.CRUSH_WASHER,
        SealKind.BONDED_WASHER,
    ),
    CauseKind.GASKET_ROLLED: (
        SealKind.FLAT_GASKET,
        SealKind.MOULDED_GASKET,
        SealKind.O_RING,
        SealKind.TUBE_BASE,
        SealKind.SHAFT_LIP_SEAL,
    ),
    CauseKind.CORRODED: (SealKind.CORRODED_WALL, SealKind.CORE_PLUG),
}
# What was done when a joint was last together: it says nothing of the joint before.
REFIT = frozenset(
    {
        CauseKind.WRONG_SEALANT,
        CauseKind.FASTENERS_LOOSE,
        CauseKind.FASTENER_TOO_LONG,
        CauseKind.OVERTIGHTENED,
        CauseKind.GASKET_ROLLED,
    }
)
# Causes with a number of their own for what they do to a joint; the others share one.
OWN_RAISE = frozenset(
    {
        CauseKind.FASTENERS_LOOSE,
        CauseKind.FASTENER_TOO_LONG,
        CauseKind.OVERTIGHTENED,
        CauseKind.GASKET_ROLLED,
        CauseKind.DRAIN_BACK_BLOCKED,
        CauseKind.CORRODED,
    }
)
# Cases with a ventilation of their own, and the drives that feel its pressure.
VENTED = {
    FluidKind.ENGINE_OIL: PRESSURE,
    FluidKind.GEAR_OIL: (CauseKind.VENTILATION_BLOCKED, CauseKind.OVERFILLED),
}
FEELS_PRESSURE = frozenset({Drive.SPLASH, Drive.GAS_PRESSURE, Drive.STATIC_HEAD})


def strained_name(fluid: str) -> str:
    """Variable: the case that holds a fluid is under pressure or overfull."""
    return f"strained__{fluid}"


def strained_fluids(machine: Machine) -> tuple[str, ...]:
    """Fluids whose case may be under pressure or overfull, in the machine's order.

    Vented cases are; so is any other that a listed cause of pressure names and, having no
    list of its own, acts on as a whole.
    """
    named = {c.fluid for c in machine.causes if c.kind in PRESSURE and not c.raises}
    return tuple(f.id for f in machine.fluids if f.kind in VENTED or f.id in named)


def causes_of(machine: Machine) -> tuple[Cause, ...]:
    """The causes a machine lists that act on anything, and the usual ones it leaves out."""
    listed = {(c.kind, c.fluid) for c in machine.causes}
    usual = (
        Cause(id=f"{kind.value}_{fluid.id}", kind=kind, fluid=fluid.id)
        for fluid in machine.fluids
        for kind in VENTED.get(fluid.kind, ())
        if (kind, fluid.id) not in listed and (kind, None) not in listed
    )
    return (*(c for c in machine.causes if _acts_at_all(c, machine)), *usual)


def _acts_at_all(cause: Cause, machine: Machine) -> bool:
    if cause.raises or cause.kind in AGEING:
        return True
    if cause.kind in PRESSURE:
        return any(cause.fluid in (f, None) for f in strained_fluids(machine))
    return bool(raised_by(cause, machine))


def raised_by(cause: Cause, machine: Machine) -> tuple[str, ...]:
    """Seal points that a cause acts on straight, in the machine's order.

    It lists them; without a list they are those of the kinds it belongs to, of its fluid.  A
    rolled gasket belongs where refitting is blind, a blocked drain-back to the splashed joints
    of the upper half of its case, where the oil stands.
    """
    if cause.raises:
        return tuple(s.id for s in machine.seal_points if s.id in cause.raises)
    own = [s for s in machine.seal_points if cause.fluid in (None, s.fluid)]
    if cause.kind is CauseKind.DRAIN_BACK_BLOCKED:
        return _upper(machine, [s for s in own if s.drive is Drive.SPLASH])
    if cause.kind is CauseKind.GASKET_ROLLED:
        own = [s for s in own if s.tight_access]
    return tuple(s.id for s in own if s.kind in AT_HOME.get(cause.kind, ()))


def _upper(machine: Machine, seals: list[SealPoint]) -> tuple[str, ...]:
    """Those of some seal points that sit in the upper half of what their own fluid spans."""
    zones = {z.id: z.centroid_mm[2] for z in machine.zones}
    height = {s.id: s.position_mm[2] if s.position_mm else zones[s.zones[0]] for s in seals}
    spans: dict[str, list[float]] = {}
    for s in seals:
        spans.setdefault(s.fluid, []).append(height[s.id])
    middle = {f: (min(h) + max(h)) / 2 for f, h in spans.items()}
    return tuple(s.id for s in seals if height[s.id] >= middle[s.fluid])


def cause_tables(
    machine: Machine, priors: Priors, generations: Mapping[str, int] | None = None
) -> Iterator[tuple[Variable, Table]]:
    """Causes, the strain they put on each vented case, and whether the machine is tired.

    generations: how many a seal point has, where more than one.
    """
    causes = causes_of(machine)
    for cause in causes:
        chance = priors[f"causes.chance.{cause.kind.value}"]
        name = cause_name(cause.id)
        yield Variable(name, NO_YES), Table(name, (), np.array([1 - chance, chance]))
    transfers = _transfers(machine)
    for fluid in strained_fluids(machine):
        acting = [
            c for c in causes if c.kind in PRESSURE and c.fluid in (fluid, None) and not c.raises
        ]
        strengths = [priors[f"causes.strains.{c.kind.value}"] for c in acting]
        name = strained_name(fluid)
        parents = tuple(cause_name(c.id) for c in acting)
        table = noisy_or_table(0.0, strengths)
        for seal in transfers.get(fluid, ()):
            latest = (generations or {}).get(seal, 1) - 1
            parents = (*parents, seal_name(seal, latest))
            table = _with_transfer(table, priors)
        yield Variable(name, NO_YES), Table(name, parents, table)
    ageing = [c for c in causes if c.kind in AGEING and not c.raises]
    strengths = [priors["causes.strains.ageing"]] * len(ageing)
    table = noisy_or_table(priors["causes.chance.tired"], strengths)
    yield Variable(TIRED, NO_YES), Table(TIRED, tuple(cause_name(c.id) for c in ageing), table)


def between_cases(seal: SealPoint, cases: Sequence[str]) -> bool:
    """Whether a seal point leaks from one of these cases (fluids) into another."""
    return seal.leaks_into in cases and seal.fluid in cases


def _transfers(machine: Machine) -> dict[str, tuple[str, ...]]:
    """For each case, the seal points through which another case fills it.

    Only between two cases that can be strained, such as two that share a shaft.  Of two that
    would fill each other the second is left out: causes must not go round in a ring.
    """
    cases = strained_fluids(machine)
    found: dict[str, tuple[str, ...]] = {}
    above: dict[str, set[str]] = {f: {f} for f in cases}
    for seal in machine.seal_points:
        into = seal.leaks_into
        if into is None or not between_cases(seal, cases) or into in above[seal.fluid]:
            continue
        found[into] = (*found.get(into, ()), seal.id)
        for reached in above.values():
            if into in reached:
                reached |= above[seal.fluid]
    return found


def _with_transfer(table: Array, priors: Priors) -> Array:
    """A strain table with one parent more: a leak class of a seal that fills the case.

    As far as the level is seen to rise the case is overfull, and an overfull case is strained.
    """
    fills = priors["causes.strains.overfilled"]
    rises = np.stack(
        np.broadcast_arrays(0.0, *(fills * priors[f"signs.level_rises.{c}"] for c in CLASSES))
    )
    # The new parent's axis comes after the others, before that of the draws, if any.
    calm = np.expand_dims(table[0], table[0].ndim - (rises.ndim - 1)) * (1 - rises)
    return np.stack([calm, 1 - calm])


@dataclass(frozen=True)
class SealParents:
    """Which causes a seal point hangs on; ``names`` are the variables there are.

    seen: causes (with the seal point) that were seen at work on a seal point, whose odds then
    hold it already.  earlier: for seal points as they were before they were last worked on.
    checked: what was checked at a seal point's last renewal: it found a share of such causes.
    fresh: seal points with a new part in them, which has not aged with the machine.
    """

    machine: Machine
    names: frozenset[str]
    seen: frozenset[tuple[str, str]] = frozenset()
    earlier: bool = False
    checked: Mapping[str, frozenset[Check]] = field(default_factory=dict)
    fresh: frozenset[str] = frozenset()

    def before(self) -> SealParents:
        """The same for seal points as they were before they were last worked on."""
        return replace(self, seen=frozenset(), earlier=True, checked={}, fresh=frozenset())

    def of(self, seal: SealPoint) -> tuple[str, ...]:
        """Names of the parents of a seal point, in a fixed order.

        A cause that lists seal points acts on those straight; one without a list acts
        through the strained case or the tired machine, on all that feel it.
        """
        found = [] if seal.id in self.fresh else [TIRED]
        strained = strained_name(seal.fluid)
        if strained in self.names and seal.drive in FEELS_PRESSURE:
            found.append(strained)
        return (*found, *(cause_name(c.id) for c in self._straight.get(seal.id, ())))

    def raises(self, name: str, priors: Priors) -> float:
        """What "yes" of a parent multiplies the odds by."""
        if name == TIRED:
            return priors["causes.raises.tired"]
        if name.startswith(strained_name("")):
            return priors["causes.raises.pressure"]
        cause = next(c for c in self.machine.causes if cause_name(c.id) == name)
        kind = cause.kind.value if cause.kind in OWN_RAISE else "listed"
        return priors[f"causes.raises.{kind}"]

    def raises_there(self, name: str, seal: SealPoint, priors: Priors) -> float:
        """The same at one seal point: as far as the checks made there overlooked it."""
        raised = self.raises(name, priors)
        checks = self.checked.get(seal.id)
        kinds = {cause_name(c.id): c.kind for c in self._straight.get(seal.id, ())}
        fault = FAULT_OF_CAUSE.get(kinds[name]) if checks and name in kinds else None
        if not checks or fault is None:
            return raised
        return 1 + (raised - 1) * overlooked(fault, checks, priors)

    @cached_property
    def _straight(self) -> Mapping[str, tuple[Cause, ...]]:
        """For each seal point, the causes that act straight on it."""
        found: dict[str, tuple[Cause, ...]] = {}
        for cause in self.machine.causes:
            if not (self.earlier and cause.kind in REFIT):
                for seal in raised_by(cause, self.machine):
                    aged = cause.kind in AGEING and seal in self.fresh
                    if (cause.id, seal) not in self.seen and not aged:
                        found[seal] = (*found.get(seal, ()), cause)
        return found


def seal_table(
    seal: SealPoint, fluid: Fluid, odds: float, parents: SealParents, priors: Priors
) -> tuple[tuple[str, ...], Array]:
    """Parents of a seal point and P(leak class | parents), shape (4, 2, 2, ...)."""
    names = parents.of(seal)
    table = np.asarray(base_odds(seal, fluid, priors) * odds)
    for axis, name in enumerate(names):
        without = priors["causes.raises.sound"] if name == TIRED else 1.0
        raises = np.stack(np.broadcast_arrays(without, parents.raises_there(name, seal, priors)))
        table = np.expand_dims(table, axis) * raises
    return names, leak_column(table, priors)
