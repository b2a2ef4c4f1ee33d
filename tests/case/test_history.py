"""What is taken back or put right: nothing is lost, and nothing of it counts."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.advice.ranking import rank_job
from leakdx.advice.solving import Solved, solve
from leakdx.case.history import as_it_counts, effective, withdrawn_notes
from leakdx.case.model import Job, Wash
from leakdx.case.read import LoadedJob
from leakdx.network.tables import Array
from leakdx.priors.read import shipped_priors
from tests.case.test_evidence import ONE, job, look

PRIORS = shipped_priors()
# Two stretches of one gasket, so that work on one may disturb the other.
MADE = ONE.model_copy(
    update={
        "seal_points": tuple(s.model_copy(update={"part_of": "gasket"}) for s in ONE.seal_points)
    }
)
WHOLE = {"wash": "whole"}
RUN = {"run_minutes": 40.0, "use": "driven"}
STORY: tuple[dict[str, Any], ...] = (
    look("plate_1", "running", age="aged"),
    look("plate_0", "dry"),
    WHOLE,
    RUN,
    look("plate_2", "film"),
    {"renew": "plug", "checks": ["wiped"]},
    WHOLE,
    RUN,
    look("plate_1", "dry"),
    {"seal_point": "cover", "state": "weeping"},
)
plain = st.sampled_from(STORY)


def told(one: Job) -> list[tuple[int, Any]]:
    return list(effective(one))


def solved(*timeline: dict[str, Any]) -> Solved:
    return solve(LoadedJob(job(*timeline), MADE), PRIORS)


def chances(one: Solved) -> dict[str, Array]:
    names = one.asked.network.network.names
    return {n: one.beliefs[n] for n in names if n.startswith(("seal__", "cause__"))}


def same(one: Solved, other: Solved) -> None:
    left, right = chances(one), chances(other)
    assert left.keys() == right.keys()
    for name, chance in left.items():
        assert np.abs(chance - right[name]).max() < 1e-12, name
    assert float(one.beliefs.log_evidence) == pytest.approx(
        float(other.beliefs.log_evidence), abs=1e-12
    )


# What counts.


def test_without_either_all_counts_under_its_own_number() -> None:
    one = job(*STORY)
    assert told(one) == list(enumerate(one.timeline))
    assert withdrawn_notes(one) == ()


def test_a_withdrawn_entry_is_gone_and_the_others_keep_their_numbers() -> None:
    one = job(*STORY, {"withdraw": 1})
    assert [number for number, _ in effective(one)] == list(range(1, len(STORY)))
    # It stays in the job.
    assert one.timeline[0] == job(*STORY).timeline[0]
    assert withdrawn_notes(one) == ("1 entry withdrawn",)


def test_a_withdrawn_withdrawal_brings_it_back() -> None:
    back = {"withdraw": len(STORY) + 1}
    one = job(*STORY, {"withdraw": 1}, back)
    assert told(one) == list(enumerate(job(*STORY).timeline))
    assert withdrawn_notes(one) == ()
    again = job(*STORY, {"withdraw": 1}, back, {"withdraw": len(STORY) + 2})
    assert [number for number, _ in effective(again)] == list(range(1, len(STORY)))
    assert withdrawn_notes(again) == ("1 entry withdrawn",)


def test_a_correction_stands_in_the_place_of_what_it_corrects() -> None:
    one = job(*STORY, {"correct": 1, "to": look("plate_1", "film")})
    first, *rest = told(one)
    assert first == (0, job(look("plate_1", "film")).timeline[0])
    assert rest == list(enumerate(job(*STORY).timeline))[1:]
    assert withdrawn_notes(one) == ("1 entry corrected",)


def test_the_last_correction_counts() -> None:
    first, second = ({"correct": 1, "to": look("plate_1", s)} for s in ("film", "dry"))
    assert told(job(*STORY, first, second)) == told(job(*STORY, second))
    # And where it is withdrawn, the one before it.
    taken_back = {"withdraw": len(STORY) + 2}
    assert told(job(*STORY, first, second, taken_back)) == told(job(*STORY, first))


def test_both_are_counted_in_the_notes() -> None:
    corrected = {"correct": 2, "to": look("plate_0", "film")}
    one = job(*STORY, {"withdraw": 1}, {"withdraw": 4}, corrected)
    assert withdrawn_notes(one) == ("2 entries withdrawn", "1 entry corrected")


def test_what_points_at_nothing_before_it_has_no_effect() -> None:
    # A file that says so is refused (test_read); a job made otherwise is not broken by it.
    ahead = job({"withdraw": 2}, look("plate_0"), {"correct": 9, "to": look("plate_0", "dry")})
    assert [number for number, _ in effective(ahead)] == [1]
    assert withdrawn_notes(ahead) == ()


@given(st.lists(plain, min_size=1, max_size=6), st.data())
def test_any_entry_may_be_withdrawn(timeline: list[dict[str, Any]], data: st.DataObject) -> None:
    gone = data.draw(st.integers(0, len(timeline) - 1))
    left = [e for n, e in enumerate(timeline) if n != gone]
    counted = as_it_counts(job(*timeline, {"withdraw": gone + 1}))
    assert counted.timeline == job(*left).timeline


# What it does to the chances.


@pytest.mark.parametrize("gone", range(len(STORY)))
def test_withdrawn_is_never_done(gone: int) -> None:
    left = [e for n, e in enumerate(STORY) if n != gone]
    same(solved(*STORY, {"withdraw": gone + 1}), solved(*left))


@pytest.mark.parametrize(
    ("number", "to"),
    [
        (1, look("plate_1", "film", age="fresh")),
        (1, look("plate_2", "dry")),
        (4, {"run_minutes": 5.0, "use": "idled"}),
        (6, {"renew": "cover"}),
        (6, {"renew": "plug", "how": "refitted"}),
        (7, {"wash": ["plate_1"]}),
        (10, {"seal_point": "plug", "state": "tight"}),
    ],
)
def test_corrected_is_as_if_it_had_been_said_so(number: int, to: dict[str, Any]) -> None:
    written = list(STORY)
    written[number - 1] = to
    corrected, right = solved(*STORY, {"correct": number, "to": to}), solved(*written)
    same(corrected, right)
    assert list(corrected.asked.readings) == list(right.asked.readings)


def test_labels_keep_the_numbers_of_the_file() -> None:
    labels = list(solved(*STORY, {"withdraw": 2}).asked.readings)
    assert labels == [
        "1: plate_1 running, aged",
        "5: plate_2 film",
        "9: plate_1 dry",
        "10: cover weeping",
    ]


def test_the_ranking_says_that_something_was_withdrawn() -> None:
    notes = rank_job(LoadedJob(job(*STORY, {"withdraw": 2}), MADE), PRIORS).notes
    assert notes[-1] == "1 entry withdrawn"
    assert not any("withdrawn" in n for n in rank_job(LoadedJob(job(*STORY), MADE), PRIORS).notes)


# A job told in other words.


@pytest.mark.parametrize("place", [3, 7])
def test_one_run_told_as_two_halves_changes_nothing(place: int) -> None:
    half = RUN | {"run_minutes": 20.0}
    same(solved(*STORY), solved(*STORY[:place], half, half, *STORY[place + 1 :]))


def test_work_on_one_stretch_disturbs_the_other_here() -> None:
    assert "seal__cover__1" in chances(solved(*STORY))


@pytest.mark.parametrize("place", range(len(STORY) + 2))
def test_a_wash_of_no_zones_changes_nothing(place: int) -> None:
    both = (*STORY[:6], {"renew": "cover"}, *STORY[6:])
    one = job(*both)
    nothing = Wash.model_construct(wash=(), thoroughness=0.95)
    timeline = (*one.timeline[:place], nothing, *one.timeline[place:])
    with_it = one.model_copy(update={"timeline": timeline})
    same(solved(*both), solve(LoadedJob(with_it, MADE), PRIORS))


def test_the_order_of_readings_of_one_epoch_does_not_matter() -> None:
    readings = [STORY[8], STORY[9], look("plate_2", "film", age="fresh")]
    first = solved(*STORY[:8], *readings)
    for order in permutations(readings):
        same(first, solved(*STORY[:8], *order))


@settings(deadline=None, max_examples=25)
@given(st.permutations(STORY[4:6] + STORY[8:]))
def test_looks_may_change_places_but_not_with_a_renewal(order: list[dict[str, Any]]) -> None:
    # What was read before a renewal is of the old joint, and what is read after it of the new.
    at = order.index(STORY[5])
    before = sorted(map(str, order[:at]))
    told_in_order = sorted(order[:at], key=str), sorted(order[at + 1 :], key=str)
    again = [*told_in_order[0], STORY[5], *told_in_order[1]]
    assert sorted(map(str, again[:at])) == before
    same(solved(WHOLE, RUN, *order), solved(WHOLE, RUN, *again))
