"""What the ranking says of why it leaks: causes, and fluid that no seal let out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from leakdx.advice.ranking import Ranking, json_schema, rank_job
from leakdx.advice.why import MEANS
from leakdx.case.evidence import SEEN_OF_CAUSE
from leakdx.case.model import ContextKind
from leakdx.case.read import job_from
from leakdx.kit.read import load_machine
from leakdx.machine.model import Cause, CauseKind, Machine, SealKind

MADE = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
GASKET = next(s for s in MADE.seal_points if s.id == "cover_gasket")


def ranked(made: Machine, *timeline: dict[str, Any], **conditions: Any) -> Ranking:
    document = {
        "format": "leakdx-job/1",
        "id": "why",
        "machine": {"id": made.id, "version": made.version},
        "conditions": {"hours": 40} | conditions,
        "timeline": list(timeline),
    }
    return rank_job(job_from(document, made))


def with_breather() -> Machine:
    """The cover's gasket exchanged for a breather that sits in its place."""
    breather = GASKET.model_copy(update={"kind": SealKind.BREATHER, "name": "Breather"})
    others = tuple(s for s in MADE.seal_points if s.id != GASKET.id)
    return MADE.model_copy(update={"seal_points": (breather, *others)})


def wet(zone: str, state: str = "running") -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "gear_oil"}


EXPELLED = (
    wet("cover_side"),
    wet("cover_side", "dripping"),
    {"context": "overfilled", "fluid": "gear_oil"},
    {"zone": "cover_top", "state": "dry"},
    {"zone": "foot_left", "state": "dry"},
)


def test_every_cause_has_words() -> None:
    assert {*MEANS} == {*CauseKind}


def test_expelled_fluid_is_called_so_and_no_joint_is_to_be_renewed() -> None:
    # Common practice, no source: an overfull case throws its oil out of the breather.
    ranking = ranked(with_breather(), *EXPELLED)
    assert ranking.rows[0].name == "Breather"
    (expelled,) = [said for said in ranking.why if said.startswith("Breather: ")]
    for words in ("expelled fluid", "no seal is at fault", "no joint need be renewed"):
        assert words in expelled
    assert "no joint need be renewed" in ranking.next_step
    assert "no joint need be renewed" in " ".join(ranking.to_text(80).split())
    assert "expelled" in ranking._repr_html_()


def test_a_gasket_in_its_place_is_not_excused() -> None:
    ranking = ranked(MADE, *EXPELLED)
    assert ranking.rows[0].seal_point == "cover_gasket"
    assert "expelled" not in " ".join((*ranking.why, ranking.next_step))


def test_a_likely_cause_is_told_with_what_to_do() -> None:
    ranking = ranked(MADE, {"context": "overfilled", "fluid": "gear_oil"})
    (cause,) = ranking.why
    assert cause.startswith("overfilled gear oil, 95 %: ")
    assert cause.endswith(MEANS[CauseKind.OVERFILLED])


def test_where_nothing_is_known_nothing_is_said_of_causes() -> None:
    ranking = ranked(MADE)
    assert ranking.why == ()
    assert "behind it" not in ranking.to_text()
    assert "behind it" not in ranking._repr_html_()


@pytest.mark.parametrize("context", sorted(SEEN_OF_CAUSE))
def test_a_cause_seen_twice_is_told(context: ContextKind) -> None:
    kind = SEEN_OF_CAUSE[context]
    cause = Cause(id="here", kind=kind, raises=("cover_gasket", "shaft_seal"))
    made = MADE.model_copy(update={"causes": (cause,)})
    both = [{"context": context.value, "seal_point": s} for s in cause.raises]
    assert any(said.endswith(MEANS[kind]) for said in ranked(made, *both).why)


def test_the_reasons_fit_the_schema() -> None:
    document = json.loads(json.dumps(ranked(with_breather(), *EXPELLED).to_json_dict()))
    jsonschema.validate(document, json_schema())
    assert document["why"]


@pytest.mark.parametrize(("use", "noted"), [("idled", 1), ("driven", 1), ("parked", 0)])
def test_air_that_is_taken_for_granted_is_said(use: str, noted: int) -> None:
    def notes(**more: float) -> int:
        return sum("airflow" in note for note in ranked(MADE, use=use, **more).notes)

    assert notes() == noted
    assert notes(airflow_m_s=0) == 0
