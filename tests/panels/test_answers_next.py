"""The next look as the page is told it, and the entries that one tap records."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from leakdx.advice.next_look import NOTHING_SEEN, NextLook, next_look
from leakdx.advice.solving import TooLarge
from leakdx.case.read import LoadedJob, job_from, load_shipped_job
from leakdx.machine.model import Inspection, Machine
from leakdx.panels.answers_entries import entries_of
from leakdx.panels.answers_next import next_answer, no_next
from leakdx.panels.latest import Latest
from leakdx.panels.messages import Errand
from leakdx.panels.names import Names
from leakdx.panels.shapes import NextAnswer
from leakdx.panels.trouble import trouble_of
from tests.panels.posted import SHIPPED, STAND, WET_FOOT, on_stand, posted, shipped
from tests.panels.shaped import misshapen

FOUND = next_look(WET_FOOT)
ANSWER = next_answer(FOUND, WET_FOOT, 7)


def accepted(loaded: LoadedJob, entries: list[dict[str, Any]]) -> LoadedJob:
    """The job with these entries, read anew; raises FaultyInput where one is faulty."""
    data = loaded.job.model_dump(mode="json", exclude_unset=True)
    # Shipped and given machines alike: the machine is here.
    data["machine"].pop("file", None)
    return job_from({**data, "timeline": [*data["timeline"], *entries]}, loaded.machine)


def read_of(inspection: Inspection) -> list[str]:
    reads = inspection.reads
    return [*reads.zones, *reads.seal_points, *(s.value for s in reads.signs)]


def inspection(machine: Machine, name: str) -> Inspection:
    return next(i for i in machine.inspections if i.id == name)


def states(entries: list[dict[str, Any]]) -> dict[str, str]:
    """What each thing is said to be."""
    found = {}
    for entry in entries:
        thing = entry.get("zone") or entry.get("seal_point") or entry["sign"]
        found[thing] = entry.get("state") or entry["value"]
    return found


def test_the_shape_and_the_numbers_are_those_of_the_command() -> None:
    assert misshapen(ANSWER, NextAnswer) == []
    assert ANSWER["sentence"] == FOUND.sentence
    assert [(x["inspection"], x["bits"], x["minutes"]) for x in ANSWER["looks"]] == [
        (p.inspection, p.bits, p.minutes) for p in FOUND.proposals
    ]
    assert ANSWER["plan"]["dry"] == FOUND.plan.dry
    assert ANSWER["cautions"] == ["The maker's procedure and local rules come first."]


def test_every_caution_of_a_look_travels_with_it() -> None:
    for look, proposal in zip(ANSWER["looks"], FOUND.proposals, strict=True):
        assert look["cautions"] == list(proposal.cautions)
        assert look["cautions"]


def test_one_tap_records_every_reading_of_the_look() -> None:
    look = inspection(STAND, "look_at_cover")
    made = {
        label: entries_of(STAND, look, label)
        for label in ("all dry", "only cover_top wet", "only cover_side wet", "both wet")
    }
    assert [None if e is None else states(e) for e in made.values()] == [
        {"cover_top": "dry", "cover_side": "dry"},
        {"cover_top": "wet", "cover_side": "dry"},
        {"cover_top": "dry", "cover_side": "wet"},
        {"cover_top": "wet", "cover_side": "wet"},
    ]
    for entries in made.values():
        assert entries is not None
        assert {e["inspection"] for e in entries} == {"look_at_cover"}
        accepted(WET_FOOT, entries)


def test_seal_points_and_signs_of_a_look_are_recorded_with_its_zones() -> None:
    look = inspection(STAND, "wipe_shaft")
    dry, seal, sign = (
        entries_of(STAND, look, label)
        for label in ("all dry", "only shaft_seal wet", "only level_falls wet")
    )
    assert dry and seal and sign
    assert states(dry) == {"foot_left": "dry", "shaft_seal": "tight", "level_falls": "no"}
    assert states(seal) == {"foot_left": "dry", "shaft_seal": "wet", "level_falls": "no"}
    assert states(sign) == {"foot_left": "dry", "shaft_seal": "tight", "level_falls": "yes"}
    # The machine has two fluids: a level is of one of them.
    assert [e.get("fluid") for e in sign if "sign" in e] == ["gear_oil"]
    for entries in (dry, seal, sign):
        accepted(on_stand(), entries)


@pytest.mark.parametrize(
    "label", ["several wet, not foot_left", "several wet, foot_left too", "dry", "wet", "both wet"]
)
def test_an_outcome_that_leaves_a_reading_open_records_nothing(label: str) -> None:
    assert entries_of(STAND, inspection(STAND, "wipe_shaft"), label) is None


@pytest.mark.parametrize(
    "change",
    [{"method": "wash_and_run"}, {"state": ["washed"]}, {"reads": {"signs": ["ground_wet"]}}],
)
def test_a_look_that_needs_more_than_its_readings_records_nothing_by_one_tap(
    change: dict[str, Any],
) -> None:
    look = inspection(STAND, "look_at_cover")
    assert entries_of(STAND, look, "all dry") is not None
    data = look.model_dump(mode="json")
    reads = {**data["reads"], **change.get("reads", {})}
    changed = Inspection.model_validate({**data, **change, "reads": reads})
    assert entries_of(STAND, changed, "all dry") is None


def test_a_look_weighed_by_one_thing_alone_records_nothing() -> None:
    first = replace(FOUND.proposals[0], whole=False)
    found = replace(FOUND, proposals=(first, *FOUND.proposals[1:]))
    look = next_answer(found, WET_FOOT, 1)["looks"][0]
    assert [o["entries"] for o in look["outcomes"]] == [None] * len(look["outcomes"])
    assert look["saves"].startswith("at least ")


def test_names_stand_for_ids() -> None:
    job = load_shipped_job("rear_of_engine_wet")
    names = Names(job.machine)
    outcome = replace(FOUND.proposals[0].outcomes[0], label="only bell_top wet", first=())
    others = replace(outcome, label="several wet, sump_bottom too")
    single = replace(FOUND.proposals[0], inspection="look_bell_top", outcomes=(outcome,))
    # The machine has no look at just these, so one is made.
    look = inspection(job.machine, "look_bell_top").model_copy(
        update={
            "reads": inspection(job.machine, "look_bell_top").reads.model_copy(
                update={"zones": ("bell_top", "sump_bottom")}
            )
        }
    )
    machine = job.machine.model_copy(update={"inspections": (look,)})
    found = NextLook(
        job="made",
        machine=machine.id,
        sentence="Next: look, about 2 minutes; if only bell top wet, it rises; if all dry, not.",
        stop=None,
        proposals=(replace(single, outcomes=(outcome, others), steps=(), spoils=(), delays=()),),
        telling=None,
        plan=FOUND.plan.__class__((), 0.0, "0 min", 0.5),
        closed=(),
        detail=0,
        left_out=("ground_wet",),
    )
    answer = next_answer(found, LoadedJob(job.job, machine), 1)
    bell, sump = names.zones["bell_top"], names.zones["sump_bottom"]
    assert [o["said"] for o in answer["looks"][0]["outcomes"]] == [
        f"only {bell} wet",
        f"several wet, {sump} too",
    ]
    assert f"if only {bell} wet, it rises" in answer["sentence"]
    assert answer["left_out"] == ["ground wet, to keep the sums exact"]


def test_what_is_too_large_to_look_ahead_on_is_said_and_the_rest_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def too_large(self: Latest, loaded: LoadedJob) -> None:
        raise TooLarge(loaded.machine.id, 10**9)

    monkeypatch.setattr(Latest, "weigher", too_large)
    post = posted(Errand("settle", 1, WET_FOOT))
    answer = post.last("next")
    assert misshapen(answer, NextAnswer) == []
    assert "is too large" in answer["sentence"]
    assert answer["stop"]
    assert post.answers[-1][0] == "firm"
    trouble = trouble_of(TooLarge("pump_stand", 10))
    assert misshapen(no_next(1, trouble), NextAnswer) == []


def test_a_job_that_was_only_begun_says_so_to_the_page() -> None:
    assert not ANSWER["begin"]
    begun = next_answer(replace(FOUND, stop=NOTHING_SEEN), WET_FOOT, 1)
    assert begun["begin"]
    assert misshapen(begun, NextAnswer) == []


def test_two_seal_points_of_ones_own_are_told_apart() -> None:
    for errand in (
        Errand("next", 1, WET_FOOT, pair=("shaft_seal", "water_union")),
        Errand("next", 1, WET_FOOT, seal="water_union"),
        Errand("next", 1, WET_FOOT, seal="cover_gasket"),
    ):
        said = posted(errand).last("next")["telling"]["said"]
        first, second = errand.pair or ("cover_gasket", errand.seal)
        if errand.seal == "cover_gasket":
            # It is the likeliest itself: from the one after it.
            first, second = "shaft_seal", "cover_gasket"
        names = Names(STAND).seals
        assert said.startswith(f"Tells {names[first]} and {names[str(second)]} apart best: ")


@pytest.mark.long
@pytest.mark.parametrize("job", SHIPPED)
def test_shape_and_entries_hold_for_the_shipped_jobs(job: str) -> None:
    loaded = load_shipped_job(job)
    answer = shipped(job, "settle").last("next")
    assert misshapen(answer, NextAnswer) == []
    assert 0 < len(answer["looks"]) <= 12
    taps = 0
    for look in answer["looks"]:
        made = inspection(loaded.machine, look["inspection"])
        assert [r["id"] for r in look["reads"]] == read_of(made)
        for outcome in look["outcomes"]:
            if outcome["entries"] is not None:
                taps += 1
                assert list(states(outcome["entries"])) == read_of(made)
                grown = accepted(loaded, outcome["entries"])
                count = len(loaded.job.timeline) + len(outcome["entries"])
                assert len(grown.job.timeline) == count
            if outcome["label"] == "all dry" and not look["washes"]:
                wet = {"wet", "yes"} & set(states(outcome["entries"] or []).values())
                assert not wet
    assert taps > 0
