"""What the page says and what it is told: both ways of the channel, on the objects themselves."""

from __future__ import annotations

import asyncio
import json
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from leakdx.advice.leaning import Full
from leakdx.files.faults import Fault, FaultyInput
from leakdx.panels import desk as desk_module
from leakdx.panels.desk import Desk, open_desk
from leakdx.panels.telling import INSIDE
from leakdx.store.changes import Entered
from leakdx.store.store import CaseStore
from tests.panels.desks import TRAITS, DeskUnderTest, FakeErrands, begun, wet_foot, with_swift

DRY = {"zone": "cover_side", "state": "dry"}
FILM = {"zone": "cover_top", "state": "film", "fluid": "gear_oil"}
CLASSES = ("leaks", "seeping", "drops", "dripping")


@pytest.fixture
def here(tmp_path: Path) -> DeskUnderTest:
    return begun(tmp_path)


def test_every_trait_is_told_to_the_page_and_is_plain_json(here: DeskUnderTest) -> None:
    assert set(TRAITS) <= set(here.desk.keys)
    assert set(TRAITS) == Desk.TOLD
    for name, value in here.traits().items():
        assert value == getattr(here.desk, name), name
    with_swift(here)
    here.enter(FILM)
    assert here.traits()["ranking"] == here.desk.ranking


def test_the_page_may_not_write_what_python_tells(here: DeskUnderTest) -> None:
    job = here.desk.job
    here.desk.set_state({"job": None, "saved": ["never"], "faults": [{}]})
    assert here.desk.job is job
    assert here.desk.saved == []
    assert here.desk.faults == []


def test_an_entry_is_written_and_then_shown(here: DeskUnderTest) -> None:
    before = here.head
    key = here.enter(FILM)
    job = here.desk.job
    assert job["head"] > before
    assert job["zones"]["cover_top"] == {
        "state": "film",
        "fluid": "gear_oil",
        "age": None,
        "said": "film, gear oil",
        "entry": 10,
        "old": False,
    }
    assert here.desk.saved == [key]
    assert here.desk.faults == []
    kept = here.store.read("wet_foot")
    assert kept.head == job["head"]
    assert len(kept.loaded.job.timeline) == 10


def test_an_entry_gets_the_time_unless_it_has_one(
    here: DeskUnderTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("leakdx.panels.handling.now", lambda: "2031-05-02T10:30")
    here.enter(FILM, {**DRY, "at": "yesterday"})
    assert [line["at"] for line in here.desk.job["timeline"][-2:]] == [
        "2031-05-02T10:30",
        "yesterday",
    ]


def test_nothing_is_shown_that_was_not_written(
    here: DeskUnderTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = here.traits()
    full = FaultyInput([Fault("cases.sqlite3", None, "", "cannot grow: the disk is full", "Wait.")])

    def fail(*_: object) -> None:
        raise full

    monkeypatch.setattr(here.store, "append", fail)
    key = here.enter(FILM)
    after = here.traits()
    assert {n: v for n, v in after.items() if n != "faults"} == {
        n: v for n, v in before.items() if n != "faults"
    }
    assert [(f["key"], f["control"]) for f in after["faults"]] == [(key, "enter-control")]
    assert "disk is full" in after["faults"][0]["said"]
    assert key not in after["saved"]


def test_the_store_has_it_before_the_page_is_told(here: DeskUnderTest) -> None:
    told: list[int] = []

    def watch(change: Any) -> None:
        there = CaseStore.open(here.store.folder)
        told.append(len(there.read("wet_foot").loaded.job.timeline))
        there.close()
        assert told[-1] == len(change["new"]["timeline"])

    here.desk.observe(watch, "job")
    here.enter(FILM)
    assert told == [10]


def test_an_error_of_any_kind_is_told_with_what_mends_it(
    here: DeskUnderTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("of all things")

    monkeypatch.setattr(here.store, "append", fail)
    key = here.enter(FILM)
    (fault,) = here.desk.faults
    assert (fault["key"], fault["control"], fault["said"]) == (key, "enter-control", INSIDE)
    assert "ZeroDivisionError: of all things" in fault["details"]
    assert key not in here.desk.saved
    # The page goes on.
    monkeypatch.undo()
    assert here.enter(FILM) in here.desk.saved
    assert here.desk.faults == []


def test_what_cannot_be_shown_is_told_and_the_rest_is_shown(
    here: DeskUnderTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("no words for it")

    monkeypatch.setattr("leakdx.panels.showing.job_view", fail)
    key = here.enter(FILM)
    assert key in here.desk.saved
    assert "no words for it" in here.desk.faults[0]["details"]


def test_a_key_sent_again_is_acknowledged_again_and_written_once(here: DeskUnderTest) -> None:
    key = here.enter(FILM)
    here.enter(DRY)
    pushed: list[Any] = []
    here.desk.send_state = lambda key=None: pushed.append(key)
    here.enter(FILM, key=key)
    assert "saved" in pushed
    assert here.desk.saved[-1] == key
    assert len(here.store.read("wet_foot").loaded.job.timeline) == 11
    assert len(here.desk.job["timeline"]) == 11


def test_after_a_restart_the_job_is_as_it_was(here: DeskUnderTest, tmp_path: Path) -> None:
    key = here.enter(FILM, {"seal_point": "cover_gasket", "state": "tight"})
    here.say("undo", entry=11)
    job = here.traits()["job"]
    here.desk.close()
    again = DeskUnderTest(tmp_path)
    assert again.traits()["job"] == job
    # What the page could not know to be saved is sent again.
    again.enter(FILM, {"seal_point": "cover_gasket", "state": "tight"}, key=key)
    assert again.desk.saved == [key]
    assert again.traits()["job"] == job


def test_the_job_asked_for_is_opened(
    here: DeskUnderTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded = wet_foot()
    other = here.store.begin(loaded.job, loaded.machine, "begin:other")
    assert other == "wet_foot_2"
    monkeypatch.setenv("LEAKDX_OPEN", other)
    assert DeskUnderTest(tmp_path).desk.job["id"] == other
    monkeypatch.setenv("LEAKDX_OPEN", "wet_fot")
    lost = DeskUnderTest(tmp_path)
    assert lost.desk.job is None
    assert "'wet_fot'" in lost.faults()[0]
    assert "Did you mean 'wet_foot'" in lost.faults()[0]


def test_an_empty_store_shows_the_start_screen(tmp_path: Path) -> None:
    empty = DeskUnderTest(tmp_path)
    assert empty.desk.job is None
    assert empty.desk.machine is None
    assert empty.desk.ranking is None
    assert empty.desk.shelf["jobs"] == []
    assert empty.errands.asked == []


def test_a_store_that_cannot_be_opened_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "cases.sqlite3").write_bytes(b"no database" * 500)
    monkeypatch.setenv("LEAKDX_HOME", str(tmp_path))
    desk = Desk(None, FakeErrands)
    assert "cases.sqlite3" in json.dumps(desk.faults) or desk.faults
    assert desk.shelf["examples"]
    desk._handle_custom_msg({"do": "example", "job": "first_walk", "key": "k", "control": "c"}, [])
    assert [f["key"] for f in desk.faults][-1] == "k"
    assert desk.job is None
    desk.close()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, ["The message is empty", "set of keys"]),
        ([1], ["The message is a list"]),
        ({"key": "k"}, ["is missing"]),
        ({"do": "entre", "key": "k"}, ["'entre'", "Did you mean 'enter'"]),
        ({"do": 7, "key": "k"}, ["is 7"]),
        ({"do": "enter", "entries": "film"}, ["Key is missing", "Entries"]),
        ({"do": "enter", "key": "k", "entries": []}, ["Entries"]),
        ({"do": "undo", "key": "k"}, ["does not say what to take back"]),
        ({"do": "ask", "key": "k", "errand": "whi"}, ["Did you mean 'why'"]),
        ({"do": "rename", "key": "k", "title": "x"}, ["renamed"]),
        ({"do": "open", "key": "k", "job": 3, "also": 1}, ["Job", "Also is no key"]),
        ({"do": "close", "key": ""}, ["Key"]),
    ],
)
def test_a_message_that_is_none_is_told_with_all_its_faults(
    here: DeskUnderTest, content: object, words: list[str]
) -> None:
    before = here.traits()
    here.raw(content)
    (fault,) = here.desk.faults
    for word in words:
        assert word in fault["said"], fault
    key = content.get("key") if isinstance(content, dict) else None
    assert fault["control"] == "page"
    assert fault["key"] == key if key else fault["key"].startswith("message-")
    assert here.traits() | {"faults": []} == before
    here.raw({"do": "dismiss", "key": fault["key"], "control": "dismiss"})
    assert here.desk.faults == []


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"zone": "cover_top", "state": "soaked"}, ["soaked"]),
        ({"zone": "cover_tip", "state": "dry"}, ["'cover_tip'", "Did you mean 'cover_top'"]),
        ({"zone": "cover_top"}, ["State is missing"]),
        ({"state": "dry"}, ["what it is"]),
        ({"sign": "level_falls"}, ["Say which fluid it is."]),
        ({"withdraw": 99}, ["Choose an entry of the list."]),
        ({"zone": "cover_top", "state": "dry", "drops_per_minute": 3}, ["Say that it drips"]),
        ({"zone": "cover_top", "state": "dry", "note": "\ud800"}, ["half of a sign"]),
        ({"zone": "cover_top", "state": "dry", "note": "x" * 20_000}, ["longer than"]),
    ],
)
def test_a_wrong_entry_writes_nothing_and_is_told_in_words_of_the_page(
    here: DeskUnderTest, entry: dict[str, Any], words: list[str]
) -> None:
    before = here.traits()
    here.enter(DRY, entry)
    (said,) = here.faults()
    for word in words:
        assert word in said
    assert "timeline" not in said
    assert len(here.store.read("wet_foot").loaded.job.timeline) == 9
    assert here.traits() | {"faults": []} == before


def test_all_faults_of_all_entries_are_told_at_once(here: DeskUnderTest) -> None:
    here.enter({"zone": "cover_tip", "state": "dry"}, DRY, {"zone": "cover_top", "state": "damp"})
    (said,) = here.faults()
    assert "Entry 10" in said
    assert "Entry 12" in said
    assert "cover_tip" in said
    assert "damp" in said


def test_notes_are_kept_letter_by_letter(here: DeskUnderTest) -> None:
    note = "<img src=x onerror=alert(1)> ]]> \u202e {{x}} \"'` \u0000? \\n"
    here.enter({**DRY, "note": note})
    assert here.desk.job["timeline"][-1]["note"] == note
    assert here.traits()["job"]["timeline"][-1]["note"] == note


def test_faults_are_settled_by_the_next_try_or_dismissed(here: DeskUnderTest) -> None:
    here.enter({"zone": "cover_tip", "state": "dry"})
    wrong = here.say("renamed", title="  ")
    assert [f["control"] for f in here.desk.faults] == ["enter-control", "renamed-control"]
    here.enter(DRY)
    assert [f["control"] for f in here.desk.faults] == ["renamed-control"]
    here.raw({"do": "dismiss", "key": wrong, "control": "dismiss"})
    assert here.desk.faults == []
    assert wrong not in here.desk.saved


def test_conditions_costs_and_title(here: DeskUnderTest) -> None:
    here.say("conditions", conditions={"use": "driven", "hours": 12, "roll_deg": -3})
    assert here.desk.job["conditions"] == {
        "use": "driven",
        "hours": 12,
        "roll_deg": -3,
        "said": "right side up 3 degrees, driven, 12 h since clean",
    }
    costs = {"currency": "kr", "labour_per_hour": 900, "comeback": 3000}
    here.say("costs", costs=costs)
    assert here.desk.job["costs"] == costs
    here.say("costs", costs=None)
    assert here.desk.job["costs"] is None
    here.say("renamed", title=" Pump, bay 2 ")
    assert here.desk.job["title"] == "Pump, bay 2"
    assert here.desk.shelf["jobs"][0]["title"] == "Pump, bay 2"
    here.say("conditions", conditions={"pitch_deg": "steep", "hours": -1})
    assert "Pitch" in here.faults()[0]
    assert "Hours" in here.faults()[0]
    assert here.desk.job["conditions"]["hours"] == 12


def test_a_change_meant_for_another_job_goes_there(here: DeskUnderTest) -> None:
    loaded = wet_foot()
    other = here.store.begin(loaded.job, loaded.machine, "begin:other")
    before = here.desk.job
    key = here.enter(FILM, job=other)
    assert here.desk.job == before
    assert key in here.desk.saved
    assert len(here.store.read(other).loaded.job.timeline) == 10
    assert len(here.store.read("wet_foot").loaded.job.timeline) == 9


def test_what_one_tap_brought_is_taken_back_and_brought_again_together(
    here: DeskUnderTest,
) -> None:
    assert here.desk.job["undo"] is None  # what the job began with is nobody's last tap
    here.enter(FILM)
    here.enter(DRY, {"seal_point": "cover_gasket", "state": "tight"})
    undo = here.desk.job["undo"]
    assert undo == {
        "entry": 11,
        "entries": [11, 12],
        "said": "cover side: dry and 1 more",
    }
    here.say("undo", entries=undo["entries"])
    job = here.desk.job
    assert [line["counts"] for line in job["timeline"][9:]] == [True, False, False, True, True]
    assert job["timeline"][10]["why_not"] == "taken back by entry 13"
    assert job["undo"]["entries"] == [10]
    assert job["redo"] == {"entry": 13, "entries": [13, 14], "said": "cover side: dry and 1 more"}
    assert "cover_gasket" in job["seals"]  # as it was read before
    here.say("undo", entries=job["redo"]["entries"])
    job = here.desk.job
    assert job["seals"]["cover_gasket"]["state"] == "tight"
    assert job["undo"]["entries"] == [11, 12]
    assert job["redo"] is None
    # Once more back, and then something new: what was taken back cannot come again by a tap.
    here.say("undo", entries=[11, 12])
    assert here.desk.job["redo"]["entries"] == [17, 18]
    here.enter(FILM)
    assert here.desk.job["redo"] is None


def test_taking_back_twice_is_told(here: DeskUnderTest) -> None:
    here.enter(FILM)
    here.say("undo", entry=10)
    here.say("undo", entry=10)
    assert "taken back already" in here.faults()[0]
    assert len(here.desk.job["timeline"]) == 11


def test_two_windows_lose_nothing_and_tell_each_other(tmp_path: Path) -> None:
    one = begun(tmp_path)
    two = DeskUnderTest(tmp_path)
    one.enter(FILM)
    # Two has not looked yet and writes onto a head that has moved.
    two.enter(DRY)
    assert [n["said"] for n in two.desk.notices] == [
        "Another window added: cover top: film, gear oil."
    ]
    assert len(two.desk.job["timeline"]) == 11
    one.desk._look_round()
    assert [n["said"] for n in one.desk.notices] == ["Another window added: cover side: dry."]
    assert one.traits()["job"] == two.traits()["job"]
    assert one.head in {e.head for e in one.errands.asked}
    # Nothing is told twice, and nobody is told of what he did himself.
    one.desk._look_round()
    two.desk._look_round()
    assert len(one.desk.notices) == len(two.desk.notices) == 1
    two.say("renamed", title="Other")
    two.say("conditions", conditions={"hours": 1})
    two.say("costs", costs=None)
    one.desk._look_round()
    assert [n["said"] for n in one.desk.notices[1:]] == [
        "Another window gave the job another title: Other.",
        "Another window changed how the machine stood and ran.",
        "Another window changed the prices.",
    ]
    one.raw({"do": "dismiss", "key": one.desk.notices[0]["id"], "control": "dismiss"})
    assert len(one.desk.notices) == 3


def test_a_job_of_another_window_comes_onto_the_shelf(tmp_path: Path) -> None:
    one = begun(tmp_path)
    other = CaseStore.open(tmp_path)
    loaded = wet_foot()
    other.begin(loaded.job, loaded.machine, "begin:other")
    one.desk._look_round()
    assert [job["id"] for job in one.desk.shelf["jobs"]] == ["wet_foot_2", "wet_foot"]
    assert one.desk.notices == []


def test_the_ranking_follows_at_once_and_then_in_full(here: DeskUnderTest) -> None:
    assert here.errands.names() == ["ready", "settle"]
    assert here.desk.ranking is None
    with_swift(here)
    ranking = here.desk.ranking
    assert (ranking["head"], ranking["fine"]) == (here.head, False)
    assert {row["seal"] for row in ranking["rows"]} == {"cover_gasket", "shaft_seal", "water_union"}
    assert not any("cut short" in note for note in ranking["notes"])
    before = {row["seal"]: row["leaks"] for row in ranking["rows"]}
    here.enter({"seal_point": "shaft_seal", "state": "dripping"})
    ranking = here.desk.ranking
    assert ranking["head"] == here.head
    assert {row["seal"]: row["leaks"] for row in ranking["rows"]}["shaft_seal"] > before[
        "shaft_seal"
    ]
    assert here.errands.names()[-1] == "settle"
    assert here.errands.asked[-1].head == here.head
    assert here.errands.asked[-1].loaded.job.timeline[-1].state == "dripping"  # type: ignore[union-attr]


def test_the_background_stands_still_while_a_tap_is_answered(here: DeskUnderTest) -> None:
    here.errands.held.clear()
    here.enter(DRY)
    here.raw({"do": "nothing of the kind"})
    assert here.errands.held == [True, False] * 2


@pytest.mark.parametrize("own", [True, False])
def test_the_ranking_at_once_leans_on_the_last_full_one_of_this_job(
    here: DeskUnderTest, own: bool
) -> None:
    with_swift(here)
    state = here.desk._state
    assert state.kept is not None
    assert state.swift is not None
    loaded = state.kept.loaded
    plain = state.swift.ranking(loaded)
    # As if in full the last of them were three times as likely.
    *others, last = plain.rows
    likelier = replace(last, **{n: 3 * getattr(last, n) for n in CLASSES})
    of = loaded if own else replace(loaded, job=loaded.job.model_copy(update={"id": "another"}))
    full = Full(of, replace(plain, rows=(*others, likelier)))
    here.report("settle", here.head, "answer", part="full", answer=full)
    assert here.desk.faults == []
    here.enter(DRY)
    kept = here.desk._state.kept
    assert kept is not None
    told = {row["seal"]: row["leaks"] for row in here.desk.ranking["rows"]}
    alone = {r.seal_point: r.leaks for r in state.swift.ranking(kept.loaded).rows}
    assert (told[last.seal_point] > 1.5 * alone[last.seal_point]) == own
    for seal in (r.seal_point for r in others):
        assert told[seal] == pytest.approx(alone[seal])


@pytest.mark.parametrize(
    "entry", [{"wash": "whole"}, {"run_minutes": 30}, {"renew": "cover_gasket"}]
)
def test_where_the_structure_changes_the_old_ranking_stays_until_the_new_one_comes(
    here: DeskUnderTest, entry: dict[str, Any]
) -> None:
    with_swift(here)
    old = here.desk.ranking
    here.enter(entry)
    assert here.desk.ranking == old
    assert old["head"] < here.head
    assert here.errands.names()[-2:] == ["ready", "settle"]
    assert [(w["errand"], w["status"]) for w in here.desk.work] == [
        ("ready", "waiting"),
        ("settle", "waiting"),
    ]
    with_swift(here)
    assert here.desk.ranking["head"] == here.head


def test_readings_that_cannot_all_be_so_are_told_and_the_page_goes_on(here: DeskUnderTest) -> None:
    from leakdx.advice.solving import ContradictoryReadings

    with_swift(here)
    swift = here.desk._state.swift
    assert swift is not None

    class Stubborn:
        def fits(self, _loaded: object) -> bool:
            return True

        def behind(self, _loaded: object) -> bool:
            return False

        def ranking(self, _loaded: object, _last: object) -> None:
            raise ContradictoryReadings(("9: cover_side dry", "10: cover_top film"), proven=True)

    object.__setattr__(here.desk._state, "swift", Stubborn())
    key = here.enter(FILM)
    assert key in here.desk.saved
    fault = here.desk.ranking["fault"]
    assert "cover side: dry" in fault["said"]
    assert "cover top: film" in fault["said"]
    assert here.desk.ranking["rows"] == []
    here.say("undo", entry=10)
    assert here.desk.job["timeline"][9]["counts"] is False


def test_without_a_loop_reports_wait_until_they_are_drained(here: DeskUnderTest) -> None:
    here.errands.told(_running(here.head))
    assert {w["status"] for w in here.desk.work} == {"waiting"}
    assert here.desk.drain() == 1
    assert here.desk.work[-1]["said"] == "weighing"


def test_a_message_of_another_thread_is_obeyed_in_the_one_of_the_desk(
    here: DeskUnderTest,
) -> None:
    # JupyterLab sends to a subshell, and the store belongs to the thread that opened it.
    content = {"do": "enter", "entries": [FILM], "key": "far", "control": "c"}
    thread = threading.Thread(target=here.desk._handle_custom_msg, args=(content, []))
    thread.start()
    thread.join()
    assert here.desk.saved == []
    here.desk.drain()
    assert here.desk.saved == ["far"]
    assert here.desk.faults == []


def test_in_a_loop_entries_settle_after_a_quiet_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desk_module, "QUIET", 0.05)
    monkeypatch.setattr(desk_module, "LOOK", 0.05)

    async def use() -> None:
        here = begun(tmp_path)
        other = DeskUnderTest(tmp_path)
        asked = len(here.errands.asked)
        assert here.desk.machine is None
        assert [w["errand"] for w in here.desk.work][-1] == "draw"
        for state in ("dry", "film", "running"):
            here.enter({"zone": "cover_top", "state": state})
        assert len(here.errands.asked) == asked
        assert {w["errand"] for w in here.desk.work} == {"ready", "settle", "draw"}
        await asyncio.sleep(0.3)
        assert here.errands.names()[asked:] == ["ready", "settle"]
        assert here.desk.machine["id"] == "pump_stand"
        # Reports of a thread come by themselves, and so does what another window wrote.
        thread = threading.Thread(target=here.errands.told, args=(_running(here.head),))
        thread.start()
        thread.join()
        await asyncio.sleep(0.01)
        assert [w["said"] for w in here.desk.work if w["errand"] == "settle"] == ["weighing"]
        assert len(other.desk.notices) == 3
        here.desk.close()
        other.enter(DRY)
        await asyncio.sleep(0.2)
        assert len(here.desk.job["timeline"]) == 12
        other.desk.close()

    asyncio.run(use())


def test_what_is_asked_for_is_worked_out_for_this_head(here: DeskUnderTest) -> None:
    key = here.say("ask", errand="why", seal="shaft_seal")
    errand = here.errands.asked[-1]
    assert (errand.name, errand.seal, errand.head) == ("why", "shaft_seal", here.head)
    assert key in here.desk.saved
    here.say("ask", errand="sheet", which="customer", renew=["shaft_seal"])
    errand = here.errands.asked[-1]
    assert (errand.which, errand.renew) == ("customer", ("shaft_seal",))
    line = here.desk.work[-1]
    assert (line["errand"], line["status"], line["stop"]) == ("sheet", "waiting", True)
    here.say("stop", errand="sheet")
    assert here.errands.stopped == ["sheet"]
    assert "sheet" not in [w["errand"] for w in here.desk.work]
    here.report(
        "why",
        here.head,
        "failed",
        error={"said": "Too large.", "details": "much"},
    )
    (fault,) = here.desk.faults
    assert fault == {
        "key": key,
        "control": "ask-control",
        "said": "Too large.",
        "details": "much",
    }


def test_nothing_can_be_done_without_a_job(tmp_path: Path) -> None:
    empty = DeskUnderTest(tmp_path)
    empty.enter(DRY)
    empty.say("ask", errand="why")
    empty.say("export")
    assert len(empty.faults()) == 3
    assert all("No job is open" in said for said in empty.faults())
    assert empty.sent == []


def test_closing_ends_the_background_work_and_the_store(here: DeskUnderTest) -> None:
    here.desk.close()
    assert here.errands.closed
    assert here.desk.comm is None
    with pytest.raises(Exception, match="closed"):
        here.store.jobs()
    # A report that comes too late hurts nobody.
    here.errands.told(_running(1))
    here.desk.drain()


def test_opening_anew_in_a_notebook_closes_the_one_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("leakdx.panels.desk.Errands", FakeErrands)
    monkeypatch.setattr(Desk.__init__, "__defaults__", (None, FakeErrands))
    first = open_desk(CaseStore.open(tmp_path))
    second = open_desk(CaseStore.open(tmp_path))
    assert first.comm is None
    assert second.comm is not None
    second.close()


def test_another_window_counts_as_another_even_in_the_same_process(tmp_path: Path) -> None:
    here = begun(tmp_path)
    other = CaseStore.open(tmp_path)
    other.append("wet_foot", [Entered(DRY)], "by hand")
    here.desk._look_round()
    assert here.desk.notices[0]["said"] == "Another window added: cover side: dry."
    # It is in the story, and an undo here is not for it.
    assert here.desk.job["undo"] is None
    assert here.desk.job["timeline"][-1]["counts"]


def _running(head: int) -> Any:
    from leakdx.panels.messages import Report

    return Report("settle", head, "running", said="weighing", done=2, of=5)
