"""Machines: what is read, and every fault between their parts."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.yaml_lines import parse_bytes
from leakdx.kit.read import (
    load_machine,
    load_shipped,
    machine_from,
    machine_of,
    shipped_machines,
)
from leakdx.machine.checks import first_cycles

STAND = Path(__file__).parent.parent / "data" / "pump_stand.yaml"
TEXT = STAND.read_text()


def faults_after(old: str, new: str, *more: str) -> list[Fault]:
    """The faults of the machine with ``old`` replaced by ``new``, once (and so on)."""
    text = TEXT
    for was, becomes in zip((old, *more[::2]), (new, *more[1::2]), strict=True):
        assert was in text
        text = text.replace(was, becomes, 1)
    with pytest.raises(FaultyInput) as caught:
        machine_of(parse_bytes(text.encode(), "m.yaml"))
    return list(caught.value.faults)


def line_of(text: str, *, after: str = "") -> int:
    """The line of the test machine that holds ``text``."""
    return TEXT.count("\n", 0, TEXT.index(text, TEXT.index(after))) + 1


def test_the_machine_is_read() -> None:
    machine = load_machine(STAND)
    assert machine.id == "pump_stand"
    assert [zone.id for zone in machine.zones][-1] == "drip_tray"
    assert machine.fluids[1].viscosity_mm2_s == {20.0: 1.0, 60.0: 0.47}


def test_the_same_machine_from_plain_data() -> None:
    data = yaml.safe_load(TEXT)
    assert machine_from(data) == load_machine(STAND)
    data["zones"][1]["area_mm2"] = -3
    with pytest.raises(FaultyInput) as caught:
        machine_from(data)
    assert str(caught.value) == (
        "zones.cover_side.area_mm2  must be above 0, is -3. Give the area in mm2."
    )


CASES = [
    # An id that is not there, wherever one may stand.
    (
        "zones: [cover_side]",
        "zones: [cover_sid]",
        "seal_points.cover_gasket.zones[0]",
        "cover_side",
    ),
    ("source: foot_left", "source: foot_lef", "paths[0].source", "foot_left"),
    ("target: drip_tray", "target: drip_tra", "paths[0].target", "drip_tray"),
    ("between: [cover_top", "between: [cover_tip", "neighbours[0].between[0]", "cover_top"),
    ("fluid: water", "fluid: watter", "seal_points.water_union.fluid", "water"),
    ("leaks_into: water", "leaks_into: wter", "seal_points.shaft_seal.leaks_into", "water"),
    (
        "fluid: gear_oil, raises",
        "fluid: gearoil, raises",
        "causes.breather_stuck.fluid",
        "gear_oil",
    ),
    (
        "[cover_gasket, shaft_seal]",
        "[cover_gasket, shaft_sel]",
        "causes.breather_stuck.raises[1]",
        "shaft_seal",
    ),
    (
        "access: [take_off_guard]",
        "access: [take_of_guard]",
        "seal_points.cover_gasket.access[0]",
        "take_off_guard",
    ),
    ("[open_gate]", "[open_gat]", "access_steps.take_off_guard.after[0]", "open_gate"),
    (
        "{zones: [cover_top, cover_side]}",
        "{zones: [cover_top, cover_sde]}",
        "inspections.look_at_cover.reads.zones[1]",
        "cover_side",
    ),
    (
        "seal_points: [shaft_seal]",
        "seal_points: [shaft_seel]",
        "inspections.wipe_shaft.reads.seal_points[0]",
        "shaft_seal",
    ),
    ("[level_falls]", "[level_fals]", "inspections.wipe_shaft.reads.signs[0]", "level_falls"),
]


@pytest.mark.parametrize(("old", "new", "path", "nearest"), CASES)
def test_an_id_that_is_not_there(old: str, new: str, path: str, nearest: str) -> None:
    (fault,) = faults_after(old, new)
    assert fault.path == path
    assert fault.line == line_of(old)
    assert fault.remedy == f"Did you mean '{nearest}'?"


def test_an_id_like_no_other() -> None:
    (fault,) = faults_after("target: drip_tray", "target: xyz")
    assert fault.remedy == "Use one of: cover_top, cover_side, foot_left, drip_tray."


@pytest.mark.parametrize(
    ("old", "new", "path", "problem"),
    [
        (
            "zones:\n",
            "zones:\n  - {id: foot_left, centroid_mm: [0, 0, 0], normal: [1, 0, 0], area_mm2: 1}\n",
            "zones.foot_left.id",
            "'foot_left' is the id of two zones, number 1 and number 4",
        ),
        ("id: water_union", "id: shaft_seal", "seal_points.shaft_seal.id", "of two seal points"),
        (
            "steps:",
            "steps:\n  - {id: open_gate, minutes: 2}",
            "access_steps.open_gate.id",
            "two acc",
        ),
        ("id: wipe_shaft", "id: look_at_cover", "inspections.look_at_cover.id", "two inspections"),
        ("id: water_union", "id: drip_tray", "seal_points.drip_tray.id", "of a zone too"),
        ("normal: [0, 0, 1]", "normal: [0, 0.0, 0]", "zones.cover_top.normal", "has no length"),
        ("low: [-50,", "low: [51,", "zones.cover_side.bbox_mm", "in x: 51 is above 50"),
        (
            "centroid_mm: [0, 60, 200]",
            "centroid_mm: [0, 62, 200]",
            "zones.cover_side.centroid_mm",
            "lies outside its box in y: 62 is not between 60 and 60",
        ),
        (
            "[cover_side, foot_left], sh",
            "[cover_side, cover_side], sh",
            "neighbours[1].between",
            "makes 'cover_side' a neighbour of itself",
        ),
        (
            "[cover_side, foot_left], sh",
            "[cover_side, cover_top], sh",
            "neighbours[1].between",
            "repeats the pair of entry number 1",
        ),
        (
            "{id: open_gate, minutes: 1}",
            "{id: open_gate, minutes: 1, after: [take_off_guard]}",
            "access_steps.take_off_guard.after",
            "closes a cycle, open_gate -> take_off_guard -> open_gate",
        ),
        (
            "{id: open_gate, minutes: 1}",
            "{id: open_gate, minutes: 1, after: [open_gate]}",
            "access_steps.open_gate.after",
            "closes a cycle, open_gate -> open_gate",
        ),
        (
            "share: 0.8}",
            "share: 0.8}\n  - {source: drip_tray, target: foot_left}",
            "paths[1]",
            "closes a cycle, foot_left -> drip_tray -> foot_left",
        ),
        (
            "reads: {zones: [cover_top, cover_side]}",
            "reads: {}",
            "inspections.look_at_cover.reads",
            "reads nothing",
        ),
        (
            "kind: ventilation_blocked, fluid: gear_oil, raises: [cover_gasket, shaft_seal]",
            "kind: fasteners_loose, fluid: gear_oil",
            "causes.breather_stuck.kind",
            "is 'fasteners_loose', which does not say what it acts on",
        ),
        (
            "kind: ventilation_blocked, fluid: gear_oil, raises: [cover_gasket, shaft_seal]",
            "kind: fastener_too_long, fluid: gear_oil",
            "causes.breather_stuck.kind",
            "is 'fastener_too_long', which does not say what it acts on",
        ),
        ("{20: 1.0, 60: 0.47}", "{20: 1.0}", "fluids.water.viscosity_mm2_s", "has 1 temperatures"),
        (
            "{20: 1.0, 60: 0.47}",
            "{60: 1.0, 20: 0.47}",
            "fluids.water.viscosity_mm2_s",
            "does not fall from 20 to 60 degrees C: 0.47, then 1 mm2/s",
        ),
        ("leaks_into: water", "leaks_into: gear_oil", "seal_points.shaft_seal.leaks_into", "leaks"),
        ("zones: [cover_side]", "zones: []", "seal_points.cover_gasket.zones", "has 0"),
        ("miss: 0.1", "miss: 1.1", "inspections.wipe_shaft.miss", "must be at most 1, is 1.1"),
        ("share: 0.8", "share: 0", "paths[0].share", "must be above 0, is 0"),
        ("area_mm2: 9000", "area_mm2: -3", "zones.cover_top.area_mm2", "must be above 0, is -3"),
        ("grade: VG 46", "grade: 46", "fluids.gear_oil.grade", "must be text"),
        ("grade: VG 46", "grade: thick", "fluids.gear_oil.grade", "must be a grade; is 'thick'"),
        ('version: "1.2"', "version: v1", "version", "must be a version; is 'v1'"),
        ("machine/1", "machine/9", "format", "must be 'leakdx-machine/1', is 'leakdx-machine/9'"),
    ],
)
def test_one_fault(old: str, new: str, path: str, problem: str) -> None:
    (fault,) = faults_after(old, new)
    assert fault.path == path
    assert problem in fault.problem
    assert fault.line is not None
    assert fault.remedy.endswith((".", "?"))


def test_a_seal_without_the_key_zones() -> None:
    (fault,) = faults_after("    zones: [cover_top]\n", "")
    assert str(fault).endswith("seal_points.water_union.zones  is missing. Add 'zones:'.")


def test_a_repeated_fluid_and_cause() -> None:
    (fault,) = faults_after("id: water\n", "id: gear_oil\n", "into: water", "into: gear_oil")[:1]
    assert "two fluids" in fault.problem


def test_faults_of_shape_and_between_parts_come_together() -> None:
    found = faults_after(
        "area_mm2: 9000", "area_mm2: -3", "target: drip_tray", "target: drip_tra",
        "miss: 0.1", "miss: 2", "name: Pump", "nam: Pump",
    )  # fmt: skip
    assert [fault.path for fault in found] == [
        "nam",
        "zones.cover_top.area_mm2",
        "paths[0].target",
        "inspections.wipe_shaft.miss",
    ]


def test_a_faulty_entry_still_counts_as_there() -> None:
    # The zone that others name is faulty; that it is named is not a second fault.
    (fault,) = faults_after("area_mm2: 5000", "area_mm2: 0")
    assert fault.path == "zones.foot_left.area_mm2"


def test_places_of_later_entries_survive_a_faulty_one() -> None:
    found = faults_after("area_mm2: 9000", "area_mm2: 0", "low: [-50,", "low: [99,")
    assert [(f.path, f.line) for f in found] == [
        ("zones.cover_top.area_mm2", line_of("area_mm2: 9000")),
        ("zones.cover_side.bbox_mm", line_of("bbox_mm")),
    ]


def test_every_shipped_machine_is_whole_and_named_like_its_file() -> None:
    assert shipped_machines()
    for name in shipped_machines():
        assert load_shipped(name).id == name


def test_a_machine_that_is_not_shipped() -> None:
    with pytest.raises(FaultyInput, match=r"no machine '.*' comes with the library\. Did you mean"):
        load_shipped(shipped_machines()[0][:-1])


@given(
    st.dictionaries(
        st.sampled_from("abcdef"), st.lists(st.sampled_from("abcdef"), max_size=4), max_size=6
    )
)
def test_cycles_are_found_where_there_are_any(edges: dict[str, list[str]]) -> None:
    # By another way: take away nodes that lead nowhere until nothing changes.
    left = {node: set(ahead) for node, ahead in edges.items()}
    while True:
        left_now = {n: {m for m in ahead if m in left} for n, ahead in left.items()}
        left_now = {n: ahead for n, ahead in left_now.items() if ahead}
        if left_now == left:
            break
        left = left_now
    cycles = list(first_cycles(edges))
    assert bool(cycles) == bool(left)
    for cycle in cycles:
        assert cycle[0] == cycle[-1]
        assert all(b in edges[a] for a, b in pairwise(cycle))


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=150)
@given(st.data())
def test_a_mutated_file_gives_a_machine_or_faults(data: st.DataObject) -> None:
    lines = TEXT.split("\n")
    junk = st.sampled_from(
        ["", "  x: 1", "- ", "{", "]", "id: sump", "zones: 3", "  - []", "a: b: c", "\t", "&a",
         "...", "    normal: 1", "    kind: {}", "  - {id: [1]}", "paths: {a: 1}",
         "neighbours: [[1]]"]
    )  # fmt: skip
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["drop", "put", "cut", "swap", "letter"])):
            case "drop":
                lines[at] = ""
            case "put":
                lines.insert(at, data.draw(junk))
            case "cut":
                lines[at] = lines[at][: data.draw(st.integers(0, 40))]
            case "swap":
                other = data.draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], lines[at]
            case _:
                lines[at] += data.draw(st.text(max_size=3))
    try:
        machine_of(parse_bytes("\n".join(lines).encode("utf-8", "replace"), "m.yaml"))
    except FaultyInput as error:
        assert error.faults
        for fault in error.faults:
            assert fault.problem
            assert fault.remedy
            assert "\n" not in str(fault)
