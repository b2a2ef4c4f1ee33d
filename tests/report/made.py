"""Jobs on small machines, and what is known of them, for the pages."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from leakdx.advice.cure import Cure, cure_of
from leakdx.advice.ranking import Ranking, ranking_of
from leakdx.advice.sheet import Sheet, sheet_of
from leakdx.advice.sheet_proof import with_proof
from leakdx.advice.solving import TooLarge, solve
from leakdx.case.read import LoadedJob, job_from, load_shipped_job
from leakdx.machine.read import machine_from
from leakdx.report.customer import CustomerSheet, customer_sheet, was_repaired
from tests.advice.repaired import PRIORS

Entry = dict[str, Any]


def stand(word: str) -> dict[str, Any]:
    """A machine whose every text of its own begins with a word."""
    return {
        "format": "leakdx-machine/1",
        "id": "small_stand",
        "version": "1",
        "name": f"{word} stand",
        "fluids": [
            {"id": "gear_oil", "kind": "gear_oil", "name": f"{word} oil", "grade": "VG 46"},
            {"id": "coolant", "kind": "coolant", "name": f"{word} coolant"},
        ],
        "zones": [
            _zone("side", word, [0, 0, 50], [0, 1, 0]),
            _zone("foot", word, [0, 20, 0], [0, 0, 1]),
            _zone("rear", word, [-30, 0, 30], [-1, 0, 0]),
        ],
        "neighbours": [{"between": ["side", "foot"], "shared_edge_mm": 50}],
        "seal_points": [
            {
                "id": "cover_gasket",
                "name": f"{word} cover gasket",
                "kind": "flat_gasket",
                "zones": ["side"],
                "fluid": "gear_oil",
                "access": ["take_off_cover"],
                "torque_Nm": 12.5,
                "torque_from": f"{word} manual",
                "tighten": f"{word} order",
                "one_use": [f"{word} washers"],
            },
            {
                "id": "plug",
                "name": f"{word} plug",
                "kind": "threaded_plug",
                "zones": ["foot"],
                "fluid": "gear_oil",
                "access": ["take_off_cover"],
                "drive": "static_head",
            },
            {
                "id": "pipe",
                "name": f"{word} pipe",
                "kind": "pipe_union",
                "zones": ["rear"],
                "fluid": "coolant",
            },
        ],
        "access_steps": [
            {
                "id": "take_off_cover",
                "name": f"{word} take off the cover",
                "minutes": 50,
                "cautions": [f"{word} edge"],
                "one_use": [f"{word} pin"],
                "refit": f"{word} put it back",
            }
        ],
        "inspections": [
            {
                "id": "look",
                "name": f"{word} look",
                "method": "eyes",
                "minutes": 2,
                "reads": {"zones": ["side", "foot", "rear"]},
            }
        ],
    }


def _zone(name: str, word: str, at: list[float], normal: list[float]) -> dict[str, Any]:
    text = f"{word} {name}"
    return {"id": name, "name": text, "centroid_mm": at, "normal": normal, "area_mm2": 9000}


WET: Entry = {"zone": "side", "state": "running", "fluid": "gear_oil", "age": "fresh"}
DRY: Entry = {"zone": "side", "state": "dry"}
WASH: Entry = {"wash": "whole"}
RUN: Entry = {"run_minutes": 60, "use": "driven"}
RENEW: Entry = {"renew": "cover_gasket", "checks": ["mirror", "wiped"]}


def loaded_job(*timeline: Entry, word: str = "Plain", **more: Any) -> LoadedJob:
    """A job on the stand."""
    machine = machine_from(stand(word))
    data = {
        "format": "leakdx-job/1",
        "id": "small",
        "name": f"{word} job",
        "machine": {"id": machine.id, "version": machine.version, "file": "stand.yaml"},
        "conditions": {"hours": 100},
        "timeline": [{"note": f"{word} note", "at": f"{word} day", **e} for e in timeline],
    }
    return job_from(data | more, machine)


def sheet_for(loaded: LoadedJob, *renew: str, proof: bool = False) -> Sheet:
    """Its sheet."""
    made = sheet_of(loaded, solve(loaded, PRIORS), PRIORS, renew)
    return with_proof(made, loaded, PRIORS) if proof else made


def known_of(loaded: LoadedJob) -> tuple[Ranking, Cure | None]:
    """Its ranking, and its cure where something was renewed."""
    solved = solve(loaded, PRIORS)
    cure = cure_of(loaded, solved, PRIORS) if was_repaired(loaded.job) else None
    return ranking_of(loaded, solved, PRIORS), cure


def told_of(loaded: LoadedJob, *renew: str, proof: bool = False) -> CustomerSheet:
    """What its owner is told."""
    ranking, cure = known_of(loaded)
    return customer_sheet(loaded, ranking, sheet_for(loaded, *renew, proof=proof), PRIORS, cure)


def _too_large(*_: object) -> None:
    raise TooLarge("machine", 2**30)


@cache
def shipped(name: str) -> tuple[LoadedJob, Sheet, CustomerSheet]:
    """A job that comes with leakdx, its sheet, and what its owner is told; no times of running.

    Those take long to work out; the small stand has them.
    """
    loaded = load_shipped_job(name)
    solved = solve(loaded, PRIORS)
    made = sheet_of(loaded, solved, PRIORS)
    ranking = ranking_of(loaded, solved, PRIORS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("leakdx.advice.cure.proof_of", _too_large)
        cure = cure_of(loaded, solved, PRIORS) if was_repaired(loaded.job) else None
    return loaded, made, customer_sheet(loaded, ranking, made, PRIORS, cure)
