"""The case store: what is written is there, once, whole, for every window."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from leakdx.case.model import Conditions, Costs, Renewal, Withdraw, ZoneReading
from leakdx.case.read import load_shipped_job, shipped_jobs
from leakdx.files.faults import FaultyInput
from leakdx.kit.read import load_shipped, machine_from, shipped_layouts
from leakdx.store import machines
from leakdx.store.changes import Change, ConditionsSet, CostsSet, Entered, Renamed
from leakdx.store.store import CaseStore
from tests.store.filed import DRY, FILM, begun, raw, rows, wet_foot

COSTS = {"currency": "EUR", "labour_per_hour": 70, "comeback": 300}
ODD = [
    "it's \"odd\"; '--",
    "two\nlines\r\n\ttab",
    "- a: {b: [1, 2]} # no comment",
    "null",
    "~",
    "1e5",
    "🔧 ölig, Öl ﷽",
    "\x00 \x1b[31m \x85 \u2028",
    "%s {0} $HOME <script>alert(1)</script>",
]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CaseStore]:
    with CaseStore.open(tmp_path / "cases") as opened:
        yield opened


@pytest.fixture
def other(store: CaseStore) -> Iterator[CaseStore]:
    """Another window on the same store."""
    with CaseStore.open(store.folder) as opened:
        yield opened


def problems(error: pytest.ExceptionInfo[FaultyInput]) -> list[tuple[str, str]]:
    return [(fault.path, fault.problem) for fault in error.value.faults]


# --- begin and read ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", shipped_jobs())
def test_a_shipped_job_is_read_as_it_was_begun(store: CaseStore, name: str) -> None:
    loaded = load_shipped_job(name)
    assert store.begin(loaded.job, loaded.machine, "k") == name
    machines.machine_in.cache_clear()
    assert store.read(name).loaded == loaded


def test_a_built_machine_is_kept_whole(store: CaseStore) -> None:
    """Whatever becomes of the layout later, the job has the machine it was begun with."""
    machine = machine_from(
        {
            "format": "leakdx-build/1",
            "id": "my_gearbox",
            "version": "3",
            "name": "Mine",
            "layout": {"id": "helical_reducer", "version": load_shipped("helical_reducer").version},
        }
    )
    job = wet_foot().job.model_copy(
        update={
            "machine": wet_foot().job.machine.model_copy(
                update={"id": "my_gearbox", "version": "3", "file": None}
            ),
            "timeline": (),
            "seal_histories": (),
        }
    )
    store.begin(job, machine, "k")
    machines.machine_in.cache_clear()
    assert store.read("wet_foot").loaded.machine == machine
    assert store.jobs()[0].machine == "Mine"


@pytest.mark.parametrize("name", shipped_layouts())
def test_every_machine_reads_back_from_its_text(name: str) -> None:
    machine = load_shipped(name)
    machines.machine_in.cache_clear()
    again = machines.machine_in(machines.text_of(machine))
    assert again == machine
    assert machines.text_of(again) == machines.text_of(machine)


def test_a_job_no_longer_needs_the_file_of_its_machine(store: CaseStore) -> None:
    loaded = wet_foot()
    assert loaded.job.machine.file == "pump_stand.yaml"
    kept = store.read(begun(store)).loaded
    assert kept.machine == loaded.machine
    assert kept.job.machine.file is None
    assert kept.job.timeline == loaded.job.timeline
    assert kept.job.seal_histories == loaded.job.seal_histories
    assert kept.job.conditions == loaded.job.conditions


def test_a_taken_id_gets_a_number(store: CaseStore) -> None:
    assert [begun(store, key) for key in "abc"] == ["wet_foot", "wet_foot_2", "wet_foot_3"]
    assert store.read("wet_foot_2").loaded.job.id == "wet_foot_2"


def test_a_long_id_that_is_taken_stays_an_id(store: CaseStore) -> None:
    loaded = wet_foot()
    job = loaded.job.model_copy(update={"id": "a" * 61 + "_bb"})
    store.begin(job, loaded.machine, "1")
    second = store.begin(job, loaded.machine, "2")
    assert second == "a" * 61 + "_2"
    assert store.read(second).loaded.job.id == second


def test_one_message_begins_one_job(store: CaseStore) -> None:
    assert begun(store, "same") == begun(store, "same") == "wet_foot"
    assert len(store.jobs()) == 1


def test_one_machine_is_kept_once(store: CaseStore) -> None:
    begun(store, "a")
    begun(store, "b")
    connection = raw(store.folder)
    assert connection.execute("SELECT count(*) FROM machines").fetchone() == (1,)
    connection.close()


def test_a_faulty_job_is_not_begun(store: CaseStore) -> None:
    loaded = wet_foot()
    entries = (ZoneReading(zone="nowhere", state="dry"), Renewal(renew="nothing"))
    with pytest.raises(FaultyInput) as caught:
        store.begin(loaded.job.model_copy(update={"timeline": entries}), loaded.machine, "k")
    assert [path for path, _ in problems(caught)] == ["timeline[0].zone", "timeline[1].renew"]
    assert rows(store.folder) == 0


def test_a_job_of_another_machine_is_not_begun(store: CaseStore) -> None:
    with pytest.raises(FaultyInput, match="pump_stand"):
        store.begin(wet_foot().job, load_shipped("rear_axle"), "k")
    assert rows(store.folder) == 0


def test_an_unknown_job_is_told_with_the_nearest(store: CaseStore) -> None:
    begun(store)
    for ask in (store.read, store.opened, lambda name: store.since(name, 0)):
        with pytest.raises(FaultyInput, match="Did you mean 'wet_foot'"):
            ask("wet_fot")
    with pytest.raises(FaultyInput, match="no job 'wet_fot'"):
        store.append("wet_fot", [Entered(DRY)], "k")


# --- append -----------------------------------------------------------------------------------


def test_what_is_entered_is_at_the_end(store: CaseStore) -> None:
    job_id = begun(store)
    before = store.read(job_id)
    kept = store.append(job_id, [Entered(FILM), Entered(DRY)], "k")
    assert kept == store.read(job_id)
    assert kept.head > before.head
    assert kept.loaded.job.timeline[:-2] == before.loaded.job.timeline
    assert kept.loaded.job.timeline[-2:] == (
        ZoneReading.model_validate(FILM),
        ZoneReading.model_validate(DRY),
    )


def test_models_are_taken_like_their_plain_data(store: CaseStore) -> None:
    job_id = begun(store)
    plain: list[Change] = [Entered(DRY), ConditionsSet({"roll_deg": 3}), CostsSet(COSTS)]
    store.append(job_id, plain, "plain")
    first = store.read(job_id).loaded.job
    made: list[Change] = [
        Entered(ZoneReading.model_validate(DRY)),
        ConditionsSet(Conditions(roll_deg=3)),
        CostsSet(Costs.model_validate(COSTS)),
    ]
    again = store.append(job_id, made, "made").loaded.job
    assert again.timeline[-1] == first.timeline[-1]
    assert (again.conditions, again.costs) == (first.conditions, first.costs)


@pytest.mark.parametrize(
    ("change", "key", "value"),
    [
        (ConditionsSet({"stand": None, "hours": 3}), "conditions", Conditions(hours=3)),
        (CostsSet(COSTS), "costs", Costs.model_validate(COSTS)),
        (CostsSet(None), "costs", None),
        (Renamed("Another name"), "name", "Another name"),
    ],
)
def test_what_is_set_stands_in_the_place_of_what_was(
    store: CaseStore, change: Change, key: str, value: object
) -> None:
    job_id = begun(store)
    store.append(job_id, [CostsSet(COSTS | {"comeback": 1}), Renamed("First")], "before")
    before = store.read(job_id).loaded.job
    after = store.append(job_id, [change], "k").loaded.job
    assert getattr(after, key) == value
    assert after.model_copy(update={key: None}) == before.model_copy(update={key: None})
    assert store.read(job_id).loaded.job == after


def test_of_several_settings_the_last_is_written(store: CaseStore) -> None:
    job_id = begun(store)
    head = store.read(job_id).head
    kept = store.append(job_id, [Renamed("One"), Entered(DRY), Renamed("Two")], "k")
    assert kept.loaded.job.name == "Two"
    assert [f.change for f in store.since(job_id, head)] == [
        Entered(ZoneReading.model_validate(DRY)),
        Renamed("Two"),
    ]


def test_a_message_is_written_once(store: CaseStore, other: CaseStore) -> None:
    job_id = begun(store)
    first = store.append(job_id, [Entered(FILM), Entered(DRY)], "same")
    assert store.append(job_id, [Entered(FILM), Entered(DRY)], "same") == first
    later = other.append(job_id, [Entered(DRY)], "later")
    # What it gives is the job as it is now, not as it was then.
    assert other.append(job_id, [Entered(FILM)], "same") == later
    assert len(store.read(job_id).loaded.job.timeline) == 9 + 3


def test_another_job_may_have_the_same_key(store: CaseStore) -> None:
    one, two = begun(store, "a"), begun(store, "b")
    store.append(one, [Entered(DRY)], "same")
    store.append(two, [Entered(DRY)], "same")
    assert len(store.read(two).loaded.job.timeline) == 10


def test_nothing_appended_writes_nothing(store: CaseStore) -> None:
    job_id = begun(store)
    before = rows(store.folder)
    assert store.append(job_id, [], "k") == store.read(job_id)
    assert rows(store.folder) == before


@pytest.mark.parametrize("key", ["", "k" * 201])
def test_a_key_that_is_none(store: CaseStore, key: str) -> None:
    job_id = begun(store)
    with pytest.raises(ValueError, match="1 to 200"):
        store.append(job_id, [Entered(DRY)], key)
    with pytest.raises(ValueError, match="1 to 200"):
        begun(store, key)


FAULTY: list[tuple[list[Change], list[str]]] = [
    ([Entered(DRY), Entered({"zone": "nowhere", "state": "dry"})], ["timeline[10].zone"]),
    (
        [Entered({"zone": "cover_top", "state": "moist"}), Entered({"renew": "nothing"})],
        ["timeline[9].state", "timeline[10].renew"],
    ),
    ([Entered({"withdraw": 40})], ["timeline[9].withdraw"]),
    ([Entered({"correct": 1, "to": {"wash": "whole"}})], ["timeline[9].to"]),
    ([Entered("dry")], ["timeline[9]"]),  # type: ignore[arg-type]
    ([Entered({"zone": "cover_top", "state": "dry", "note": "\ud83d"})], ["timeline[9].note"]),
    ([Entered(DRY | {"note": "n" * 10_001}), Renamed("\ud83d")], ["timeline[9].note", "name"]),
    (
        [ConditionsSet({"pitch_deg": 100}), Renamed("")],
        ["conditions.pitch_deg", "name"],
    ),
    ([CostsSet(COSTS | {"labour_per_hour": True})], ["costs.labour_per_hour"]),
    ([ConditionsSet([])], ["conditions"]),  # type: ignore[arg-type]
]


@pytest.mark.parametrize(("changes", "paths"), FAULTY)
def test_a_faulty_change_writes_nothing(
    store: CaseStore, changes: list[Change], paths: list[str]
) -> None:
    job_id = begun(store)
    before, count = store.read(job_id), rows(store.folder)
    with pytest.raises(FaultyInput) as caught:
        store.append(job_id, changes, "k")
    assert sorted(path for path, _ in problems(caught)) == sorted(paths)
    assert all(fault.remedy for fault in caught.value.faults)
    assert rows(store.folder) == count
    assert store.read(job_id) == before
    # The same message, put right, is taken.
    store.append(job_id, [Entered(DRY)], "k")
    assert len(store.read(job_id).loaded.job.timeline) == 10


@pytest.mark.parametrize("text", ODD)
def test_any_text_is_kept_as_it_is(store: CaseStore, text: str) -> None:
    job_id = begun(store)
    entry: Mapping[str, Any] = {**DRY, "note": text, "at": text}
    store.append(job_id, [Entered(entry), Renamed(text)], text)
    kept = store.read(job_id).loaded.job
    assert (kept.name, kept.timeline[-1].note, kept.timeline[-1].at) == (text, text, text)
    assert store.jobs()[0].title == text
    assert [f.key for f in store.since(job_id, 0)][-1] == text


# --- several windows --------------------------------------------------------------------------


def test_a_window_is_told_what_the_other_wrote(store: CaseStore, other: CaseStore) -> None:
    job_id = begun(store)
    assert other.moved()
    assert not other.moved()
    head = other.read(job_id).head
    store.append(job_id, [Entered(DRY), Renamed("New")], "k")
    assert not store.moved()
    assert other.moved()
    assert not other.moved()
    told = other.since(job_id, head)
    assert [f.change for f in told] == [Entered(ZoneReading.model_validate(DRY)), Renamed("New")]
    assert {f.window for f in told} == {store.window}
    assert {f.key for f in told} == {"k"}
    assert store.window != other.window
    assert told[-1].seq == other.read(job_id).head
    assert other.since(job_id, told[-1].seq) == ()


def test_what_it_began_with_is_told_without_the_beginning(store: CaseStore) -> None:
    job_id = begun(store)
    assert [f.change for f in store.since(job_id, 0)] == [
        Entered(event) for event in wet_foot().job.timeline
    ]


def test_an_entry_keeps_its_number_whatever_others_add(store: CaseStore, other: CaseStore) -> None:
    job_id = begun(store)
    entry = len(store.append(job_id, [Entered(FILM)], "a").loaded.job.timeline)
    other.append(job_id, [Entered(DRY), Entered(DRY)], "b")
    kept = store.append(job_id, [Entered({"withdraw": entry})], "c").loaded.job
    assert kept.timeline[-1] == Withdraw(withdraw=entry)
    assert kept.timeline[entry - 1] == ZoneReading.model_validate(FILM)
    assert len(kept.timeline) == 9 + 4
    # The other window cannot take back what has been taken back, though it has not seen it.
    with pytest.raises(FaultyInput, match="has been withdrawn already"):
        other.append(job_id, [Entered({"withdraw": entry})], "d")


def test_a_change_is_checked_against_what_others_wrote(store: CaseStore, other: CaseStore) -> None:
    job_id = begun(store)
    other.append(job_id, [ConditionsSet({"use": "parked"})], "a")
    with pytest.raises(FaultyInput, match="parked"):
        store.append(job_id, [Entered({"run_minutes": 5, "airflow_m_s": 3})], "b")


def test_reading_does_not_wait_for_a_writer(store: CaseStore, other: CaseStore) -> None:
    job_id = begun(store)
    writer = raw(store.folder)
    writer.execute("BEGIN IMMEDIATE")
    start = time.monotonic()
    assert other.read(job_id) == store.read(job_id)
    assert time.monotonic() - start < 2
    writer.close()


def test_writing_waits_for_another_writer(store: CaseStore) -> None:
    job_id = begun(store)
    writer = raw(store.folder)
    writer.execute("BEGIN IMMEDIATE")
    failed: list[BaseException] = []

    def write() -> None:
        try:
            with CaseStore.open(store.folder) as window:
                window.append(job_id, [Entered(DRY)], "k")
        except BaseException as error:
            failed.append(error)

    thread = threading.Thread(target=write)
    thread.start()
    time.sleep(0.3)
    assert thread.is_alive()
    assert len(store.read(job_id).loaded.job.timeline) == 9
    writer.execute("COMMIT")
    writer.close()
    thread.join(10)
    assert not failed
    assert len(store.read(job_id).loaded.job.timeline) == 10


# --- the shelf --------------------------------------------------------------------------------


def test_the_shelf_has_the_newest_change_first(store: CaseStore) -> None:
    assert store.jobs() == ()
    begun(store, "a")
    begun(store, "b")
    assert [job.id for job in store.jobs()] == ["wet_foot_2", "wet_foot"]
    store.append("wet_foot", [Entered(DRY), Renamed("Foot wet, again")], "k")
    first, second = store.jobs()
    assert (first.id, first.title, first.entries) == ("wet_foot", "Foot wet, again", 10)
    assert (second.id, second.title, second.entries) == ("wet_foot_2", "wet_foot_2", 9)
    assert first.machine == wet_foot().machine.name
    assert first.machine_id == "pump_stand"


def test_when_it_was_changed_is_local_time(
    store: CaseStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun(store)
    (job,) = store.jobs()
    assert job.changed_said == job.changed[:10] + " " + job.changed[11:16]
    monkeypatch.setattr("leakdx.store.store._now", lambda: "2031-05-01T23:59:58+05:30")
    store.append("wet_foot", [Entered(DRY)], "k")
    (job,) = store.jobs()
    assert job.changed == "2031-05-01T23:59:58+05:30"
    assert job.changed_said == "2031-05-01 23:59"
    assert store.since("wet_foot", 0)[-1].when == job.changed


def test_the_job_opened_last_is_known_to_all(store: CaseStore, other: CaseStore) -> None:
    assert store.last_opened() is None
    one, two = begun(store, "a"), begun(store, "b")
    store.opened(two)
    assert other.last_opened() == two
    other.opened(one)
    assert store.last_opened() == one
    assert not store.since(one, store.read(one).head)


def test_a_store_belongs_to_its_thread(store: CaseStore) -> None:
    begun(store)
    caught: list[Exception] = []

    def ask() -> None:
        try:
            store.read("wet_foot")
        except Exception as error:
            caught.append(error)

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join()
    assert "thread" in str(caught[0])
    assert not isinstance(caught[0], FaultyInput)


# --- speed ------------------------------------------------------------------------------------


def test_a_job_of_forty_entries_is_read_and_written_at_once(store: CaseStore) -> None:
    """On the reference engine; the bound is some ten times what it takes."""
    loaded = load_shipped_job("rear_of_engine_renewed")
    job_id = store.begin(loaded.job, loaded.machine, "k")
    for n in range(7):
        store.append(job_id, [Entered({"zone": "starter", "state": "dry"})], f"k{n}")
    start = time.perf_counter()
    kept = store.read(job_id)
    took = time.perf_counter() - start
    assert len(kept.loaded.job.timeline) == 40
    assert took < 0.06
