"""Every layout that comes with leakdx: whole, within budget, and fluid goes where it must."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from leakdx.advice.solving import ALL_ENTRIES, LARGEST
from leakdx.advice.whole import whole_network
from leakdx.files.places import shipped_document, shipped_ids
from leakdx.files.save import dump_yaml, save
from leakdx.files.yaml_lines import parse_bytes
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import DETAILS, FlowMap, Wind, flow_map
from leakdx.flow.outlets import first_zones
from leakdx.kit.choices import every_choice
from leakdx.kit.read import (
    layout_of,
    load_machine,
    load_shipped,
    load_shipped_layout,
    machine_as_is,
    part_of,
    shipped_layouts,
)
from leakdx.machine.model import Machine, SealPoint, Surface
from leakdx.machine.read import machine_of
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
LAYOUTS = shipped_layouts()
ENGINES = tuple(
    n for n in LAYOUTS if any(word in n for word in ("inline", "v_", "flat_four", "_four_", "twin"))
)
# A zone that gets less of a leak than this counts as dry.
LEAST = 0.02
# A joint is drawn within this of where its fluid shows.
NEAR_MM = 80.0


def still(machine: Machine, attitude: Attitude) -> FlowMap:
    return flow_map(machine, Wind(attitude, 0.0), PRIORS)


def wetted(seal: SealPoint, flow: FlowMap) -> dict[int, float]:
    """Expected share of a leak at each zone, followed way by way from the top down."""
    first = first_zones(seal, flow, PRIORS)
    share = np.zeros(flow.surfaces.count)
    for zone, part in first.items():
        share[zone] += part
    for zone in flow.order:
        for c in flow.courses:
            if c.source == zone and not c.sideways:
                share[c.target] += share[zone] * c.share
    return {int(k): float(share[k]) for k in np.flatnonzero(share >= LEAST)}


def stands(machine: Machine) -> list[Attitude]:
    return [Attitude(), *(Attitude(s.pitch_deg, s.roll_deg) for s in machine.stands)]


@pytest.fixture(scope="module", params=LAYOUTS)
def machine(request: pytest.FixtureRequest) -> Machine:
    return load_shipped(request.param)


def test_there_are_ten_layouts_at_least() -> None:
    assert len(LAYOUTS) >= 10
    assert len(ENGINES) >= 8


@pytest.mark.parametrize("name", ENGINES)
def test_engines_are_large_enough_to_be_of_use(name: str) -> None:
    machine = load_shipped(name)
    assert len(machine.seal_points) >= 25
    assert len(machine.zones) >= 30


def test_it_says_that_it_is_invented(machine: Machine) -> None:
    text = Path(str(shipped_document("layouts", machine.id).file)).name
    assert text == f"{machine.id}.yaml"
    said = f"{machine.name} {machine.note}".lower()
    assert "invented" in said or "no such" in said


def test_the_network_is_within_budget(machine: Machine) -> None:
    whole = whole_network(machine, PRIORS)
    assert max(whole.tree.clique_entries) <= LARGEST
    # Not even the barest detail has to be taken for lack of room.
    assert whole.detail < len(DETAILS) - 1
    assert whole.entries <= ALL_ENTRIES


def test_every_seal_point_wets_a_zone_of_its_own(machine: Machine) -> None:
    flow = still(machine, Attitude())
    for seal in machine.seal_points:
        parts = first_zones(seal, flow, PRIORS)
        assert sum(parts.values()) > 0.9, seal.id


def test_seal_points_lie_where_their_fluid_shows(machine: Machine) -> None:
    surfaces = still(machine, Attitude()).surfaces
    boxes = dict(zip(surfaces.ids, surfaces.boxes, strict=True))
    for seal in machine.seal_points:
        assert seal.position_mm is not None, seal.id
        for zone in seal.zones:
            box = boxes[zone]
            inside = np.abs(box.axes @ (np.array(seal.position_mm) - box.middle)) - box.half
            gap = float(np.linalg.norm(np.maximum(inside, 0.0)))
            assert gap <= NEAR_MM, (seal.id, zone, gap)


def test_every_zone_can_be_reached(machine: Machine) -> None:
    flow = still(machine, Attitude())
    reached: set[int] = set()
    for seal in machine.seal_points:
        reached |= set(wetted(seal, flow))
        reached |= set(first_zones(seal, flow, PRIORS))
    dry = {flow.surfaces.ids[k] for k in range(flow.surfaces.count)} - {
        flow.surfaces.ids[k] for k in reached
    }
    assert dry == set(UNREACHED.get(machine.id, ()))


# Zones that no listed seal point of the layout can wet on the level, each with its reason.
UNREACHED: dict[str, dict[str, str]] = {}


def test_a_leak_ends_below_where_it_began(machine: Machine) -> None:
    for attitude in stands(machine):
        flow = still(machine, attitude)
        depth = np.array([b.corners @ flow.down for b in flow.surfaces.boxes]).max(axis=1)
        for seal in machine.seal_points:
            assert seal.position_mm is not None
            lowest = max(depth[k] for k in wetted(seal, flow))
            began = float(np.array(seal.position_mm) @ flow.down)
            assert lowest > began - 5, (seal.id, attitude)


def test_no_way_leads_uphill(machine: Machine) -> None:
    for attitude in stands(machine):
        flow = still(machine, attitude)
        ends = np.array([b.corners @ flow.down for b in flow.surfaces.boxes])
        top, foot = ends.min(axis=1), ends.max(axis=1)
        drawn = {(p.source, p.target) for p in machine.paths}
        ids = flow.surfaces.ids
        spin = {z.id for z in machine.zones if z.spins is not None}
        for c in flow.courses:
            named = (ids[c.source], ids[c.target])
            if named in drawn or ids[c.source] in spin or c.share < 0.05:
                continue
            # What leaves a zone leaves it at its lowest, and lies no higher than where it began.
            assert foot[c.target] > top[c.source] - 1, (named, c)


def test_every_zone_is_looked_at_by_some_inspection(machine: Machine) -> None:
    read = {z for i in machine.inspections for z in i.reads.zones}
    unread = {z.id for z in machine.zones} - read
    assert not unread


def test_every_inspection_that_can_hurt_says_how(machine: Machine) -> None:
    for inspection in machine.inspections:
        assert inspection.cautions, inspection.id


def test_trays_hold_something(machine: Machine) -> None:
    for zone in machine.zones:
        if zone.surface is Surface.TRAY:
            assert zone.holds_ml > 0, zone.id


def test_it_reads_back_as_it_was_written(machine: Machine, tmp_path: Path) -> None:
    again = machine_of(parse_bytes(dump_yaml(machine).encode(), "m.yaml"))
    assert again == machine
    save(machine, tmp_path / "m.yaml")
    assert load_machine(tmp_path / "m.yaml") == machine


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_reads_back_as_it_was_written(name: str) -> None:
    layout = load_shipped_layout(name).layout
    assert layout_of(parse_bytes(dump_yaml(layout).encode(), "l.yaml"), None).layout == layout


@pytest.mark.parametrize("name", shipped_ids("parts"))
def test_a_part_reads_back_as_it_was_written(name: str) -> None:
    part = part_of(shipped_document("parts", name))
    assert part.id == name
    assert part_of(parse_bytes(dump_yaml(part).encode(), "p.yaml")) == part


def test_every_part_is_used() -> None:
    used = {p.part for name in LAYOUTS for p in load_shipped_layout(name).layout.parts}
    assert set(shipped_ids("parts")) == used


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_choice_makes_a_whole_machine(name: str) -> None:
    loaded = load_shipped_layout(name)
    assert loaded.layout.options
    for choices in every_choice(loaded.layout):
        machine = machine_as_is(loaded, choices)
        flow = still(machine, Attitude())
        for seal in machine.seal_points:
            assert first_zones(seal, flow, PRIORS), (choices, seal.id)
