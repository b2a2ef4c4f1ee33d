"""Arrows kept while numbers change."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.network.alike import alike
from leakdx.network.tables import Influence, Maximum

DRY = np.array([1.0, 0.0])


def brings(parent: str, chance: float) -> Influence:
    return Influence(parent, np.array([[1.0, 1 - chance], [0.0, chance]]))


def test_parents_are_those_of_the_other_in_its_order() -> None:
    stated = [Maximum("z", DRY, (brings("a", 0.5), brings("b", 0.5), brings("c", 0.5)))]
    other = np.array([0.9, 0.1])
    made = [Maximum("z", other, (brings("d", 0.9), brings("c", 0.3), brings("a", 0.2)))]
    (kept,) = alike(made, stated)
    assert kept.parents == ("a", "b", "c")
    assert (kept.background == other).all()
    chances = [i.table[1, 1] for i in kept.influences]
    # What it lacks brings nothing, what it has more is left out.
    assert chances == [0.2, 0.0, 0.3]
    assert all((i.table.sum(axis=0) == 1).all() for i in kept.influences)


def test_other_children_are_refused() -> None:
    with pytest.raises(ValueError, match="other variables"):
        alike([Maximum("y", DRY, ())], [Maximum("z", DRY, ())])
