"""Other numbers in some tables of a compiled network, as evidence.

A table that changes is a likelihood of its family, new over old: multiplied in, the old
numbers cancel and the new ones stand.  So many sets of numbers can be asked at once, a
batch column for each, without compiling anything anew.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from leakdx.belief.evidence import Evidence, EvidenceError
from leakdx.network.tables import Array, Network


def changed(network: Network, tables: Mapping[str, Array]) -> Evidence:
    """Evidence under which the network has other tables, a set of them in each batch column.

    tables: by child, (size of child, size of parent 1, ..., B), axes in the order of the
    child's own table.  With it log probabilities are those under the new tables.  Raises
    EvidenceError for a child without a table, a wrong shape, and where something becomes
    possible that was not: zero cannot be brought back by a factor.
    """
    old = {t.child: t.values for t in network.tables}
    faults = [f"there is no table of {child}" for child in tables if child not in old]
    faults += [
        f"table of {child} has shape {new.shape}, not {old[child].shape} and B"
        for child, new in tables.items()
        if child in old and new.shape[:-1] != old[child].shape
    ]
    if faults:
        raise EvidenceError("; ".join(faults))
    factors: dict[str, Array] = {}
    for child, new in tables.items():
        before = old[child][..., None]
        if ((before == 0) & (new != 0)).any():
            faults.append(f"table of {child} makes possible what was impossible")
        factors[child] = np.where(before > 0, new / np.where(before > 0, before, 1.0), 1.0)
    if faults:
        raise EvidenceError("; ".join(faults))
    return Evidence({}, families=factors)
