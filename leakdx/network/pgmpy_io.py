"""To and from pgmpy's networks, and BIF files that keep every digit.

pgmpy takes seconds to import and is not needed to answer anything, so it is imported
inside the functions that use it.  The BIF text is written here: each number as the shortest
decimal that reads back to the same double.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from leakdx.network.tables import Array, Network, NetworkError, Table, Variable

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

# What all BIF readers agree on.  A leading digit or a bare keyword confuses some.
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*\Z")
_STATE = re.compile(r"[A-Za-z0-9_]+\Z")
_KEYWORDS = frozenset(
    ["network", "variable", "probability", "property", "type", "discrete", "table", "default"]
)


def to_pgmpy(network: Network) -> DiscreteBayesianNetwork:
    """The same network as a pgmpy model, names and states kept.

    Evidence of probability zero gives NaN there and only a warning, no error.
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from(network.names)
    model.add_edges_from((p, t.child) for t in network.tables for p in t.parents)
    for table in network.tables:
        model.add_cpds(
            TabularCPD(
                table.child,
                network[table.child].size,
                table.values.reshape(network[table.child].size, -1),
                evidence=list(table.parents) or None,
                evidence_card=[network[p].size for p in table.parents] or None,
                state_names={n: list(network[n].states) for n in table.scope},
            )
        )
    return model


def from_pgmpy(model: DiscreteBayesianNetwork) -> Network:
    """The network of a pgmpy model; state names become text.

    Raises NetworkError for tables missing or misshapen, and for columns that do not sum to
    one to nine digits: pgmpy's own check lets sums like 1.008 pass.
    """
    variables: list[Variable] = []
    tables: list[Table] = []
    for name in model.nodes():
        cpd = model.get_cpds(name)
        if cpd is None:
            raise NetworkError(f"{name} has no table")
        states = tuple(str(s) for s in cpd.state_names[name])
        if len(set(states)) != len(states):
            raise NetworkError(f"{name} has two states of the same name")
        variables.append(Variable(str(name), states))
        values = np.array(cpd.values, dtype=np.float64)
        tables.append(Table(str(name), tuple(str(p) for p in cpd.variables[1:]), values))
        _require_same_states(model, cpd)
    return Network(tuple(variables), tuple(tables))


def _require_same_states(model: DiscreteBayesianNetwork, cpd: Any) -> None:
    """A child's table may list its parent's states in another order; refuse to guess."""
    child, *parents = cpd.variables
    for parent in parents:
        above = model.get_cpds(parent)
        if above is not None and above.state_names[parent] != cpd.state_names[parent]:
            raise NetworkError(f"{child} and {parent} disagree on the states of {parent}")


def write_bif(network: Network, path: str | Path) -> None:
    """Write the network as BIF, whole or not at all.

    Raises NetworkError, naming all of them, for names and states other than letters,
    digits and underscores, for names that start with a digit and for BIF's own words.
    """
    target = Path(path)
    text = bif_text(network)
    # In the same folder, since only there is the final rename one step.
    temporary = target.with_name(f".{target.name}.{secrets.token_hex(8)}")
    try:
        with temporary.open("x", encoding="ascii", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    finally:
        temporary.unlink(missing_ok=True)


def bif_text(network: Network) -> str:
    """The network in BIF; raises as write_bif does."""
    faults = [f"name {v.name!r}" for v in network.variables if not _is_word(v.name)]
    faults += [
        f"state {s!r} of {v.name}"
        for v in network.variables
        for s in v.states
        if not _STATE.match(s) or s in _KEYWORDS
    ]
    if faults:
        raise NetworkError(
            "not letters, digits and underscores, or a BIF word: " + "; ".join(faults)
        )
    return "".join(_lines(network))


def _is_word(name: str) -> bool:
    return bool(_WORD.match(name)) and name not in _KEYWORDS


def _lines(network: Network) -> Iterator[str]:
    yield "network unknown {\n}\n"
    for variable in network.variables:
        states = ", ".join(variable.states)
        yield f"variable {variable.name} {{\n"
        yield f"  type discrete [ {variable.size} ] {{ {states} }};\n}}\n"
    for table in network.tables:
        if not table.parents:
            yield f"probability ( {table.child} ) {{\n  table {_numbers(table.values)};\n}}\n"
            continue
        yield f"probability ( {table.child} | {', '.join(table.parents)} ) {{\n"
        parents = [network[p] for p in table.parents]
        # The last parent runs fastest in both.
        columns = np.moveaxis(table.values, 0, -1).reshape(-1, table.values.shape[0])
        combinations = product(*(p.states for p in parents))
        for given, column in zip(combinations, columns, strict=True):
            yield f"  ({', '.join(given)}) {_numbers(column)};\n"
        yield "}\n"


def _numbers(values: Array) -> str:
    return ", ".join(repr(float(v)) for v in values)


def read_bif(path: str | Path) -> Network:
    """The network in a BIF file, read by pgmpy and then checked strictly, as from_pgmpy is."""
    from pgmpy.readwrite import BIFReader

    return from_pgmpy(BIFReader(str(path)).get_model())
