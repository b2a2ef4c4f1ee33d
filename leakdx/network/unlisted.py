"""Origins that the machine file does not list, from one epoch to the next.

A wash takes what was spilled, not an origin: one that let fluid out before it does so after.
"""

from __future__ import annotations

import numpy as np

from leakdx.network.tables import Table

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
