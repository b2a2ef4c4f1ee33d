"""The first walk, and the words of the page."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import pytest

from leakdx.advice.ranking import rank_job
from leakdx.case.model import Age, ContextKind, SealState, Sureness, ZoneState
from leakdx.case.read import job_from, load_shipped_job
from leakdx.machine.model import Method, SignKind
from leakdx.network.refit import Check, How
from leakdx.network.setting import Use
from leakdx.panels.glossary import CONTEXTS, SIGNS, words
from leakdx.panels.machine_view import machine_view
from leakdx.panels.walk import first_walk
from tests.panels.desks import wet_foot

STEPS = first_walk()["steps"]
TAPS = [step for step in STEPS if step["zone"] is not None]


def leads(taps: int) -> tuple[str, float]:
    """The seal point that leads after some taps, and its chance."""
    job = load_shipped_job(first_walk()["job"]).job.model_dump(mode="json", exclude_unset=True)
    job["timeline"] += [{"zone": t["zone"], "state": t["state"]} for t in TAPS[:taps]]
    first = rank_job(job_from(job)).rows[0]
    return first.seal_point, first.leaks


def test_each_tap_of_the_walk_moves_what_is_believed_as_the_walk_says() -> None:
    (at_first, third), (_, more), (then, most), (last, end) = (leads(n) for n in range(4))
    assert (at_first, then, last) == (
        "head_cover_gasket_rear",
        "vacuum_pump_o_ring",
        "vacuum_pump_o_ring",
    )
    assert third == pytest.approx(1 / 3, abs=0.05)  # "about one in three"
    assert third < more
    assert most > 0.5
    assert end == pytest.approx(0.8, abs=0.06)  # "about four in five"


def test_the_walk_is_short_and_can_be_followed() -> None:
    loaded = load_shipped_job(first_walk()["job"])
    zones = {zone.id for zone in loaded.machine.zones}
    assert len(TAPS) == 3
    assert {t["zone"] for t in TAPS} <= zones
    assert {str(t["state"]) for t in TAPS} <= {state.value for state in ZoneState}
    assert all(step["panel"] == "map" for step in TAPS)
    assert {s["panel"] for s in STEPS} == {None, "map", "ranking", "next", "story", "repair"}
    assert all(len(step["say"]) < 260 for step in STEPS)
    assert "invented" in STEPS[0]["say"]
    assert "maker's procedure" in " ".join(step["say"] for step in STEPS)
    STEPS[0]["say"] = "changed by the page"
    assert first_walk()["steps"][0]["say"] != "changed by the page"


CHOICES: dict[str, type[StrEnum]] = {
    "zone_states": ZoneState,
    "seal_states": SealState,
    "ages": Age,
    "methods": Method,
    "sureness": Sureness,
    "uses": Use,
    "hows": How,
    "checks": Check,
}


@pytest.mark.parametrize("kind", CHOICES)
def test_every_choice_has_its_word_and_one_sentence_of_help(kind: str) -> None:
    told = words()[kind]
    assert [w["id"] for w in told] == [choice.value for choice in CHOICES[kind]]
    assert len({w["said"] for w in told}) == len(told)
    for word in told:
        assert "_" not in word["said"] + word["help"]
        check_sentence(word["help"])


def check_sentence(text: str) -> None:
    assert text.endswith(".")
    assert ". " not in text  # one sentence
    assert 10 < len(text) < 120


def test_every_sign_and_context_is_told() -> None:
    assert set(SIGNS) == set(SignKind)
    assert set(CONTEXTS) == set(ContextKind)
    view: dict[str, Any] = machine_view(wet_foot().machine)
    for sign in view["signs"]:
        assert sign["ask"].endswith("?")
        check_sentence(sign["help"])
    for context in view["contexts"]:
        assert set(context["about"]) <= {"seal_point", "fluid", "zone", "machine"}
        assert context["about"]
        check_sentence(context["help"])


def test_what_can_hurt_is_told_beside_it() -> None:
    helps = {w["id"]: w["help"] for w in words()["methods"]}
    assert "never where fluid is under pressure" in helps["finger"]
    assert "glasses" in helps["dye_lamp"]
    assert "breathe" in helps["powder"]
    assert "maker states" in helps["pressure_test"]
    assert "flame" in helps["smell"]
    assert "ignites" in SIGNS[SignKind.FUEL_SMELL].help
    assert "hot cooling system" in SIGNS[SignKind.FLUID_EMULSIFIED].help


def test_contexts_say_what_they_are_told_of() -> None:
    """As the checks of a job want it: a joint, a fluid, or neither."""
    from leakdx.case.checks import CONTEXT_NEEDS_FLUID, NEEDS_SEAL_POINT

    for kind, context in CONTEXTS.items():
        if kind in NEEDS_SEAL_POINT:
            assert context.about == ("seal_point",)
        if kind in CONTEXT_NEEDS_FLUID:
            assert "fluid" in context.about


def test_a_machine_is_shown_with_all_its_things() -> None:
    machine = wet_foot().machine
    view = machine_view(machine)
    assert [z["id"] for z in view["zones"]] == [z.id for z in machine.zones]
    assert [s["id"] for s in view["seals"]] == [s.id for s in machine.seal_points]
    assert [f["id"] for f in view["fluids"]] == [f.id for f in machine.fluids]
    assert [i["id"] for i in view["inspections"]] == [i.id for i in machine.inspections]
    assert {v["side"] for v in view["views"]} == {"left", "right", "top", "below", "front", "rear"}
    assert view["words"] == words()
