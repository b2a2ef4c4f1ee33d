"""What is seen from where."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.drawing.seeing import Look, Side, views_of
from leakdx.flow.surfaces import surfaces_of
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Machine, Turn
from tests.drawing.drawn import REFERENCE, faces, view_of
from tests.flow.boxes import box, machine, mirrored, patch, tray

MADE = machine((*box(), tray()))


def test_each_face_of_a_box_is_seen_from_its_side_only() -> None:
    names = {
        Side.LEFT: "left",
        Side.RIGHT: "right",
        Side.FRONT: "front",
        Side.REAR: "rear",
        Side.BELOW: "underside",
    }
    for side, name in names.items():
        assert faces(MADE, side) == {name}
    # The tray is wider than the box over it.
    assert faces(MADE, Side.TOP) == {"top", "tray"}


def test_a_zone_that_looks_up_is_not_drawn_from_below() -> None:
    below = {MADE.zones[z.zone].id for z in view_of(MADE, Side.BELOW).zones}
    assert not {"top", "tray"} & below
    top = {MADE.zones[z.zone].id for z in view_of(MADE, Side.TOP).zones}
    assert "top" in top and "underside" not in top


def test_a_face_seen_from_its_edge_is_a_strip() -> None:
    looks = {MADE.zones[z.zone].id: z.look for z in view_of(MADE, Side.LEFT).zones}
    assert looks["left"] is Look.FACE
    assert looks["top"] is looks["front"] is looks["tray"] is Look.EDGE


def test_what_lies_before_another_covers_it_and_is_painted_later() -> None:
    far = patch("far", (0, 0, 0), (0, 1, 0), (300, 0, 300))
    near = patch("near", (0, 200, 0), (0, 1, 0), (300, 0, 300))
    for zones in ((far, near), (near, far)):
        assert faces(machine(zones), Side.LEFT) == {"near"}
    small = patch("near", (0, 200, 0), (0, 1, 0), (100, 0, 100))
    for zones in ((far, small), (small, far)):
        made = machine(zones)
        seen = view_of(made, Side.LEFT).zones
        assert [made.zones[z.zone].id for z in seen] == ["far", "near"]
        assert {made.zones[z.zone].id: z.seen for z in seen}["far"] == pytest.approx(
            8 / 9, abs=0.02
        )


def test_what_stands_before_a_slanting_plate_is_painted_after_it() -> None:
    # Seen from the left the plate lies far where x is large and near where x is small.
    plate = patch("plate", (0, 0, 0), (0.6, 0.8, 0), (800, 600, 300))
    for x, y, first in ((300, -100, "plate"), (-300, 100, "small")):
        small = patch("small", (x, y, 0), (0, 1, 0), (80, 60, 80))
        for zones in ((plate, small), (small, plate)):
            view = view_of(machine(zones), Side.LEFT)
            order = [zones[z.zone].id for z in view.zones if z.look is not Look.GHOST]
            assert order == (["plate", "small"] if first == "plate" else ["plate"])


def test_a_covered_zone_is_drawn_as_an_outline_from_where_it_faces() -> None:
    far = patch("far", (0, 0, 0), (0, 1, 0), (300, 0, 300))
    near = patch("near", (0, 200, 0), (0, 1, 0), (300, 0, 300))
    made = machine((far, near))
    ghosts = {
        (view.side, made.zones[z.zone].id)
        for view in views_of(surfaces_of(made))
        for z in view.zones
        if z.look is Look.GHOST
    }
    assert ghosts == {(Side.LEFT, "far")}


@pytest.mark.parametrize("name", [REFERENCE, "parallel_twin_motorcycle", "clutch_hydraulics"])
def test_each_zone_is_somewhere(name: str) -> None:
    made = load_shipped(name)
    views = views_of(surfaces_of(made))
    shown = {z.zone for v in views for z in v.zones if z.look is not Look.EDGE}
    assert shown == set(range(len(made.zones)))
    for view in views:
        assert len({z.zone for z in view.zones}) == len(view.zones)
        for zone in view.zones:
            assert len(zone.outline) >= 3 and len(zone.spots) == len(zone.room) > 0
            low, high = zone.outline.min(axis=0), zone.outline.max(axis=0)
            slack = view.step
            assert (zone.spots >= low - slack).all() and (zone.spots <= high + slack).all()


def turned_by(made: Machine, degrees: float) -> Machine:
    """Every box turned about its own middle, which is on the upright axis, and its normal."""
    angle = np.radians(degrees)
    about = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    turn = Turn(axis=(0, 0, 1), degrees=degrees)
    zones = [
        z.model_copy(
            update={
                "turn": turn,
                "normal": tuple(about @ z.normal),
                "centroid_mm": tuple(about @ z.centroid_mm),
            }
        )
        for z in made.zones
    ]
    return made.model_copy(update={"zones": tuple(zones)})


def test_a_turned_box_is_drawn_with_the_outline_it_has() -> None:
    body = patch("body", (0, 0, 0), (0, 0, 1), (200, 200, 100))
    turned = turned_by(machine((body,)), 45)
    for side, wide in ((Side.LEFT, 200 * np.sqrt(2)), (Side.FRONT, 200 * np.sqrt(2))):
        outline = view_of(turned, side).zones[0].outline
        assert np.ptp(outline, axis=0) == pytest.approx([wide, 100], abs=0.01)
    top = view_of(turned, Side.TOP).zones[0].outline
    assert len(top) == 4
    assert abs(np.linalg.norm(top[1] - top[0])) == pytest.approx(200, abs=0.01)


def test_a_face_turned_half_way_is_seen_from_both_sides() -> None:
    face = patch("face", (0, 0, 0), (1, 0, 0), (0, 300, 300))
    turned = turned_by(machine((face,)), 45)
    assert faces(turned, Side.FRONT) == faces(turned, Side.LEFT) == {"face"}
    assert faces(turned, Side.REAR) == faces(turned, Side.TOP) == set()
    wide = np.ptp(view_of(turned, Side.LEFT).zones[0].outline, axis=0)[0]
    assert wide == pytest.approx(300 * np.sqrt(0.5), rel=0.03)


def test_front_is_left_from_the_left_and_right_from_the_right() -> None:
    front = patch("front_knob", (500, 0, 0), (0, 0, 1), (60, 60, 60))
    made = machine((*box(), front))
    for side, sign in ((Side.LEFT, -1), (Side.RIGHT, 1), (Side.TOP, 1), (Side.BELOW, 1)):
        view = view_of(made, side)
        knob = view.get(len(made.zones) - 1)
        assert knob is not None
        middle = (view.low + view.high) / 2
        assert sign * (knob.outline.mean(axis=0) - middle)[0] > 0


def test_left_is_right_from_the_front_and_left_from_the_rear() -> None:
    knob = patch("left_knob", (0, 500, 400), (0, 0, 1), (60, 60, 60))
    made = machine((*box(), knob))
    for side, sign in ((Side.FRONT, 1), (Side.REAR, -1)):
        seen = view_of(made, side).get(len(made.zones) - 1)
        assert seen is not None and sign * seen.outline.mean(axis=0)[0] > 0


def test_a_mirrored_machine_seen_from_the_other_side_is_the_mirror_image() -> None:
    knob = patch("left_knob", (120, 230, 420), (0, 1, 0), (60, 60, 60))
    made = machine((*box(), knob, tray()))
    one, other = view_of(made, Side.LEFT), view_of(mirrored(made), Side.RIGHT)
    assert [z.zone for z in one.zones if z.look is Look.FACE] == [
        z.zone for z in other.zones if z.look is Look.FACE
    ]
    for a in one.zones:
        b = other.get(a.zone)
        assert b is not None
        flipped = a.outline * [-1, 1]
        assert np.sort(flipped, axis=0) == pytest.approx(np.sort(b.outline, axis=0), abs=1e-6)


def test_what_is_covered_is_not_seen() -> None:
    near = patch("near", (0, 200, 0), (0, 1, 0), (300, 0, 300))
    view = view_of(machine((near,)), Side.LEFT)
    assert view.sees(np.array([0.0, 200.0, 0.0]), 25)
    assert view.sees(np.array([0.0, 190.0, 0.0]), 25)
    assert not view.sees(np.array([0.0, 100.0, 0.0]), 25)
