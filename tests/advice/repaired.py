"""A pump stand that was repaired: jobs on it, and what is known of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from leakdx.advice.cure import known_of
from leakdx.advice.solving import solve
from leakdx.case.read import LoadedJob, job_from
from leakdx.kit.read import load_machine
from leakdx.machine.model import Machine
from leakdx.priors.read import shipped_priors

MADE = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
PRIORS = shipped_priors()
Entry = dict[str, Any]

WET: Entry = {"zone": "cover_side", "state": "running", "fluid": "gear_oil"}
DRY_SIDE: Entry = {"zone": "cover_side", "state": "dry", "inspection": "look_at_cover"}
DRY_TOP: Entry = {"zone": "cover_top", "state": "dry", "inspection": "look_at_cover"}
RENEW: Entry = {"renew": "cover_gasket"}
WASH: Entry = {"wash": "whole"}


def run_for(minutes: float, use: str = "driven") -> Entry:
    return {"run_minutes": minutes, "use": use}


def job(*timeline: Entry, machine: Machine = MADE) -> LoadedJob:
    return job_from(
        {
            "format": "leakdx-job/1",
            "id": "repaired",
            "machine": {"id": machine.id, "version": machine.version},
            "conditions": {"hours": 40},
            "timeline": list(timeline),
        },
        machine,
    )


def known(*timeline: Entry) -> Any:
    loaded = job(*timeline)
    return known_of(loaded, solve(loaded, PRIORS), PRIORS)
