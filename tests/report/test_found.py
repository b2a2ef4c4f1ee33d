"""What was seen, in words for the owner."""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.history import effective
from leakdx.machine.model import SignKind
from leakdx.report.found import Found, Place, fluid_said, found_of
from tests.advice.repaired import MADE
from tests.report.made import DRY, WASH, WET, loaded_job


def found(*timeline: dict[str, Any]) -> Found:
    loaded = loaded_job(*timeline)
    return found_of(loaded.machine, [e for _, e in effective(loaded.job)])


def test_the_last_that_was_seen_of_a_place_counts() -> None:
    assert found(DRY, WET).wet == (Place("Plain side", "gear oil, running, fresh"),)
    assert found(DRY, WET).dry == ()
    assert found(WET, DRY).wet == ()
    assert found(WET, DRY).dry == ("Plain side",)


def test_not_looked_is_neither_dry_nor_wet() -> None:
    unseen = [
        {"zone": "foot", "state": "not_looked"},
        {"seal_point": "plug", "state": "not_looked"},
    ]
    assert found(*unseen) == Found((), (), (), frozenset(), 0)
    # It does not unsay what was seen before.
    assert found(WET, {"zone": "side", "state": "not_looked"}).wet == found(WET).wet


def test_what_was_washed_since_says_so() -> None:
    assert [p.washed for p in found(WET, WASH).wet] == [True]
    assert [p.washed for p in found(WET, {"wash": ["side"]}).wet] == [True]
    assert [p.washed for p in found(WET, {"wash": ["foot"]}).wet] == [False]
    assert [p.washed for p in found(WASH, WET).wet] == [False]


def test_what_was_withdrawn_was_not_seen() -> None:
    assert found(WET, {"withdraw": 1}).wet == ()


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        ({"zone": "side", "state": "film"}, "a thin film, fluid not known"),
        ({"zone": "side", "state": "film", "fluid": "coolant"}, "a thin film of coolant"),
        ({"zone": "side", "state": "wet", "fluid": "gear_oil"}, "wet with gear oil"),
        ({"zone": "side", "state": "dripping", "age": "baked"}, "dripping, fluid not known, old"),
        ({"seal_point": "plug", "state": "drops_form"}, "drops form at the joint itself"),
        ({"seal_point": "plug", "state": "weeping"}, "weeping at the joint itself"),
    ],
)
def test_states_in_plain_words(reading: dict[str, Any], said: str) -> None:
    [place] = found(reading).wet
    assert place.how.startswith(said)


def test_wet_places_of_an_unknown_fluid_are_counted() -> None:
    assert found(WET, {"zone": "foot", "state": "wet"}).unsure == 1


@pytest.mark.parametrize("sign", SignKind)
def test_every_sign_has_its_words(sign: SignKind) -> None:
    loaded = loaded_job(WET)
    [entry] = [e for _, e in effective(loaded.job)]
    from leakdx.case.model import Sign

    yes = Sign(sign=sign, fluid="coolant")
    [said] = found_of(loaded.machine, [entry, yes]).signs
    assert "_" not in said and "{" not in said
    assert found_of(loaded.machine, [Sign(sign=sign, value="no")]).signs == ()


def test_fluids_of_one_kind_go_by_their_names() -> None:
    oil = MADE.fluids[0]
    twin = oil.model_copy(update={"id": "other", "name": "Other oil"})
    two = MADE.model_copy(update={"fluids": (oil, twin)})
    assert fluid_said(MADE, oil.id) == "gear oil"
    assert fluid_said(two, "other") == "Other oil"
    assert fluid_said(two, oil.id) == "gear oil"
    assert fluid_said(MADE, None) is None
