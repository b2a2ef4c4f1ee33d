"""A job as the page shows it."""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.model import Sign, Yes
from leakdx.case.read import job_from, load_shipped_job, shipped_jobs
from leakdx.machine.model import SignKind
from leakdx.panels.entry_words import EntryWords
from leakdx.panels.job_view import JobView, job_view
from leakdx.panels.undoing import groups_of, redo_of, undo_of
from leakdx.store.changes import Entered
from leakdx.store.store import Filing, Kept
from tests.panels.desks import wet_foot

STAND = wet_foot().machine


def viewed(*entries: dict[str, Any]) -> JobView:
    """A job with such entries, each from a message of its own."""
    data = {
        "format": "leakdx-job/1",
        "id": "made_up",
        "machine": {"id": STAND.id, "version": STAND.version},
        "timeline": list(entries),
    }
    loaded = job_from(data, STAND)
    filings = tuple(
        Filing(n + 1, "w", Entered(event), "2031-05-01T10:00:00", f"page:{n}")
        for n, event in enumerate(loaded.job.timeline)
    )
    return job_view(Kept(loaded, len(entries)), filings)


WET = {"zone": "foot_left", "state": "wet", "fluid": "gear_oil", "age": "baked"}
DRY = {"zone": "foot_left", "state": "dry"}


def test_the_latest_reading_that_counts_is_shown() -> None:
    assert viewed(WET, DRY)["zones"]["foot_left"]["state"] == "dry"
    assert viewed(DRY, WET)["zones"]["foot_left"] == {
        "state": "wet",
        "fluid": "gear_oil",
        "age": "baked",
        "said": "wet, baked on, gear oil",
        "entry": 2,
        "old": False,
    }
    assert viewed(WET, DRY, {"withdraw": 2})["zones"]["foot_left"]["state"] == "wet"
    # Not looked at is no reading: what was seen before is still the last that was seen.
    again = viewed(WET, {"zone": "foot_left", "state": "not_looked"})["zones"]
    assert (again["foot_left"]["state"], again["foot_left"]["entry"]) == ("wet", 1)
    assert viewed({"zone": "foot_left", "state": "not_looked"})["zones"] == {}


def test_a_correction_stands_in_the_place_of_what_it_puts_right() -> None:
    view = viewed(WET, {"correct": 1, "to": DRY})
    assert view["zones"]["foot_left"] | {"said": ""} == {
        "state": "dry",
        "fluid": None,
        "age": None,
        "said": "",
        "entry": 1,
        "old": False,
    }
    first, second = view["timeline"]
    assert (first["counts"], first["why_not"]) == (False, "put right by entry 2")
    assert (second["counts"], second["said"]) == (True, "Put entry 1 right: foot left: dry")
    back = viewed(WET, {"correct": 1, "to": DRY}, {"withdraw": 2})
    assert back["zones"]["foot_left"]["state"] == "wet"
    assert [line["counts"] for line in back["timeline"]] == [True, False, True]


def test_a_correction_counts_no_more_than_what_it_corrects() -> None:
    right = {"correct": 1, "to": DRY}
    taken = viewed(WET, right, {"withdraw": 1})
    assert taken["zones"] == {}
    assert [line["why_not"] for line in taken["timeline"]] == [
        "taken back by entry 3",
        "entry 1 was taken back",
        None,
    ]
    twice = viewed(WET, right, {"correct": 1, "to": DRY | {"state": "film"}})
    assert twice["zones"]["foot_left"]["state"] == "film"
    assert [line["counts"] for line in twice["timeline"]] == [False, False, True]


@pytest.mark.parametrize(
    ("wash", "old"), [("whole", True), (["foot_left"], True), (["cover_top"], False)]
)
def test_a_reading_from_before_a_wash_is_old(wash: object, old: bool) -> None:
    assert viewed(WET, {"wash": wash})["zones"]["foot_left"]["old"] is old
    assert viewed({"wash": wash}, WET)["zones"]["foot_left"]["old"] is False
    assert viewed(WET, {"wash": wash}, DRY)["zones"]["foot_left"]["old"] is False
    assert viewed(WET, {"wash": wash}, {"withdraw": 2})["zones"]["foot_left"]["old"] is False


@pytest.mark.parametrize(
    ("later", "old"),
    [
        ({"renew": "shaft_seal"}, True),
        ({"renew": "cover_gasket"}, False),
        ({"context": "recent_work", "seal_point": "shaft_seal"}, True),
        ({"context": "hard_and_rigid", "seal_point": "shaft_seal"}, False),
        ({"wash": "whole"}, True),
        ({"wash": ["foot_left"]}, True),
        ({"wash": ["cover_top"]}, False),
        ({"run_minutes": 5}, False),
    ],
)
def test_a_joint_that_was_renewed_or_washed_since_is_old(later: dict[str, Any], old: bool) -> None:
    seen = {"seal_point": "shaft_seal", "state": "drops_form"}
    assert viewed(seen, later)["seals"]["shaft_seal"] == {
        "state": "drops_form",
        "said": "drops form",
        "entry": 1,
        "old": old,
    }
    assert viewed(later, seen)["seals"]["shaft_seal"]["old"] is False


def test_signs_are_told_once_for_each_fluid() -> None:
    falls = {"sign": "level_falls", "value": "yes"}
    view = viewed(
        {**falls, "fluid": "gear_oil"},
        {**falls, "fluid": "water"},
        {**falls, "fluid": "water", "value": "no"},
        {"sign": "smoke", "value": "not_looked"},
    )
    assert [(s["fluid"], s["value"], s["said"], s["entry"]) for s in view["signs"]] == [
        ("gear_oil", "yes", "The level of the gear oil falls", 1),
        ("water", "no", "The level of the water does not fall", 3),
    ]


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (
            {"zone": "cover_top", "state": "dripping", "drops_per_minute": 12, "sure": "poor"},
            "cover top: dripping, 12 drops a minute, seen poorly",
        ),
        (
            {"zone": "cover_top", "state": "film", "method": "dye_lamp", "sure": "good"},
            "cover top: film, with dye and lamp, seen well",
        ),
        ({"zone": "cover_top", "state": "not_looked"}, "cover top: not looked at"),
        ({"seal_point": "cover_gasket", "state": "tight"}, "cover gasket: tight"),
        ({"sign": "ground_wet", "value": "no"}, "The ground under it is dry"),
        (
            {"sign": "fluid_thinned", "value": "not_looked", "fluid": "water"},
            "Is the water thinned? Not looked at",
        ),
        (
            {"sign": "pressure_loss", "fluid": "water"},
            "The system loses pressure (water)",
        ),
        (
            {"context": "hard_and_rigid", "seal_point": "cover_gasket"},
            "Gasket hard as plastic: cover gasket",
        ),
        ({"context": "long_idle"}, "Stood unused for long"),
        (
            {"context": "spilled_at_filling", "zone": "cover_top", "fluid": "gear_oil"},
            "Spilled at filling: cover top, gear oil",
        ),
        ({"wash": "whole"}, "Washed: the whole machine"),
        (
            {"wash": ["cover_top", "foot_left"], "thoroughness": 0.5},
            "Washed: cover top, foot left, about 50 % of it off",
        ),
        ({"run_minutes": 1, "use": "driven"}, "Ran for 1 minute, driven"),
        ({"run_minutes": 90, "use": "parked"}, "Stood for 90 minutes"),
        (
            {"run_minutes": 30, "airflow_m_s": 3, "fluid_temperature_C": 90},
            "Ran for 30 minutes, air at 3 m/s, 90 °C",
        ),
        (
            {"renew": "shaft_seal", "checks": ["mirror", "torque"], "how": "refitted"},
            "Renewed: shaft seal, with the same part; checked: lies right all round, every "
            "fastener to torque",
        ),
    ],
)
def test_what_each_entry_says(entry: dict[str, Any], said: str) -> None:
    (line,) = viewed(entry)["timeline"]
    assert line["said"] == said
    assert line["data"] == entry
    assert line["counts"]


def test_taking_back_is_told_with_what_it_was() -> None:
    view = viewed(WET, {"withdraw": 1}, {"withdraw": 2})
    assert [line["said"] for line in view["timeline"][1:]] == [
        "Took back entry 1: foot left: wet, baked on, gear oil",
        "Took back the taking back of entry 1: foot left: wet, baked on, gear oil",
    ]
    assert [line["why_not"] for line in view["timeline"]] == [None, "taken back by entry 3", None]


@pytest.mark.parametrize("name", shipped_jobs())
def test_no_shipped_job_shows_an_id_or_a_word_of_the_files(name: str) -> None:
    loaded = load_shipped_job(name)
    view = job_view(Kept(loaded, 1), ())
    said = [line["said"] for line in view["timeline"]]
    said += [one["said"] for one in (*view["zones"].values(), *view["seals"].values())]
    said += [one["said"] for one in view["signs"]] + [view["conditions"]["said"], view["title"]]
    assert said
    assert not [s for s in said if "_" in s]
    assert (view["undo"], view["redo"]) == (None, None)


def test_how_the_machine_stands_is_told() -> None:
    loaded = load_shipped_job("rear_of_engine_wet")
    view = job_view(Kept(loaded, 1), ())
    assert view["conditions"]["said"] == "nose up 2 degrees, air at 3 m/s, 95 °C, 400 h since clean"
    ramp = loaded.job.conditions.model_copy(update={"stand": "ramp_nose_up", "pitch_deg": None})
    assert EntryWords(loaded.machine).conditions(ramp).startswith("nose up on a ramp, ")


def test_every_sign_is_told_both_ways() -> None:
    words = EntryWords(STAND)
    for kind in SignKind:
        told = {words.sign(Sign(sign=kind, value=v, fluid="water")) for v in Yes}
        assert len(told) == 3
        assert not [s for s in told if "_" in s or "{" in s]


def test_fluids_with_one_short_name_keep_their_long_ones() -> None:
    oils = tuple(
        fluid.model_copy(update={"name": f"Oil, {place}"})
        for fluid, place in zip(STAND.fluids, ("gearbox", "axle"), strict=True)
    )
    words = EntryWords(STAND.model_copy(update={"fluids": oils}))
    assert dict(words.fluids) == {"gear_oil": "oil, gearbox", "water": "oil, axle"}


def test_nothing_entered_elsewhere_is_taken_back_by_a_tap_here() -> None:
    loaded = wet_foot()
    timeline = loaded.job.timeline
    filings = [
        Filing(n, "w", Entered(event), "", "by hand" if n > 4 else "page:a")
        for n, event in enumerate(timeline)
    ]
    groups = groups_of(filings)
    assert [g.entries for g in groups] == [(1, 2, 3, 4, 5), (6, 7, 8, 9)]
    assert undo_of(timeline, groups) == ()
    assert undo_of(timeline[:5], groups[:1]) == (1, 2, 3, 4, 5)
    assert redo_of(timeline, groups) == ()


def test_what_was_taken_back_comes_again_only_before_more_is_entered() -> None:
    timeline = job_from(
        {
            "format": "leakdx-job/1",
            "id": "made_up",
            "machine": {"id": STAND.id, "version": STAND.version},
            "timeline": [WET, {"withdraw": 1}, DRY],
        },
        STAND,
    ).job.timeline
    filings = [Filing(n, "w", Entered(e), "", f"page:{n}") for n, e in enumerate(timeline)]
    assert redo_of(timeline[:2], groups_of(filings[:2])) == (2,)
    assert redo_of(timeline, groups_of(filings)) == ()
    assert undo_of(timeline, groups_of(filings)) == (3,)
