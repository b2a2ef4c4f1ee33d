"""Shared causes: a case under pressure, a machine whose seals have aged together.

Single causes (ventilation blocked, overfilled, worn rings) act through one variable a
case, so that a seal point has few parents however many causes a machine lists.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

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
from leakdx.network.odds import base_odds, leak_column
from leakdx.network.setting import cause_name
from leakdx.network.tables import Array, Table, Variable
from leakdx.priors.model import Priors

NO_YES = ("no", "yes")
TIRED = "tired"
# Causes that raise the pressure or the level in a case.
PRESSURE = (CauseKind.VENTILATION_BLOCKED, CauseKind.OVERFILLED, CauseKind.WORN_RINGS)
# Causes that age all seals together.
AGEING = (CauseKind.HARDENED_SEALS, CauseKind.OVERHEATED)
# Kinds of seal point that other causes act on where they list none.
AT_HOME = {
    CauseKind.SHAFT_WORN: (SealKind.SHAFT_LIP_SEAL, SealKind.ROD_SEAL),
    CauseKind.WRONG_SEALANT: (SealKind.SEALANT_JOINT, SealKind.MOULDED_GASKET),
}
# Cases with a ventilation of their own, and the drives that feel its pressure.
VENTED = {
    FluidKind.ENGINE_OIL: PRESSURE,
    FluidKind.GEAR_OIL: (CauseKind.VENTILATION_BLOCKED, CauseKind.OVERFILLED),
}
FEELS_PRESSURE = frozenset({Drive.SPLASH, Drive.GAS_PRESSURE, Drive.STATIC_HEAD})


def strained_name(fluid: str) -> str:
    """Variable: the case that holds a fluid is under pressure or overfull."""
    return f"strained__{fluid}"


def causes_of(machine: Machine) -> tuple[Cause, ...]:
    """The causes a machine lists, and the usual ones of each vented case it leaves out."""
    listed = {(c.kind, c.fluid) for c in machine.causes}
    usual = (
        Cause(id=f"{kind.value}_{fluid.id}", kind=kind, fluid=fluid.id)
        for fluid in machine.fluids
        for kind in VENTED.get(fluid.kind, ())
        if (kind, fluid.id) not in listed and (kind, None) not in listed
    )
    return (*machine.causes, *usual)


def cause_tables(machine: Machine, priors: Priors) -> Iterator[tuple[Variable, Table]]:
    """Causes, the strain they put on each vented case, and whether the machine is tired."""
    causes = causes_of(machine)
    for cause in causes:
        chance = priors[f"causes.chance.{cause.kind.value}"]
        name = cause_name(cause.id)
        yield Variable(name, NO_YES), Table(name, (), np.array([1 - chance, chance]))
    for fluid in machine.fluids:
        if fluid.kind not in VENTED:
            continue
        acting = [
            c for c in causes if c.kind in PRESSURE and c.fluid in (fluid.id, None) and not c.raises
        ]
        strengths = [priors[f"causes.strains.{c.kind.value}"] for c in acting]
        name = strained_name(fluid.id)
        parents = tuple(cause_name(c.id) for c in acting)
        yield Variable(name, NO_YES), Table(name, parents, noisy_or_table(0.0, strengths))
    ageing = [c for c in causes if c.kind in AGEING and not c.raises]
    strengths = [priors["causes.strains.ageing"]] * len(ageing)
    table = noisy_or_table(priors["causes.chance.tired"], strengths)
    yield Variable(TIRED, NO_YES), Table(TIRED, tuple(cause_name(c.id) for c in ageing), table)


@dataclass(frozen=True)
class SealParents:
    """Which causes a seal point hangs on; ``names`` are the variables there are."""

    machine: Machine
    names: frozenset[str]

    def of(self, seal: SealPoint) -> tuple[str, ...]:
        """Names of the parents of a seal point, in a fixed order.

        A cause that lists seal points acts on those straight; one without a list acts
        through the strained case or the tired machine, on all that feel it.
        """
        found = [TIRED]
        strained = strained_name(seal.fluid)
        if strained in self.names and seal.drive in FEELS_PRESSURE:
            found.append(strained)
        return (*found, *(cause_name(c.id) for c in self.machine.causes if _acts(c, seal)))


def _acts(cause: Cause, seal: SealPoint) -> bool:
    """Whether a cause acts straight on a seal point: it lists it, or it is of its kind."""
    if cause.raises:
        return seal.id in cause.raises
    return seal.kind in AT_HOME.get(cause.kind, ()) and cause.fluid in (None, seal.fluid)


def seal_table(
    seal: SealPoint, fluid: Fluid, odds: float, parents: SealParents, priors: Priors
) -> tuple[tuple[str, ...], Array]:
    """Parents of a seal point and P(leak class | parents), shape (4, 2, 2, ...)."""
    names = parents.of(seal)
    factors = [_factors(name, priors) for name in names]
    table = np.array(base_odds(seal, fluid, priors) * odds)
    for pair in factors:
        table = table[..., None] * pair
    columns = [leak_column(float(o), priors) for o in table.ravel()]
    return names, np.array(columns).T.reshape(4, *table.shape)


def _factors(name: str, priors: Priors) -> Array:
    """What "no" and "yes" of a parent multiply the odds by, shape (2,)."""
    if name == TIRED:
        return np.array([priors["causes.raises.sound"], priors["causes.raises.tired"]])
    kind = "pressure" if name.startswith("strained__") else "listed"
    return np.array([1.0, priors[f"causes.raises.{kind}"]])
