"""What is told where it is asked for: why, two looks ahead, the cure, and the sheets."""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.advice.cure import cure
from leakdx.advice.ranking import rank_job
from leakdx.case.read import LoadedJob, load_shipped_job
from leakdx.files.faults import Fault, FaultyInput
from leakdx.panels.latest import Latest
from leakdx.panels.messages import Errand
from leakdx.panels.shapes import AheadAnswer, CureAnswer, SheetAnswer, WhyAnswer
from leakdx.panels.trouble import TOLD, trouble_of
from leakdx.reasons.account import Account, why
from tests.panels.posted import SHIPPED, WET_FOOT, on_stand, posted, shipped
from tests.panels.shaped import misshapen

LATEST = Latest()
ACCOUNT = why(WET_FOOT)
WHY = posted(Errand("why", 7, WET_FOOT), LATEST)


def same_reasons(answer: dict[str, Any], account: Account) -> None:
    """What the page is told is what ``leakdx why`` tells of the same seal point."""
    first = account.candidates[0]
    assert (answer["seal"], answer["name"]) == (first.seal_point, first.name)
    assert answer["sentence"].endswith(first.sentence)
    assert answer["doubts"] == list(dict.fromkeys(account.doubts))
    assert answer["conflict"] == list(account.conflict.sentences)
    assert answer["together"] == list(account.together.sentences)
    assert [r["said"] for r in answer["routes"]] == [said for _, said in account.routes[:3]]
    assert answer["firm_said"].endswith(" ".join(account.firmness.sentences))
    column = account.table(first.seal_point).set_index("reading")["left_out"]
    for speaks in (*answer["for"], *answer["against"]):
        assert speaks["decibans"] == pytest.approx(column[speaks["reading"]], abs=1e-9)
    told = {s["reading"] for s in (*answer["for"], *answer["against"])}
    assert told == {label for label, db in column.items() if abs(db) >= 0.5}


def test_why_is_told_as_it_comes_and_at_the_end_as_the_command_tells_it() -> None:
    first, second, third = (answer for _, answer in WHY.answers)
    for answer in (first, second, third):
        assert misshapen(answer, WhyAnswer) == []
    assert (first["firm"], first["swings"], second["swings"]) == ([], [], [])
    assert second["firm"] == third["firm"] != []
    assert len(third["swings"]) == 6
    same_reasons(third, ACCOUNT)
    assert third["swings"][0]["said"].split(":")[0].replace(" ", "_") in (
        ACCOUNT.swings[0].key.replace(".", ",_")
    )


def test_why_says_for_and_against_apart_the_most_first() -> None:
    third = WHY.answers[-1][1]
    assert all(s["decibans"] > 0 for s in third["for"])
    assert all(s["decibans"] < 0 for s in third["against"])
    weights = [s["decibans"] for s in third["for"]]
    assert weights == sorted(weights, reverse=True)


def test_each_rival_has_its_chance_apart_and_said_once() -> None:
    rivals = WHY.last("why")["rivals"]
    assert len(rivals) == len(ACCOUNT.rivals.sentences)
    for rival, sentence in zip(rivals, ACCOUNT.rivals.sentences, strict=True):
        assert f": {rival['text']}" in sentence
        assert f": {rival['text']}" not in rival["said"]


def test_why_of_a_seal_point_that_is_asked_for() -> None:
    answer = posted(Errand("why", 1, WET_FOOT, seal="shaft_seal"), LATEST).last("why")
    same_reasons(answer, why(WET_FOOT, seal_point="shaft_seal"))
    with pytest.raises(FaultyInput, match=r"no seal point 'shaft_sea'.*Did you mean 'shaft_seal'"):
        posted(Errand("why", 1, WET_FOOT, seal="shaft_sea"), LATEST)


def test_the_picture_is_a_drawing_of_its_own_and_there_is_none_without_a_way() -> None:
    wet = on_stand({"zone": "foot_left", "state": "wet"})
    picture = posted(Errand("why", 1, wet)).last("why")["picture"]
    assert picture.startswith("<svg ")
    assert 'href="http' not in picture
    assert "<script" not in picture
    assert posted(Errand("why", 1, on_stand())).last("why")["picture"] is None


def test_why_of_a_job_without_a_reading_says_so() -> None:
    answer = posted(Errand("why", 1, on_stand())).last("why")
    assert misshapen(answer, WhyAnswer) == []
    assert (answer["for"], answer["against"]) == ([], [])
    assert answer["doubts"][0].startswith("Nothing has been read yet")


def test_why_goes_through_all_stages_to_the_last() -> None:
    done = [done for _, done, _ in WHY.stages]
    assert done == sorted(done)
    assert set(done) == set(range(WHY.stages[0][2]))


def test_two_looks_ahead_name_the_looks_and_what_they_read() -> None:
    answer = posted(Errand("ahead", 3, WET_FOOT), LATEST).last("ahead")
    assert misshapen(answer, AheadAnswer) == []
    assert answer["head"] == 3
    assert answer["said"][0].startswith("Two looks ahead: look at cover first")
    assert answer["rows"][0] == {
        "first": "look at cover",
        "then": ["wet at cover side: stop looking", "dry at cover side: stop looking"],
        "saves": "about 24 min",
    }


def test_the_cure_says_what_the_command_says_and_its_cautions() -> None:
    found = cure(WET_FOOT)
    answer = posted(Errand("cure", 1, WET_FOOT), LATEST).last("cure")
    assert misshapen(answer, CureAnswer) == []
    assert answer["said"] == [*found.sentences, found.next_step]
    sections = {s["title"]: s["lines"] for s in answer["sections"]}
    assert sections["Take care"] == list(found.cautions)
    assert "The maker's procedure and local rules come first." in sections["Take care"]
    assert all(sections.values())
    needed = next(lines for title, lines in sections.items() if title.startswith("Wash it whole"))
    assert found.proof is not None
    assert len([line for line in needed if line.startswith("To be ")]) == 3


def test_the_cure_of_what_was_never_repaired_sends_to_the_page() -> None:
    answer = posted(Errand("cure", 1, on_stand())).last("cure")
    assert "leakdx" not in " ".join(answer["said"])
    assert answer["said"][0].startswith("Nothing was renewed")


def test_both_sheets_are_pages_of_the_job() -> None:
    made = {
        which: posted(Errand("sheet", 1, WET_FOOT, which=which), LATEST).last("sheet")
        for which in ("job", "customer")
    }
    for which, answer in made.items():
        assert misshapen(answer, SheetAnswer) == []
        assert answer["which"] == which
        assert answer["html"].startswith("<!DOCTYPE html>")
        assert answer["filename"] == f"wet_foot-{which}-sheet.html"
    assert made["job"]["html"] != made["customer"]["html"]


def test_a_sheet_for_what_is_chosen_holds_it_and_a_wrong_name_is_told() -> None:
    chosen = Errand("sheet", 1, WET_FOOT, renew=("water_union",))
    page = posted(chosen, LATEST).last("sheet")["html"]
    assert "water union" in page
    with pytest.raises(FaultyInput, match="water_onion"):
        posted(Errand("sheet", 1, WET_FOOT, renew=("water_onion",)), LATEST)


def test_a_second_sheet_of_the_same_repair_is_not_worked_out_again() -> None:
    latest = Latest()
    renew = ("water_union",)
    first = posted(Errand("sheet", 1, WET_FOOT, renew=renew), latest)
    second = posted(Errand("sheet", 1, WET_FOOT, which="customer", renew=renew), latest)
    assert len(first.stages) > 4
    assert len(second.stages) == 2
    # Of another job nothing is kept.
    third = posted(Errand("sheet", 1, on_stand(), renew=renew), latest)
    assert len(third.stages) > 4


def test_what_was_worked_out_for_one_job_is_not_told_of_another() -> None:
    latest = Latest()
    posted(Errand("settle", 1, WET_FOOT), latest)
    dry = on_stand({"zone": "foot_left", "state": "dry"})
    rows = posted(Errand("settle", 2, dry), latest).last("ranking")["rows"]
    assert [r["leaks"] for r in rows] == [r.leaks for r in rank_job(dry).rows]


def test_readings_that_contradict_one_another_are_named() -> None:
    loaded = load_shipped_job("rear_of_engine_wet")
    from leakdx.advice.solving import ContradictoryReadings

    error = ContradictoryReadings(
        ("4: head_rear running, aged", "context 1: ventilation_clear"), True
    )
    said = trouble_of(error, loaded.machine)["said"]
    assert said == (
        "These cannot all be so: entry 4 Head, rear face: running, aged; ventilation clear. "
        "Look again, or take one of these readings out."
    )


def test_many_faults_are_folded_away_and_none_is_lost() -> None:
    faults = [Fault("", None, f"zones[{k}]", "is empty", "Fill it.") for k in range(TOLD + 3)]
    trouble = trouble_of(FaultyInput(faults))
    assert trouble["said"].endswith("And 3 more.")
    assert all(f"zones[{k}]" in trouble["details"].lower() for k in range(TOLD + 3))


def test_an_option_of_a_command_is_no_place_on_the_page() -> None:
    fault = Fault("", None, "--renew", "there is no seal point x", "Use y.")
    assert trouble_of(FaultyInput([fault]))["said"] == "There is no seal point x. Use y."


def ids_in(text: str, loaded: LoadedJob) -> list[str]:
    """Ids of things with a name that stand in a text."""
    machine = loaded.machine
    things = [*machine.zones, *machine.seal_points, *machine.inspections, *machine.access_steps]
    return [t.id for t in things if t.name and "_" in t.id and t.id in text]


@pytest.mark.long
@pytest.mark.parametrize("job", SHIPPED)
def test_the_shapes_hold_for_the_shipped_jobs(job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded = load_shipped_job(job)
    if job != SHIPPED[0]:
        # Most of the time goes into these, and they are sentences of one kind.
        monkeypatch.setattr("leakdx.reasons.swings.swings", lambda *_: ())
    for name, shape in (("why", WhyAnswer), ("ahead", AheadAnswer), ("cure", CureAnswer)):
        for part, answer in shipped(job, name).answers:
            assert part == name
            assert misshapen(answer, shape) == []
    for which in ("job", "customer"):
        answer = shipped(job, "sheet", which).last("sheet")
        assert misshapen(answer, SheetAnswer) == []
    reasons = shipped(job, "why").last("why")
    assert len(reasons["swings"]) == (6 if job == SHIPPED[0] else 0)
    told = [*reasons["doubts"], *reasons["conflict"], *reasons["together"], reasons["sentence"]]
    told += [r["said"] for r in (*reasons["rivals"], *reasons["routes"], *reasons["for"])]
    for answer in (shipped(job, "ahead").last("ahead"), shipped(job, "cure").last("cure")):
        told += answer["said"]
        told += [line for section in answer.get("sections", []) for line in section["lines"]]
    assert ids_in("\n".join(told), loaded) == []
