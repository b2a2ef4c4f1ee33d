"""Chances in plain words."""

from __future__ import annotations

from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.report.chances import about, in_words


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.65, "about 2 in 3"),
        (0.4, "about 2 in 5"),
        (0.21, "about 1 in 5"),
        (0.5, "about 1 in 2"),
        (0.088, "about 1 in 10"),
        (0.95, "about 19 in 20"),
        (0.0045, "about 1 in 200"),
        # Never "none" and never "all".
        (0.0, "less than 1 in 1000"),
        (1.0, "more than 999 in 1000"),
    ],
)
def test_what_people_would_say(chance: float, said: str) -> None:
    assert about(chance) == said


def test_the_percentage_stands_beside_it() -> None:
    assert in_words(0.65) == "about 2 in 3 (65 %)"


@given(st.floats(-6.9, 6.9))
def test_it_is_never_far_off(logit: float) -> None:
    chance = 1 / (1 + exp(-logit))
    count, _, of = about(chance).removeprefix("about ").partition(" in ")
    told = int(count) / int(of)
    assert abs(told - chance) <= 0.06
    # Half again as likely at most, either way.
    assert abs(log(told / (1 - told)) - logit) <= log(1.5)
