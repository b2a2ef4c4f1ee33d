"""Origins that the machine file does not list, from one epoch to the next.

A wash takes what was spilled, not an origin: one that let fluid out before it does so after.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from leakdx.machine.model import Fluid
from leakdx.network.setting import Setting, other_name
from leakdx.network.tables import Maximum, Table, Variable

Piece = tuple[Variable, Table | Maximum]

NONE, SPILLED, UNLISTED = range(3)


def lasting(table: Table, before: str) -> Table:
    """The table of other origins at a zone, given that of an earlier epoch, named ``before``.

    table: without the earlier one, (3,) or, with B draws, (3, B).  What did not leak before does
    not begin to; whether something was spilled is asked anew.
    """
    none, spilled = table.values[NONE], table.values[SPILLED]
    share = spilled / (none + spilled)
    nought, whole = np.zeros_like(share), np.ones_like(share)
    quiet = np.stack([1 - share, share, nought])
    leaking = np.stack([nought, nought, whole])
    return Table(table.child, (before,), np.stack([quiet, quiet, leaking], axis=1))


def with_lasting(setting: Setting, pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces, with other origins hanging on those of an earlier epoch at the same zone.

    Only where that fluid may have been seen in an earlier one: of other zones nothing is known
    that a wash could make one forget, and each link makes the network wider.
    """
    made = {v.name for v, _ in pieces}
    before: dict[str, str] = {}
    for fluid in setting.machine.fluids:
        for zone in setting.machine.zones:
            former: str | None = None
            seen = False
            for epoch in range(len(setting.epochs)):
                name = other_name(fluid.id, zone.id, epoch)
                if name in made:
                    if former is not None and seen:
                        before[name] = former
                    former = name
                seen |= _may_be_seen(setting, fluid, zone.id, epoch)
    return [
        (v, lasting(p, before[v.name]) if isinstance(p, Table) and v.name in before else p)
        for v, p in pieces
    ]


def _may_be_seen(setting: Setting, fluid: Fluid, zone: str, epoch: int) -> bool:
    """Whether a zone was read in an epoch, with that fluid or with one not named."""
    if (epoch, zone) not in setting.read:
        return False
    named = (fluid.id, zone) in setting.wetted or (epoch, zone) in setting.mixed
    # With one fluid only it need not be named.
    return named or len(setting.machine.fluids) == 1
