"""What reports and messages make of the state, without a widget."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from typing import Any

import pytest

from leakdx.panels import state as states
from leakdx.panels.answers_ranking import no_ranking
from leakdx.panels.following import waiting
from leakdx.panels.messages import Report
from leakdx.panels.state import State
from leakdx.store.store import Kept
from tests.panels.desks import wet_foot

LOADED = wet_foot()


def at(head: int, state: State | None = None) -> State:
    """The job at a head, with what follows asked for."""
    state = State() if state is None else state
    state = replace(state, kept=Kept(LOADED, head))
    return states.asking(state, waiting("settle", head))


def ranking(head: int, *, fine: bool, leaks: float = 0.5) -> Any:
    row = {
        "seal": "shaft_seal",
        "name": "shaft seal",
        "fluid": "gear_oil",
        "leaks": leaks,
        "said": "50 %",
        "low": None,
        "high": None,
        "zones": [],
    }
    return no_ranking(head, {"said": "", "details": ""}) | {
        "fine": fine,
        "rows": [row],
        "fault": None,
    }


def firm(head: int) -> Any:
    one = {"seal": "shaft_seal", "name": "shaft seal", "low": 0.2, "high": 0.8, "said": ""}
    return {"head": head, "seals": [one], "said": "Firm enough."}


def answer(part: str, made: Any, name: str = "settle") -> Report:
    return Report(name, made["head"], "answer", part=part, answer=made)


def test_a_state_is_never_changed() -> None:
    before = at(5)
    with pytest.raises(FrozenInstanceError):
        before.saved = ()  # type: ignore[misc]
    after = states.reported(before, answer("next", {"head": 5, "sentence": ""}))
    assert before.answers["next"] is None
    assert after.answers["next"] is not None


def test_a_late_ranking_never_stands_in_the_place_of_a_newer_one() -> None:
    state = at(6, at(5))
    state = states.ranked(state, ranking(6, fine=False))
    late = states.reported(state, answer("ranking", ranking(5, fine=True)))
    assert late.ranking == state.ranking
    assert states.ranked(state, ranking(5, fine=False)).ranking == state.ranking
    full = states.reported(state, answer("ranking", ranking(6, fine=True)))
    assert full.ranking is not None
    assert full.ranking["fine"]
    # The quick one of the same head tells less.
    assert states.ranked(full, ranking(6, fine=False)).ranking == full.ranking


def test_intervals_go_with_the_ranking_they_are_of() -> None:
    state = at(5)
    quick = states.ranked(state, ranking(5, fine=False))
    assert states.reported(quick, answer("firm", firm(5))).ranking == quick.ranking
    fine = states.reported(quick, answer("ranking", ranking(5, fine=True)))
    bars = states.reported(fine, answer("firm", firm(5)))
    assert bars.ranking is not None
    assert (bars.ranking["rows"][0]["low"], bars.ranking["rows"][0]["high"]) == (0.2, 0.8)
    assert bars.ranking["notes"] == ["Firm enough."]
    # The next reading brings another ranking, to which they do not belong.
    moved = states.ranked(at(6, bars), ranking(6, fine=False))
    assert moved.ranking is not None
    assert moved.ranking["rows"][0]["low"] is None
    late = states.reported(moved, answer("firm", firm(5)))
    assert late.ranking == moved.ranking


@pytest.mark.parametrize("part", ["next", "why", "ahead", "cure", "sheet"])
def test_answers_stay_with_the_head_they_were_asked_at(part: str) -> None:
    state = at(6, at(5))
    name = "settle" if part == "next" else part
    late = states.reported(state, answer(part, {"head": 5, "n": 1}, name))
    assert late.answers[part] == {"head": 5, "n": 1}
    newer = states.reported(late, answer(part, {"head": 6, "n": 2}, name))
    assert newer.answers[part] == {"head": 6, "n": 2}
    assert states.reported(newer, answer(part, {"head": 5, "n": 3}, name)).answers == newer.answers


def test_reports_of_another_job_are_none_of_this_one() -> None:
    state = at(9)
    for report in (
        answer("ranking", ranking(4, fine=True)),
        answer("next", {"head": 4}),
        Report("settle", 4, "failed", error={"said": "x", "details": ""}),
        Report("settle", 4, "done"),
    ):
        assert states.reported(state, report) == state


def test_the_work_there_is() -> None:
    state = at(6, at(5))
    assert [(w["errand"], w["head"]) for w in state.work] == [("settle", 6)]
    late = states.reported(state, Report("settle", 5, "running", "old", 1, 2))
    assert late == state
    assert states.reported(state, Report("settle", 5, "stopped")) == state
    now = states.reported(state, Report("settle", 6, "running", "weighing", 2, 8))
    assert now.work == (
        {
            "errand": "settle",
            "head": 6,
            "status": "running",
            "said": "weighing",
            "done": 2,
            "of": 8,
            "stop": True,
        },
    )
    for end in ("done", "stopped", "failed"):
        assert states.reported(now, Report("settle", 6, end)).work == ()
    ready = states.asking(now, waiting("ready", 6))
    assert not ready.work[-1]["stop"]


def test_a_ranking_that_fails_is_told_in_its_place() -> None:
    trouble: Any = {"said": "These cannot all be so.", "details": ""}
    state = states.reported(at(5), Report("settle", 5, "failed", error=trouble))
    assert state.ranking is not None
    assert state.ranking["fault"] == trouble
    assert state.faults == ()
    # Where there is a ranking it stays, and the fault is told beside it.
    quick = states.ranked(at(5), ranking(5, fine=False))
    after = states.reported(quick, Report("settle", 5, "failed", error=trouble))
    assert after.ranking == quick.ranking
    assert [f["control"] for f in after.faults] == ["ranking"]
    assert states.reported(at(6, quick), Report("settle", 5, "failed", error=trouble)).faults == ()


def test_keys_and_faults_are_kept_within_bounds() -> None:
    state = State()
    for n in range(130):
        state = states.acknowledged(state, f"k{n}", "c")
        state = states.faulty(
            state, {"key": f"f{n}", "control": f"c{n}", "said": "x", "details": ""}
        )
        state = states.noticed(state, [{"id": f"n{n}", "said": "x"}])
    assert state.saved == tuple(f"k{n}" for n in range(30, 130))
    assert len(state.faults) == states.MOST_FAULTS
    assert state.faults[-1]["key"] == "f129"
    assert len(state.notices) == states.MOST_NOTICES
    again = states.acknowledged(state, "k40", "c")
    assert again.saved[-1] == "k40"
    assert len(again.saved) == 100


def test_a_success_settles_the_faults_of_its_control_only() -> None:
    state = State()
    for control in ("a", "b"):
        state = states.faulty(
            state, {"key": control, "control": control, "said": "", "details": ""}
        )
    assert [f["control"] for f in states.acknowledged(state, "k", "a").faults] == ["b"]
    assert states.dismissed(state, "b").faults[0]["control"] == "a"


def test_another_job_begins_with_nothing_told() -> None:
    state = states.ranked(at(5), ranking(5, fine=False))
    state = states.acknowledged(states.noticed(state, [{"id": "n", "said": "x"}]), "k", "c")
    for other in (states.opened(state, Kept(LOADED, 9), ()), states.closed(state)):
        assert other.ranking is None
        assert other.work == ()
        assert other.heads == frozenset()
        assert other.notices == ()
        assert other.saved == ("k",)
