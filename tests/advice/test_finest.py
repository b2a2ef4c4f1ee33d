"""The detail found by halving is the fullest that fits, whichever that is."""

from __future__ import annotations

import pytest

from leakdx.advice import finest as room
from leakdx.flow.courses import DETAILS


@pytest.mark.parametrize("first", range(len(DETAILS)))
def test_the_fullest_that_fits_is_found(monkeypatch: pytest.MonkeyPatch, first: int) -> None:
    built: list[int] = []

    def build(detail: int) -> int:
        built.append(detail)
        return detail

    monkeypatch.setattr(room, "fits", lambda network, limit, total: network >= first)
    monkeypatch.setattr(room, "compile_network", lambda network, limit, total: f"tree {network}")
    made, tree, detail = room.finest(build, lambda n: n, lambda n: (n, None))
    assert (made, tree, detail) == (first, f"tree {first}", first)
    assert len(built) == len(set(built)) <= 4
