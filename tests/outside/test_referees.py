"""Posteriors on well-known networks against two independent libraries.

The networks are those that come inside the installed pgmpy.  Some of their tables are
rounded and do not sum to one; all three parties get the same tables, made to sum to one.
"""

from __future__ import annotations

import gzip
import importlib
from collections.abc import Mapping
from importlib.resources import files
from math import exp
from typing import Any

import numpy as np
import pytest

from leakdx.belief.evidence import Evidence
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.network.pgmpy_io import to_pgmpy
from leakdx.network.tables import Array, Network, Table, Variable

pytestmark = [
    # pgmpy.inference imports a module of its own that it calls outdated.
    pytest.mark.filterwarnings("ignore:.*StructureScore.* is deprecated:FutureWarning"),
    # pyagrum's compiled part, on Python 3.12 and before.
    pytest.mark.filterwarnings("ignore:builtin type .* has no __module__:DeprecationWarning"),
]

NAMES = ("asia", "alarm", "child", "insurance", "win95pts")
TOLERANCE = 1e-9
CASES = 3


def published(name: str) -> Network:
    """The network, its names reduced to plain words and its columns made to sum to one."""
    from pgmpy.readwrite import BIFReader

    packed = files("pgmpy").joinpath("utils", "example_models", f"{name}.bif.gz").read_bytes()
    model = BIFReader(string=gzip.decompress(packed).decode()).get_model()
    variables, tables = [], []
    for node in model.nodes():
        cpd = model.get_cpds(node)
        states = tuple(f"s{i}" for i in range(cpd.values.shape[0]))
        variables.append(Variable(str(node), states))
        values = np.array(cpd.values, dtype=float)
        tables.append(Table(str(node), tuple(cpd.variables[1:]), values / values.sum(axis=0)))
    return Network(tuple(variables), tuple(tables))


@pytest.fixture(scope="module", params=NAMES)
def tree(request: pytest.FixtureRequest) -> JunctionTree:
    return compile_network(published(request.param))


def sample(network: Network, rng: np.random.Generator) -> dict[str, int]:
    """A state of every variable, drawn from the network."""
    tables = {t.child: t for t in network.tables}
    states: dict[str, int] = {}

    def draw(name: str) -> int:
        if name not in states:
            table = tables[name]
            column = table.values
            for parent in table.parents:
                column = column[:, draw(parent)]
            states[name] = int(rng.choice(len(column), p=column))
        return states[name]

    for name in network.names:
        draw(name)
    return states


def cases(network: Network) -> list[tuple[dict[str, int], dict[str, Array]]]:
    """Feasible hard evidence on a few variables and soft evidence on a few others."""
    rng = np.random.default_rng(11)
    result = []
    for _ in range(CASES):
        states = sample(network, rng)
        names = [str(n) for n in rng.permutation(network.names)]
        count = max(len(names) // 8, 1)
        hard_ones = {n: states[n] for n in names[:count]}
        soft_ones = {n: rng.random(network[n].size) + 0.05 for n in names[count : 2 * count]}
        result.append((hard_ones, soft_ones))
    return result


def as_evidence(network: Network, hard: Mapping[str, int], soft: Mapping[str, Array]) -> Evidence:
    return Evidence({**{n: np.eye(network[n].size)[s] for n, s in hard.items()}, **soft})


def as_pyagrum(network: Network) -> Any:
    """Made in memory: its BIF reader keeps single precision only."""
    pyagrum: Any = importlib.import_module("pyagrum")
    result = pyagrum.BayesNet()
    for variable in network.variables:
        result.add(pyagrum.LabelizedVariable(variable.name, "", list(variable.states)))
    for table in network.tables:
        for parent in table.parents:
            result.addArc(parent, table.child)
    for table in network.tables:
        # Their arrays run the other way round: the first variable is the last axis.
        result.cpt(table.child)[:] = np.ascontiguousarray(table.values.T)
    return result


def test_same_posteriors_as_pgmpy(tree: JunctionTree) -> None:
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    network = tree.network
    model = to_pgmpy(network)
    rng = np.random.default_rng(5)
    for hard, soft in cases(network):
        ours = tree.update(as_evidence(network, hard, soft))
        free = [n for n in network.names if n not in hard]
        virtual = [
            TabularCPD(
                n, len(a), (a / a.sum()).reshape(-1, 1), state_names={n: list(network[n].states)}
            )
            for n, a in soft.items()
        ]
        asked = {n: network[n].states[s] for n, s in hard.items()}
        for name in rng.permutation(free)[:8]:
            # A fresh engine each time: soft evidence leaves a node behind in the old one.
            factor: Any = VariableElimination(model.copy()).query(
                [str(name)], evidence=asked, virtual_evidence=virtual, show_progress=False
            )
            assert factor.state_names[name] == list(network[str(name)].states)
            np.testing.assert_allclose(ours[str(name)], factor.values, rtol=0, atol=TOLERANCE)


def test_same_posteriors_as_pyagrum(tree: JunctionTree) -> None:
    pyagrum: Any = importlib.import_module("pyagrum")
    network = tree.network
    # Their engine does not keep its network alive.
    model = as_pyagrum(network)
    engine = pyagrum.LazyPropagation(model)
    for hard, soft in cases(network):
        evidence = as_evidence(network, hard, soft)
        engine.setEvidence({n: a.tolist() for n, a in evidence.items()})
        engine.makeInference()
        ours = tree.update(evidence)
        for name in network.names:
            theirs = engine.posterior(name).toarray()
            np.testing.assert_allclose(ours[name], theirs, rtol=0, atol=TOLERANCE)
        assert exp(float(ours.log_evidence)) == pytest.approx(
            engine.evidenceProbability(), rel=TOLERANCE
        )


def test_same_joint_as_pyagrum(tree: JunctionTree) -> None:
    pyagrum: Any = importlib.import_module("pyagrum")
    network = tree.network
    model = as_pyagrum(network)
    rng = np.random.default_rng(8)
    for hard, soft in cases(network):
        names = [str(n) for n in rng.permutation([n for n in network.names if n not in hard])[:2]]
        engine = pyagrum.LazyPropagation(model)
        evidence = as_evidence(network, hard, soft)
        engine.setEvidence({n: a.tolist() for n, a in evidence.items()})
        engine.addJointTarget(set(names))
        engine.makeInference()
        theirs = engine.jointPosterior(set(names)).reorganize(names).toarray()
        ours = tree.joint(names, evidence)
        np.testing.assert_allclose(ours, theirs.T, rtol=0, atol=TOLERANCE)
