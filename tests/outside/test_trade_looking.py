"""What the trade says of lamps and degreasing.  Common practice, no source, each of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leakdx.advice.looks import looks_of
from leakdx.advice.solving import solve
from leakdx.case.read import job_from, load_shipped_job
from leakdx.kit.read import load_machine
from leakdx.machine.model import Method
from leakdx.network.setting import seal_name
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
STAND = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
SEAL = STAND.seal_points[0].id
SEEPING, DRIPPING = 1, 3


def beliefs(*timeline: dict[str, Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Chance of tight, seeping, drops, dripping at a seal point of the stand."""
    data = {
        "format": "leakdx-job/1",
        "id": "lamp",
        "machine": {"id": STAND.id, "version": STAND.version},
        "conditions": {"hours": 40},
        "timeline": list(timeline),
    }
    return solve(job_from(data, STAND), PRIORS).beliefs[seal_name(SEAL)]


def tight(method: str) -> dict[str, Any]:
    return {"seal_point": SEAL, "state": "tight", "method": method}


def test_a_weep_shows_under_the_lamp_and_a_leak_in_any_light() -> None:
    # Common practice, no source: a weep is seen by black light only, a seep by white light, and
    # a leak drops or pools.  So what is left where nothing was seen is a weep rather than a leak.
    before, eyes, lamp = beliefs(), beliefs(tight("eyes")), beliefs(tight("dye_lamp"))
    assert lamp[SEEPING] < eyes[SEEPING] < before[SEEPING]
    for seen in (eyes, lamp):
        left = seen[1:] / seen[1:].sum()
        assert left[SEEPING - 1] > before[SEEPING] / before[1:].sum()
        assert seen[DRIPPING] / before[DRIPPING] < seen[SEEPING] / before[SEEPING]


@pytest.mark.parametrize("washed", [False, True])
def test_degreasing_before_the_dye_is_a_matter_of_taste(washed: bool) -> None:
    # Common practice, no source: practice is divided, some degrease before the dye run and some
    # do not, for solvent swells rubber.  Neither closes the lamp; and no lamp washes anything.
    loaded = load_shipped_job("rear_of_engine_wet")
    events: list[dict[str, Any]] = [{"wash": "whole"}, {"run_minutes": 15, "use": "idled"}]
    job = job_from(
        {
            "format": "leakdx-job/1",
            "id": "dye",
            "machine": {"id": loaded.machine.id, "version": loaded.machine.version},
            "timeline": events if washed else events[1:],
        },
        loaded.machine,
    )
    found = looks_of(job.machine, job.job, PRIORS).open
    lamps = [look for look in found if look.inspection.method is Method.DYE_LAMP]
    washing = [look for look in found if look.inspection.method is Method.WASH_AND_RUN]
    assert lamps
    assert not any(look.harms for look in lamps)
    assert any(look.harms for look in washing)
