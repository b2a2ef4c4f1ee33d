"""The names of the variables."""

from __future__ import annotations

from itertools import product

import numpy as np

from leakdx.machine.model import SignKind
from leakdx.network.odds import CLASSES
from leakdx.network.pgmpy_io import bif_text
from leakdx.network.setting import (
    DRY_WET,
    LEAK_STATES,
    OTHER_STATES,
    Epoch,
    SignAsked,
    cause_name,
    flow_name,
    look_name,
    mixed_name,
    other_name,
    seal_name,
    sign_name,
)
from leakdx.network.tables import Network, Table, Variable

STATES = [LEAK_STATES, OTHER_STATES, DRY_WET]
IDS = ("oil", "coolant", "top", "side_2", "e0", "e1")


def all_names() -> list[str]:
    names = [cause_name(i) for i in IDS]
    names += [seal_name(i, g) for i, g in product(IDS, (0, 1, 2))]
    for epoch in (0, 1, 10):
        names += [name(i, epoch) for name, i in product((mixed_name, look_name), IDS)]
        names += [
            name(fluid, zone, epoch)
            for name, fluid, zone in product((flow_name, other_name), IDS, IDS)
        ]
        names += [
            sign_name(SignAsked(kind, fluid, epoch)) for kind, fluid in product(SignKind, IDS)
        ]
    return names


def test_no_two_things_share_a_name() -> None:
    names = all_names()
    assert len(set(names)) == len(names)


def test_every_name_and_state_can_be_written_as_bif() -> None:
    column = {states: [1.0] + [0.0] * (len(states) - 1) for states in STATES}
    named = list(zip(all_names(), (STATES * len(all_names())), strict=False))
    network = Network(
        tuple(Variable(n, s) for n, s in named),
        tuple(Table(n, (), np.array(column[s])) for n, s in named),
    )
    text = bif_text(network)
    assert all(f"variable {n} {{" in text for n, _ in named)


def test_leak_classes_are_tight_and_then_worse_and_worse() -> None:
    assert ("tight", *CLASSES) == LEAK_STATES


def test_an_epoch_of_which_nothing_is_said() -> None:
    epoch = Epoch()
    assert epoch.hours is None
    assert epoch.temperature_C is None
    assert not epoch.active
    assert not epoch.spilled
