"""The network of a job, written as BIF, means the same when it is read back."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from leakdx.advice.solving import solve
from leakdx.belief.tree import compile_network
from leakdx.case.read import load_job
from leakdx.network.noisymax import plain
from leakdx.network.pgmpy_io import read_bif, write_bif
from leakdx.priors.read import shipped_priors

JOB = Path(__file__).parents[1] / "data" / "wet_foot.yaml"


def test_a_leak_network_survives_bif(tmp_path: Path) -> None:
    solved = solve(load_job(JOB), shipped_priors())
    write_bif(plain(solved.asked.network.network), tmp_path / "leak.bif")
    again = compile_network(read_bif(tmp_path / "leak.bif")).update(solved.evidence)
    for name, belief in solved.beliefs.items():
        np.testing.assert_allclose(again[name], belief, atol=1e-9)
