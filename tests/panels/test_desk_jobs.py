"""Jobs begun, opened, taken in and given out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from leakdx.case.casefile import case_text
from leakdx.case.read import load_shipped_job, shipped_jobs
from leakdx.files.places import shipped_ids
from leakdx.files.save import dump_yaml
from leakdx.kit.read import load_shipped
from tests.panels.desks import DATA, DeskUnderTest, begun, wet_foot

STAND = (DATA / "pump_stand.yaml").read_text(encoding="utf-8")


@pytest.fixture
def here(tmp_path: Path) -> DeskUnderTest:
    return begun(tmp_path)


def test_a_job_on_a_shipped_machine(here: DeskUnderTest) -> None:
    key = here.say("begin", title="Axle of bay 3", machine={"shipped": "rear_axle"})
    assert here.desk.faults == []
    job = here.desk.job
    assert (job["id"], job["title"], job["timeline"]) == ("axle_of_bay_3", "Axle of bay 3", [])
    assert here.desk.machine["id"] == "rear_axle"
    assert here.store.last_opened() == "axle_of_bay_3"
    assert here.desk.shelf["jobs"][0]["id"] == "axle_of_bay_3"
    assert here.errands.names()[-2:] == ["ready", "settle"]
    # Sent again it is the same job.
    here.say("begin", key=key, title="Axle of bay 3", machine={"shipped": "rear_axle"})
    assert len(here.desk.shelf["jobs"]) == 2


def test_a_job_on_a_machine_of_a_layout(here: DeskUnderTest) -> None:
    layout = next(one for one in here.desk.shelf["layouts"] if one["id"] == "rear_axle")
    options = {o["id"]: o["usual"] for o in layout["options"]}
    here.say(
        "begin",
        title="Ours",
        machine={"layout": "rear_axle", "options": options, "name": "Our axle"},
    )
    assert here.desk.faults == []
    assert here.desk.job["machine"] == {"id": "our_axle", "name": "Our axle"}
    as_it_is = load_shipped("rear_axle")
    assert [z["id"] for z in here.desk.machine["zones"]] == [z.id for z in as_it_is.zones]


def test_every_option_counts_as_it_was_chosen(here: DeskUnderTest) -> None:
    wanted = {"layout": "inline_five_diesel", "options": {"cylinders": "4", "turbo": "no"}}
    here.say("begin", title="Four", machine=wanted)
    assert here.desk.faults == []
    machine = here.store.read("four").loaded.machine
    assert not any("turbo" in seal.id for seal in machine.seal_points)
    here.say("begin", title="Five", machine={**wanted, "options": {"cylinders": 5, "turbo": True}})
    machine = here.store.read("five").loaded.machine
    assert any("turbo" in seal.id for seal in machine.seal_points)


def test_all_wrong_choices_are_told_and_nothing_is_begun(here: DeskUnderTest) -> None:
    options = {"cylinders": "7", "turbos": "yes", "cooler": "maybe"}
    here.say("begin", title="Seven", machine={"layout": "inline_five_diesel", "options": options})
    (said,) = here.faults()
    assert "'7'" in said
    assert "'turbos'" in said
    assert "Did you mean 'turbo'" in said
    assert "'maybe'" in said
    assert len(here.store.jobs()) == 1
    assert here.desk.job["id"] == "wet_foot"


def test_a_job_on_the_machine_of_a_file(here: DeskUnderTest) -> None:
    here.say("begin", title="Stand", machine={"file": "pump_stand.yaml", "text": STAND})
    assert here.desk.faults == []
    assert here.desk.job["machine"]["id"] == "pump_stand"
    assert len(here.desk.machine["zones"]) == 4


@pytest.mark.parametrize(
    ("machine", "words"),
    [
        ({"shipped": "rear_axel"}, ["Did you mean 'rear_axle'"]),
        ({"layout": "rear_axel"}, ["Did you mean 'rear_axle'"]),
        ({"file": "m.yaml", "text": STAND.replace("cover_side", "cover_sight", 1)}, ["cover_side"]),
        ({"file": "m.yaml", "text": "a: [1"}, ["not YAML"]),
        ({"file": "m.yaml", "text": ""}, ["empty"]),
        (
            {
                "file": "b.yaml",
                "text": "format: leakdx-build/1\nid: b\nversion: '1'\nname: B\n"
                "layout: {id: own, version: '1', file: own.yaml}\n",
            },
            ["own.yaml", "beside this one"],
        ),
        ({"file": "j.yaml", "text": "format: leakdx-job/1\nid: x\n"}, ["a job, not of a machine"]),
        ({}, ["does not say what it is"]),
        ("rear_axle", ["Machine"]),
    ],
)
def test_a_machine_that_cannot_be_had_is_told(
    here: DeskUnderTest, machine: object, words: list[str]
) -> None:
    key = here.say("begin", title="Never", machine=machine)
    (fault,) = here.desk.faults
    assert fault["key"] == key
    for word in words:
        assert word in fault["said"]
    assert len(here.store.jobs()) == 1


def test_an_example_is_copied(here: DeskUnderTest) -> None:
    examples = here.desk.shelf["examples"]
    assert {e["id"] for e in examples} == set(shipped_jobs())
    assert examples[0]["id"] == "first_walk"
    assert all("nvented" in e["title"] and "nvented" in e["machine"] for e in examples)
    here.say("example", job="first_walk")
    here.say("example", job="first_walk")
    assert here.desk.job["id"] == "first_walk_2"
    assert here.desk.job["undo"] is None
    here.say("example", job="first_wok")
    assert "Did you mean 'first_walk'" in here.faults()[0]


def test_a_job_given_out_can_be_taken_in(here: DeskUnderTest) -> None:
    here.enter({"zone": "cover_top", "state": "film", "note": "µ: 'x' # y"})
    here.say("export")
    (sent,) = here.sent
    file = sent["file"]
    assert file["name"] == "wet_foot.yaml"
    before = here.traits()["job"]
    here.say("import", file=file["name"], text=file["text"])
    assert here.desk.faults == []
    after = here.traits()["job"]
    assert after["id"] == "wet_foot_2"
    same = ("title", "machine", "zones", "seals", "signs", "timeline", "conditions")
    assert {k: after[k] for k in same} == {k: before[k] for k in same} | {"title": after["title"]}
    assert after["timeline"] == before["timeline"]


def test_a_job_file_on_a_shipped_machine_is_taken_in(here: DeskUnderTest) -> None:
    text = dump_yaml(load_shipped_job("rear_of_engine_wet").job)
    here.say("import", file="job.yaml", text=text)
    assert here.desk.faults == []
    assert len(here.desk.job["timeline"]) == 15


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ((DATA / "wet_foot.yaml").read_text(encoding="utf-8"), ["pump_stand.yaml", "case file"]),
        (STAND, ["a machine, not of a job", "Begin a new job"]),
        (case_text(wet_foot()).replace("state: wet", "state: soggy"), ["soggy", "line"]),
        ("\x00", ["text file"]),
        ("hello", ["set of keys"]),
        ("format: nothing", ["leakdx-job/1"]),
    ],
)
def test_a_file_that_is_no_job_is_told(here: DeskUnderTest, text: str, words: list[str]) -> None:
    before = here.desk.job
    here.say("import", file="some.yaml", text=text)
    (said,) = here.faults()
    for word in words:
        assert word in said
    assert len(here.store.jobs()) == 1
    assert here.desk.job is before


def test_turning_to_another_job_drops_what_was_told_of_the_first(here: DeskUnderTest) -> None:
    head = here.head
    here.report("settle", head, "answer", part="next", answer={"head": head, "sentence": "Look."})
    here.say("ask", errand="why")
    here.say("example", job="first_walk")
    assert here.errands.stopped == ["why"]
    assert here.desk.answers["next"] is None
    assert here.desk.ranking is None
    here.report("settle", head, "answer", part="next", answer={"head": head, "sentence": "Look."})
    here.report("why", head, "answer", part="why", answer={"head": head})
    assert set(here.desk.answers.values()) == {None}
    here.say("open", job="wet_foot")
    assert here.desk.job["id"] == "wet_foot"
    here.say("open", job="nowhere")
    assert here.desk.job["id"] == "wet_foot"
    assert "nowhere" in here.faults()[0]
    here.say("close")
    assert here.desk.job is None
    assert here.desk.machine is None
    assert here.desk.work == []


def test_the_shelf_is_whole_and_small(here: DeskUnderTest) -> None:
    shelf = here.desk.shelf
    assert shelf["folder"] == str(here.store.folder)
    (job,) = shelf["jobs"]
    assert (job["id"], job["entries"], job["machine"]) == (
        "wet_foot",
        9,
        "Pump stand, made up for tests",
    )
    assert len(job["changed"]) == len("2026-11-27 14:05")
    assert {m["id"] for m in shelf["machines"]} == set(shipped_ids("machines"))
    assert {m["id"] for m in shelf["layouts"]} == set(shipped_ids("layouts"))
    for layout in shelf["layouts"]:
        for option in layout["options"]:
            values = [c["value"] for c in option["choices"]]
            assert option["usual"] in values
            assert all(isinstance(v, str) for v in values)
    assert len(json.dumps(shelf)) < 40_000


def test_what_the_page_gets_of_the_reference_engine_is_small(here: DeskUnderTest) -> None:
    here.say("example", job="rear_of_engine_wet")
    sizes = {name: len(json.dumps(value)) for name, value in here.traits().items()}
    assert sizes["machine"] < 400_000
    assert sizes["job"] < 20_000
