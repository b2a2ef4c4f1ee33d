"""Drawn numbers of a refit give what a rebuild with them gives."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.advice.solving import solve
from leakdx.case.read import LoadedJob
from leakdx.priors.drawing import drawn, with_values
from leakdx.reasons.draws import redrawn
from tests.case.test_history import MADE, PRIORS, STORY, job

DRAWS = 4


@pytest.mark.parametrize("how", ["new_part", "refitted"])
def test_many_draws_at_once_are_each_a_rebuild(how: str) -> None:
    renewal = {"renew": "plug", "how": how, "checks": ["wiped", "torque"]}
    loaded = LoadedJob(job(*STORY[:5], renewal, *STORY[6:]), MADE)
    again = redrawn(loaded, solve(loaded, PRIORS), PRIORS)
    keys = [k for k in again.others if k.startswith("refit.")]
    assert {"refit.disturbs.same_gasket", "refit.found.wiped.unclean"} <= {*keys}
    assert ("refit.stays" in keys) == (how == "refitted")
    # How near is near shapes the network, so it is not in doubt.
    assert "refit.reach_mm" not in again.others
    values = drawn(PRIORS, again.others, DRAWS, np.random.default_rng(11))
    together = again.chances({}, values, again.tables(values, DRAWS))
    for k in range(DRAWS):
        numbers = with_values(PRIORS, {key: float(v[k]) for key, v in values.items()})
        rebuilt = redrawn(loaded, solve(loaded, numbers), numbers)
        assert together[:, k] == pytest.approx(rebuilt.stated, abs=1e-9)
