"""Messages as orders."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.files.faults import FaultyInput
from leakdx.panels import hearing
from leakdx.panels.hearing import ORDERS, Order, heard, marks_of

GOOD: dict[str, dict[str, Any]] = {
    "open": {"job": "a_job"},
    "close": {},
    "begin": {"title": "T", "machine": {"shipped": "rear_axle"}},
    "example": {"job": "first_walk"},
    "import": {"file": "f.yaml", "text": "x"},
    "export": {},
    "enter": {"entries": [{"zone": "a", "state": "dry"}]},
    "undo": {"entry": 3},
    "conditions": {"conditions": {}},
    "costs": {"costs": None},
    "renamed": {"title": "T"},
    "ask": {"errand": "why", "seal": "a_seal"},
    "stop": {"errand": "why"},
    "dismiss": {},
}


def test_every_order_is_tried() -> None:
    assert GOOD.keys() == ORDERS.keys()


@pytest.mark.parametrize("do", ORDERS)
def test_each_order_is_understood(do: str) -> None:
    order = heard({"do": do, "key": "k", "control": "c", **GOOD[do]})
    assert type(order) is ORDERS[do]
    assert (order.key, order.control) == ("k", "c")


@pytest.mark.parametrize("do", ORDERS)
def test_each_order_needs_its_key_and_takes_nothing_strange(do: str) -> None:
    with pytest.raises(FaultyInput) as caught:
        heard({"do": do, "strange": 1, **GOOD[do]})
    assert {fault.path for fault in caught.value.faults} == {"key", "strange"}


@pytest.mark.parametrize(
    ("do", "key"), [(do, key) for do, good in GOOD.items() for key in good if key != "entry"]
)
def test_each_part_is_needed_and_of_one_kind(do: str, key: str) -> None:
    wrong = {"do": do, "key": "k", **GOOD[do], key: 1.5}
    with pytest.raises(FaultyInput) as caught:
        heard(wrong)
    assert caught.value.faults[0].path.startswith(key)
    if (do, key) != ("ask", "seal"):
        with pytest.raises(FaultyInput):
            heard({k: v for k, v in wrong.items() if k != key})


@pytest.mark.parametrize("entry", [0, -1, True, "3", 1.5, None])
def test_an_entry_has_a_number_from_one(entry: object) -> None:
    with pytest.raises(FaultyInput):
        heard({"do": "undo", "key": "k", "entry": entry})
    with pytest.raises(FaultyInput):
        heard({"do": "undo", "key": "k", "entries": [1, entry]})


def test_several_entries_are_taken_back_together() -> None:
    order = heard({"do": "undo", "key": "k", "entry": 4, "entries": [4, 5]})
    assert isinstance(order, hearing.Undo)
    assert order.entries == (4, 5)


def test_a_key_has_a_length_that_the_store_takes() -> None:
    assert heard({"do": "close", "key": "k" * 150}).key == "k" * 150
    with pytest.raises(FaultyInput):
        heard({"do": "close", "key": "k" * 151})


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)


@given(JSON | st.fixed_dictionaries({"do": st.sampled_from([*ORDERS, "x"]), "key": JSON}))
def test_anything_at_all_is_an_order_or_a_fault(content: object) -> None:
    key, control = marks_of(content)
    assert isinstance(key, str)
    assert control
    try:
        assert isinstance(heard(content), Order)
    except FaultyInput as error:
        assert error.faults
        for fault in error.faults:
            assert fault.problem
            assert fault.remedy
