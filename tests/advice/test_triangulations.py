"""Exact means that it does not matter how a network was cut up: every clique tree agrees."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.belief.numbers import numbers
from leakdx.belief.passes import Engine
from leakdx.belief.plan import make_plan
from leakdx.belief.star import parts
from leakdx.belief.tree import JunctionTree
from leakdx.belief.triangulate import clique_tree
from leakdx.case.evidence import asked_of
from leakdx.case.read import load_shipped_job, shipped_jobs
from leakdx.flow.courses import DETAILS
from leakdx.priors.read import shipped_priors

# Trees larger than this take long and show no more.
LARGEST = 2**20
TREES = 8


@pytest.mark.parametrize("job", shipped_jobs())
@pytest.mark.parametrize("barer", [1, 2])
def test_every_clique_tree_gives_the_same_answer(job: str, barer: int) -> None:
    loaded, priors = load_shipped_job(job), shipped_priors()
    asked = asked_of(loaded.machine, loaded.job, priors, len(DETAILS) - barer)
    network, evidence = asked.network.network, asked.evidence
    model = parts(network)
    found = []
    for seed in range(TREES):
        cut = clique_tree(model, seed, tries=2)
        if max(cut.entries) <= LARGEST:
            plan = make_plan(network, model, cut)
            tree = JunctionTree(network, plan, Engine(plan, numbers(model, plan)))
            found.append(tree.update(evidence))
    if not found:
        pytest.fail("no tree is small enough to be compared")
    first, *others = found
    for other in others:
        assert other.log_evidence == pytest.approx(first.log_evidence, abs=1e-9)
        for name in first:
            np.testing.assert_allclose(other[name], first[name], rtol=0, atol=1e-9)
