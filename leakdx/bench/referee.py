"""A referee asked in a process of its own, so that it can be stopped; run as a program.

Reads a pickled Question from standard input and prints one JSON object a line as it goes:
ready, update (seconds), posterior (name, seconds or none, values), failed (why).
"""

from __future__ import annotations

import json
import pickle
import sys
import time
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from math import prod
from typing import Any

import numpy as np

from leakdx.network.tables import Array, Network

UPDATES = 4


@dataclass(frozen=True, eq=False)
class Question:
    """An ordinary network without maxima, and what to find in it.

    evidence: likelihoods by variable, (size, variants).  targets: all posteriors wanted.
    compared: those to be told, for variant 0.
    """

    network: Network
    evidence: dict[str, Array]
    targets: tuple[str, ...]
    compared: tuple[str, ...]
    threads: int


def tell(event: str, **more: Any) -> None:
    """Print one event, with the time of day, s."""
    print(json.dumps({"event": event, "at": time.time(), **more}), flush=True)


def pyagrum_model(network: Network) -> Any:
    """The same network as theirs."""
    pyagrum: Any = import_module("pyagrum")
    model = pyagrum.BayesNet()
    for variable in network.variables:
        model.add(pyagrum.LabelizedVariable(variable.name, "", list(variable.states)))
    for table in network.tables:
        for parent in table.parents:
            model.addArc(parent, table.child)
    for table in network.tables:
        # Their arrays run the other way round: the first variable is the last axis.
        model.cpt(table.child)[:] = np.ascontiguousarray(table.values.T)
    return model


def largest_clique(model: Any, engine: Any) -> int:
    """Entries of the largest clique in the junction tree of their engine."""
    tree = engine.junctionTree()
    cliques: list[list[int]] = [
        [model.variable(v).domainSize() for v in tree.clique(c)] for c in tree.nodes()
    ]
    return max((prod(sizes) for sizes in cliques), default=0)


def ask_pyagrum(question: Question) -> None:
    """All posteriors again and again, each time after other evidence on a kept engine."""
    pyagrum: Any = import_module("pyagrum")
    pyagrum.setNumberOfThreads(question.threads)
    # Their engine does not keep its network alive.
    model = pyagrum_model(question.network)
    engine = pyagrum.LazyPropagation(model)
    engine.setTargets(set(question.targets))
    variants = next(iter(question.evidence.values())).shape[1]
    engine.setEvidence({n: a[:, 0].tolist() for n, a in question.evidence.items()})
    tell("ready", largest=largest_clique(model, engine))
    for number in range(UPDATES):
        start = time.perf_counter()
        for name, likelihood in question.evidence.items():
            engine.chgEvidence(name, likelihood[:, number % variants].tolist())
        engine.makeInference()
        found = {n: engine.posterior(n) for n in question.targets}
        tell("update", seconds=time.perf_counter() - start)
        if number == 0:
            for name in question.compared:
                tell("posterior", name=name, seconds=None, values=found[name].tolist())


def ask_pgmpy(question: Question) -> None:
    """Single posteriors, each on a fresh engine: soft evidence leaves nodes behind."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    from leakdx.network.pgmpy_io import to_pgmpy

    network = question.network
    model = to_pgmpy(network)
    first = {n: a[:, 0] for n, a in question.evidence.items()}
    virtual = [
        TabularCPD(n, len(a), (a / a.sum())[:, None], state_names={n: list(network[n].states)})
        for n, a in first.items()
    ]
    tell("ready", largest=None)
    for name in question.compared:
        copy = model.copy()
        start = time.perf_counter()
        factor: Any = VariableElimination(copy).query(
            [name], virtual_evidence=virtual, show_progress=False
        )
        seconds = time.perf_counter() - start
        if factor.state_names[name] != list(network[name].states):
            raise ValueError(f"states of {name} in another order")
        tell("posterior", name=name, seconds=seconds, values=factor.values.tolist())


REFEREES: dict[str, Callable[[Question], None]] = {"pyagrum": ask_pyagrum, "pgmpy": ask_pgmpy}


def _cap(memory_bytes: int) -> None:
    try:
        import resource
    except ImportError:  # Windows: only the time is limited there
        return
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))


def main(referees: Mapping[str, Callable[[Any], None]]) -> None:
    """Ask the referee named first on the command line, within the memory (bytes) named next."""
    _cap(int(sys.argv[2]))
    warnings.simplefilter("ignore")
    try:
        referees[sys.argv[1]](pickle.load(sys.stdin.buffer))
    except Exception as error:  # whatever it is, it goes into the report
        # pyagrum's own errors have no type of their own for this one.
        memory = isinstance(error, MemoryError) or "bad_alloc" in str(error)
        tell("failed", why="memory" if memory else f"{type(error).__name__}: {error}"[:200])


if __name__ == "__main__":
    main(REFEREES)
