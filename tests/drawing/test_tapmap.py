"""The map that is tapped: everything in it, in its place, and no two marks under one finger."""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from leakdx.drawing.seeing import Look, Side, View, views_of
from leakdx.drawing.spread import BORDER, PITCHES, spread
from leakdx.drawing.tapmap import PAD, WIDTH, TapMap, TapView, tap_map, to_json
from leakdx.files.places import shipped_ids
from leakdx.files.yaml_lines import read_document
from leakdx.flow.surfaces import surfaces_of
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Fluid, FluidKind, Machine, SealKind, SealPoint
from leakdx.machine.read import machine_of
from tests.drawing.drawn import REFERENCE
from tests.flow.boxes import OIL, box, machine, patch, tray

SHIPPED = (*shipped_ids("machines"), *shipped_ids("layouts"))
WRITTEN = ("pump_stand",)
DATA = Path(__file__).parent.parent / "data"


@lru_cache
def known(name: str) -> Machine:
    if name in SHIPPED:
        return load_shipped(name)
    return machine_of(read_document(DATA / f"{name}.yaml"))


@lru_cache
def mapped(name: str) -> TapMap:
    return tap_map(known(name))


def view(found: TapMap, side: Side) -> TapView:
    return next(v for v in found.views if v.side is side)


@pytest.mark.parametrize("name", [*SHIPPED, *WRITTEN])
def test_every_zone_and_seal_point_is_there_once_and_shows_in_the_view_it_names(name: str) -> None:
    made, found = known(name), mapped(name)
    assert [v.side for v in found.views] == list(Side)
    assert [z.id for z in found.zones] == [z.id for z in made.zones]
    assert [s.id for s in found.seals] == [s.id for s in made.seal_points]
    assert [z.number for z in found.zones] == list(range(1, len(made.zones) + 1))
    assert [s.number for s in found.seals] == list(range(1, len(made.seal_points) + 1))
    for zone in found.zones:
        assert zone.id in {z.zone for z in view(found, zone.view).zones if z.look != "edge"}
    for seal in found.seals:
        assert seal.id in {s.seal for s in view(found, seal.view).seals}


@pytest.mark.parametrize("name", [*SHIPPED, *WRITTEN])
def test_no_two_marks_lie_under_one_finger_and_all_lie_in_the_view(name: str) -> None:
    for each in mapped(name).views:
        assert each.pitch in PITCHES
        for one, other in combinations(each.seals, 2):
            assert np.hypot(*np.subtract(one.at, other.at)) >= each.pitch - 1e-6
        for mark in each.seals:
            assert BORDER - 1e-6 <= mark.at[0] <= each.width - BORDER + 1e-6
            assert BORDER - 1e-6 <= mark.at[1] <= each.height - BORDER + 1e-6
        for zone in each.zones:
            x, y = np.array(zone.points).T
            assert x.min() >= PAD - 0.01 and x.max() <= each.width - PAD + 0.01
            assert y.min() >= PAD - 0.01 and y.max() <= each.height - PAD + 0.01


def _is_inside(points: tuple[tuple[float, float], ...], place: tuple[float, float]) -> bool:
    """Whether a place lies within a convex outline or on it."""
    turns = [
        (u - x) * (place[1] - y) - (v - y) * (place[0] - x)
        for (x, y), (u, v) in zip(points, (*points[1:], points[0]), strict=True)
    ]
    return min(turns) >= -1e-6 or max(turns) <= 1e-6


@pytest.mark.parametrize("name", SHIPPED)
def test_the_label_of_a_zone_lies_on_it_and_nothing_is_painted_over_it(name: str) -> None:
    buried = []
    for each in mapped(name).views:
        for n, zone in enumerate(each.zones):
            assert _is_inside(zone.points, zone.label), (each.side, zone.zone)
            over = [z for z in each.zones[n + 1 :] if z.look != "ghost"]
            if zone.look != "ghost" and any(_is_inside(z.points, zone.label) for z in over):
                buried.append((each.side, zone.zone))
    # Of bodies that run into one another a painted outline may cover all that a ray meets; then
    # the zone is tapped from elsewhere.
    best = {z.id: z.view for z in mapped(name).zones}
    assert not [zone for side, zone in buried if best[zone] is side]
    assert len(buried) <= 5


def test_a_label_keeps_out_of_what_covers_its_zone() -> None:
    near = patch("near", (40, 200, 0), (0, 1, 0), (200, 0, 300))
    far = patch("far", (0, 0, 0), (0, 1, 0), (300, 0, 300))
    found = tap_map(machine((far, near)))
    shown = {z.zone: z for z in view(found, Side.LEFT).zones}
    assert [z.zone for z in view(found, Side.LEFT).zones] == ["far", "near"]
    assert not _is_inside(shown["near"].points, shown["far"].label)
    assert shown["far"].look == "partly" and shown["near"].look == "full"
    assert shown["near"].layer > shown["far"].layer


def test_a_label_has_the_room_it_says() -> None:
    found = tap_map(machine(box(size=(400, 300, 200))))
    each = view(found, Side.LEFT)
    left = next(z for z in each.zones if z.zone == "left")
    xy = np.array(left.points)
    gaps = [*(left.label - xy.min(axis=0)), *(xy.max(axis=0) - left.label)]
    assert left.room == pytest.approx(min(gaps), abs=2.0)


def test_a_number_keeps_out_from_under_a_mark() -> None:
    seal = SealPoint(
        id="joint",
        kind=SealKind.O_RING,
        zones=("left",),
        fluid="oil",
        position_mm=(0.0, 200.0, 400.0),
    )
    # The middle of a square has most room.
    made = machine(box(size=(200, 400, 200)), seal_points=(seal,))
    each = view(tap_map(made), Side.LEFT)
    left = next(z for z in each.zones if z.zone == "left")
    assert np.hypot(*np.subtract(left.label, each.seals[0].at)) >= 12


@pytest.mark.parametrize(
    ("side", "face", "along", "right"),
    [
        (Side.LEFT, (0.0, 200.0), (1.0, 0.0), -1),
        (Side.RIGHT, (0.0, -200.0), (1.0, 0.0), 1),
        (Side.FRONT, (200.0, 0.0), (0.0, 1.0), 1),
        (Side.REAR, (-200.0, 0.0), (0.0, 1.0), -1),
    ],
)
def test_a_mark_without_neighbours_is_where_its_joint_is(
    side: Side, face: tuple[float, float], along: tuple[float, float], right: int
) -> None:
    (x, y), (u, v) = face, along
    seals = tuple(
        SealPoint(
            id=f"at_{n}",
            kind=SealKind.O_RING,
            zones=(side.value,),
            fluid="oil",
            position_mm=(x + off * u, y + off * v, 400.0 + up),
        )
        for n, (off, up) in enumerate([(-100.0, -40.0), (100.0, 40.0)])
    )
    each = view(tap_map(machine(box(), seal_points=seals)), side)
    assert [m.at for m in each.seals] == [m.anchor for m in each.seals]
    low, high = each.seals
    dx, dy = np.subtract(high.anchor, low.anchor) / each.scale
    assert (dx, dy) == pytest.approx((200 * right, -80), abs=0.1)
    outline = next(z.points for z in each.zones if z.zone == side.value)
    middle = np.mean(outline, axis=0)
    assert (np.array(low.anchor) + high.anchor) / 2 == pytest.approx(middle, abs=0.1)


def test_a_view_says_what_lies_across_it_and_where_down_is() -> None:
    found = mapped(REFERENCE)
    told = {v.side: (v.across, v.across_right, v.down) for v in found.views}
    assert told[Side.LEFT] == ("front", False, (0.0, 1.0))
    assert told[Side.RIGHT] == ("front", True, (0.0, 1.0))
    assert told[Side.FRONT] == ("left side", True, (0.0, 1.0))
    assert told[Side.REAR] == ("left side", False, (0.0, 1.0))
    assert told[Side.TOP] == ("front", True, "down is away from you")
    assert told[Side.BELOW] == ("front", True, "down is toward you")
    fronts = {v.side: {z.zone: np.mean(z.points, axis=0)[0] for z in v.zones} for v in found.views}
    # The timing cover is at the front, the flywheel housing at the rear.
    front = next(z.id for z in found.zones if z.view is Side.FRONT and z.id in fronts[Side.LEFT])
    assert fronts[Side.LEFT][front] < WIDTH / 2 < fronts[Side.RIGHT][front]


def test_a_face_shows_best_from_its_own_side() -> None:
    found = tap_map(machine((*box(size=(400, 300, 200)), tray())))
    sides = {z.id: z.view for z in found.zones}
    assert sides == {
        "left": Side.LEFT,
        "right": Side.RIGHT,
        "front": Side.FRONT,
        "rear": Side.REAR,
        "top": Side.TOP,
        "underside": Side.BELOW,
        "tray": Side.TOP,
    }


def test_of_two_views_that_show_a_joint_the_one_with_more_of_its_zone_is_best() -> None:
    big = patch("big", (0, 100, 0), (0, 1, 0), (400, 0, 300))
    little = patch("little", (200, 90, 0), (1, 0, 0), (0, 20, 300))
    seals = tuple(
        SealPoint(
            id=f"of_{n}",
            kind=SealKind.O_RING,
            zones=zones,
            fluid="oil",
            position_mm=(200.0, 100.0, 0.0),
        )
        for n, zones in enumerate([("little", "big"), ("little",)])
    )
    found = tap_map(machine((big, little), seal_points=seals))
    assert [s.view for s in found.seals] == [Side.LEFT, Side.FRONT]


def test_a_covered_joint_is_marked_once_as_covered() -> None:
    found = mapped(REFERENCE)
    seen = {
        seal.id: [m.seen for v in found.views for m in v.seals if m.seal == seal.id]
        for seal in found.seals
    }
    assert all(each == [False] or (each and all(each)) for each in seen.values())
    assert seen["vacuum_pump_o_ring"] == [False]


def test_a_joint_behind_a_body_is_not_seen_though_its_zone_is() -> None:
    body = patch("body", (150, 300, 400), (0, 1, 0), (90, 90, 90))
    seals = tuple(
        SealPoint(
            id=f"at_{x}",
            kind=SealKind.O_RING,
            zones=("left",),
            fluid="oil",
            position_mm=(float(x), 200.0, 400.0),
        )
        for x in (150, 0)
    )
    found = tap_map(machine((*box(), body), seal_points=seals))
    marks = {m.seal: (v.side, m.seen) for v in found.views for m in v.seals}
    assert marks == {"at_150": (Side.LEFT, False), "at_0": (Side.LEFT, True)}


def _drawn(seen: View) -> dict[int, Look]:
    return {z.zone: z.look for z in seen.zones}


def test_strips_and_covered_zones_are_told_from_what_faces_the_viewer() -> None:
    made, found = known(REFERENCE), mapped(REFERENCE)
    for seen, each in zip(views_of(surfaces_of(made)), found.views, strict=True):
        looks = {made.zones[k].id: look for k, look in _drawn(seen).items()}
        assert {z.zone for z in each.zones if z.look == "edge"} == {
            zone for zone, look in looks.items() if look is Look.EDGE
        }
        assert {z.zone for z in each.zones if z.look == "ghost"} == {
            zone for zone, look in looks.items() if look is Look.GHOST
        }
        assert [z.zone for z in each.zones] == list(looks)


def test_fluids_have_the_shapes_of_their_marks() -> None:
    fluids = (OIL, Fluid(id="coolant", kind=FluidKind.COOLANT, name="Green coolant"))
    seals = tuple(
        SealPoint(id=f"of_{f.id}", kind=SealKind.O_RING, zones=("left",), fluid=f.id)
        for f in fluids[::-1]
    )
    found = tap_map(machine(box(), fluids=fluids, seal_points=seals))
    assert [(f.id, f.name, f.shape) for f in found.fluids] == [
        ("oil", "oil", 0),
        ("coolant", "Green coolant", 1),
    ]
    assert [(s.fluid, s.shape, s.kind) for s in found.seals] == [
        ("coolant", 1, "O-ring"),
        ("oil", 0, "O-ring"),
    ]
    marks = {m.seal: m.shape for m in view(found, Side.LEFT).seals}
    assert marks == {"of_coolant": 1, "of_oil": 0}
    assert next(z for z in found.zones if z.id == "left").seals == ("of_coolant", "of_oil")


def test_as_plain_data_it_is_short_and_has_what_the_page_asks_for() -> None:
    plain = to_json(mapped(REFERENCE))
    assert json.loads(json.dumps(plain)) == plain
    assert set(plain) == {"views", "zones", "seals", "fluids"}
    assert set(plain["views"][0]) == {
        *("side", "title", "width", "height", "scale", "across", "across_right", "down", "pitch"),
        *("zones", "seals"),
    }
    assert plain["views"][0]["side"] == "left"
    assert plain["views"][0]["down"] == [0.0, 1.0]
    assert set(plain["views"][0]["zones"][0]) == {
        *("zone", "points", "look", "layer", "label", "room"),
    }
    assert set(plain["views"][0]["seals"][0]) == {"seal", "at", "anchor", "shape", "seen"}
    # The scale of a view is a small number: a tenth would be too coarse.
    other = mapped("v_eight_petrol")
    assert to_json(other)["views"][0]["scale"] == other.views[0].scale
    assert len(json.dumps(plain)) < 100_000


def test_marks_that_want_one_place_make_room_for_one_another() -> None:
    pitch, places = spread([(180.0, 120.0)] * 9, (360.0, 240.0))
    gaps = [np.hypot(*np.subtract(a, b)) for a, b in combinations(places, 2)]
    assert min(gaps) >= pitch
    assert (180.0, 120.0) in places
    assert spread([], (360.0, 240.0)) == (PITCHES[0], ())


def test_a_few_marks_far_apart_stay_where_they_are_at_a_fingers_width() -> None:
    anchors = [(60.0, 60.0), (160.0, 60.0), (300.0, 200.0)]
    assert spread(anchors, (360.0, 240.0)) == (PITCHES[0], tuple(anchors))


def test_a_mark_keeps_within_the_view_though_its_joint_is_at_the_edge() -> None:
    _, places = spread([(3.0, 120.0), (200.0, 239.0)], (360.0, 240.0))
    for x, y in places:
        assert BORDER <= x <= 360 - BORDER and BORDER <= y <= 240 - BORDER
    assert abs(places[0][1] - 120) <= 5 and abs(places[1][0] - 200) <= 5


def test_lines_from_marks_to_joints_do_not_cross() -> None:
    # Dealt as each comes, some of these lines would.
    rng = np.random.default_rng(9)
    anchors = [(float(x), float(y)) for x, y in rng.uniform(100, 180, (14, 2))]
    _, places = spread(anchors, (360.0, 300.0))
    lines = list(zip(anchors, places, strict=True))
    assert not any(_cross(one, other) for one, other in combinations(lines, 2))


Line = tuple[tuple[float, float], tuple[float, float]]


def _cross(one: Line, other: Line) -> bool:
    def side(line: Line, at: tuple[float, float]) -> float:
        (x, y), (u, v) = line
        return (u - x) * (at[1] - y) - (v - y) * (at[0] - x)

    return (
        side(one, other[0]) * side(one, other[1]) < -1e-9
        and side(other, one[0]) * side(other, one[1]) < -1e-9
    )


def test_more_marks_than_fit_a_finger_still_all_have_a_place() -> None:
    rng = np.random.default_rng(3)
    anchors = [(float(x), float(y)) for x, y in rng.uniform(120, 200, (40, 2))]
    pitch, places = spread(anchors, (360.0, 240.0))
    assert pitch == PITCHES[-1]
    assert min(np.hypot(*np.subtract(a, b)) for a, b in combinations(places, 2)) >= pitch
