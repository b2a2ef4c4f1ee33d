"""Where fluid goes on small machines whose behaviour is plain to see.

That fluid runs down, drips, and is blown rearward is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import (
    DETAILS,
    Detail,
    FlowMap,
    Way,
    Wind,
    collected_shares,
    flow_map,
    ground_shares,
)
from leakdx.flow.surfaces import shared_edges, surfaces_of
from leakdx.machine.model import DrawnPath, Machine, Neighbour
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import (
    SIDES,
    box,
    flow_of,
    ground_of,
    machine,
    mirrored,
    moved,
    patch,
    shares,
    shares_from,
    tray,
    turned,
)

TOLERANCE = 1e-9
UPSIDE_DOWN = Wind(Attitude(roll_deg=180))

# A shield part way over the tray; a valley between two slopes.
SHIELDED = machine((*box(), tray(150, (380, 200, 0), "shield"), tray()))
VALLEY = machine(
    (
        patch("slope_left", (0, 120, 250), (0, -0.6, 0.8), (300, 200, 150)),
        patch("slope_right", (0, -120, 250), (0, 0.6, 0.8), (300, 200, 150)),
        patch("valley", (0, 0, 175), (0, 0, 1), (300, 40, 0)),
    )
)
THREE_TRAYS = (
    patch("tray_front", (320, 0, 0), (0, 0, 1), (400, 900, 0)),
    patch("tray_middle", (0, 0, 0), (0, 0, 1), (240, 900, 0)),
    patch("tray_rear", (-320, 0, 0), (0, 0, 1), (400, 900, 0)),
)

lengths = st.integers(60, 500).map(float)
sizes = st.tuples(lengths, lengths, lengths)
tilts = st.floats(-40, 40)
winds = st.builds(Wind, st.builds(Attitude, tilts, tilts), st.floats(0, 30))


@st.composite
def machines(draw: st.DrawFn) -> Machine:
    """A box of any size, exposed here and there, over a tray, perhaps with a shield between."""
    size = draw(sizes)
    exposure = draw(st.floats(0, 1))
    off = (draw(st.integers(-90, 90)), draw(st.integers(-90, 90)))
    zones = [*box(size, (*off, 300 + size[2] / 2), airflow_exposure=exposure), tray()]
    if draw(st.booleans()):
        zones.append(tray(draw(st.integers(40, 260)), (draw(lengths), draw(lengths), 0), "shield"))
    return machine(zones)


# Level ground.


def test_on_the_level_the_top_feeds_the_four_sides_alike_and_nothing_else() -> None:
    from_top = shares_from(flow_of(machine((*box(), tray()))), "top")
    assert set(from_top) == set(SIDES)
    assert np.ptp(list(from_top.values())) < TOLERANCE


def test_on_the_level_sides_lead_down_to_the_underside_and_the_tray() -> None:
    flow = flow_of(machine((*box(), tray())))
    for side in SIDES:
        ways = shares_from(flow, side)
        downward = ways.pop("underside") + ways.pop("tray")
        assert "top" not in ways
        # What creeps to the sides beside it is the lesser part.
        assert sum(ways.values()) < downward


def test_the_underside_drips_and_a_wide_tray_catches_all_of_it() -> None:
    flow = flow_of(machine((*box(), tray())))
    assert shares(flow, Way.DRIP)["underside", "tray"] == pytest.approx(1, abs=TOLERANCE)
    assert ground_of(flow)["underside"] == 0


def test_without_a_tray_what_the_underside_drips_falls_to_the_ground() -> None:
    assert ground_of(flow_of(machine(box())))["underside"] == pytest.approx(1, abs=TOLERANCE)


def test_a_narrow_tray_catches_a_part() -> None:
    flow = flow_of(machine((*box(), tray(0, (200, 400, 0)))))
    assert 0 < shares(flow)["underside", "tray"] < 1
    assert 0 < ground_of(flow)["underside"] < 1


def test_nothing_leaves_the_tray_but_over_its_own_rim() -> None:
    flow = flow_of(machine((*box(), tray())))
    assert not shares_from(flow, "tray")
    assert ground_of(flow)["tray"] == pytest.approx(1, abs=TOLERANCE)


def test_drops_land_on_the_first_thing_below_them() -> None:
    whole = machine((*box(), tray(150, (600, 600, 0), "shield"), tray()))
    from_underside = shares_from(flow_of(whole), "underside")
    assert from_underside == pytest.approx({"shield": 1}, abs=TOLERANCE)


def test_a_shield_under_a_part_keeps_that_part_off_the_tray() -> None:
    open_share = shares(flow_of(machine((*box(), tray()))))["underside", "tray"]
    flow = flow_of(SHIELDED)
    assert 0 < shares(flow)["underside", "tray"] < open_share
    assert shares(flow)["underside", "shield"] > 0
    assert shares(flow)["shield", "tray"] > 0


def test_a_shield_beside_the_drops_or_above_them_blocks_nothing() -> None:
    beside = patch("shield", (0, 600, 150), (0, 0, 1), (300, 300, 0))
    above = patch("shield", (0, 0, 700), (0, 0, 1), (300, 300, 0))
    for shield in (beside, above):
        flow = flow_of(machine((*box(), shield, tray())))
        assert shares_from(flow, "underside") == pytest.approx({"tray": 1}, abs=TOLERANCE)


def test_a_thick_body_in_the_way_catches_drops_whichever_way_its_patch_looks() -> None:
    for normal in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0)):
        body = patch("pump", (0, 0, 120), normal, (500, 500, 200))
        flow = flow_of(machine((*box(), body, tray())))
        assert shares_from(flow, "underside") == pytest.approx({"pump": 1}, abs=TOLERANCE)


def test_both_slopes_of_a_valley_lead_into_it() -> None:
    flow = flow_of(VALLEY)
    for slope in ("slope_left", "slope_right"):
        ways = shares_from(flow, slope)
        assert max(ways, key=ways.__getitem__) == "valley"
    assert not {"slope_left", "slope_right"} & set(shares_from(flow, "valley"))


# Tilted.


@pytest.mark.parametrize("angle", [3.0, 10.0, 30.0])
def test_the_low_side_takes_more_of_what_leaves_the_top(angle: float) -> None:
    made = machine((*box(), tray()))
    low_sides = {
        "rear": Attitude(pitch_deg=angle),
        "front": Attitude(pitch_deg=-angle),
        "right": Attitude(roll_deg=angle),
        "left": Attitude(roll_deg=-angle),
    }
    opposite = {"rear": "front", "front": "rear", "left": "right", "right": "left"}
    from_top = {s: shares_from(flow_of(made, Wind(a)), "top") for s, a in low_sides.items()}
    for side, ways in from_top.items():
        assert ways[side] > ways.get(opposite[side], 0.0)
        # The box is as long as it is wide, so which way it leans makes no other difference.
        assert ways[side] == pytest.approx(from_top["rear"]["rear"], abs=TOLERANCE)


def test_the_steeper_the_lean_the_more_goes_to_the_low_side() -> None:
    made = machine((*box(), tray()))
    rear = [
        shares_from(flow_of(made, Wind(Attitude(pitch_deg=p))), "top")["rear"] for p in (0, 5, 15)
    ]
    assert rear[0] < rear[1] <= rear[2]


def test_drops_fall_to_the_low_side_of_a_leaning_machine() -> None:
    made = machine((*box(), *THREE_TRAYS))
    level = shares_from(flow_of(made), "underside")
    assert level["tray_front"] == pytest.approx(level["tray_rear"], abs=TOLERANCE)
    for pitch, low, high in ((15, "tray_rear", "tray_front"), (-15, "tray_front", "tray_rear")):
        ways = shares_from(flow_of(made, Wind(Attitude(pitch_deg=pitch))), "underside")
        assert ways[low] > ways.get(high, 0.0)


def test_upside_down_the_way_is_the_reverse() -> None:
    lid = patch("lid", (0, 0, 800), (0, 0, -1), (900, 900, 0))
    made = machine((*box(), lid, tray()))
    upright, over = flow_of(made), flow_of(made, UPSIDE_DOWN)
    assert set(shares_from(over, "underside")) == set(SIDES)
    assert shares_from(over, "top") == pytest.approx({"lid": 1}, abs=TOLERANCE)
    for side in SIDES:
        assert shares(over)[side, "top"] == pytest.approx(
            shares(upright)[side, "underside"], abs=TOLERANCE
        )
        assert (side, "underside") not in shares(over)
        assert (side, "tray") not in shares(over)


# Air.


def test_air_takes_more_of_the_top_to_the_rear() -> None:
    made = machine((*box(airflow_exposure=1), tray()))
    ways = [shares_from(flow_of(made, Wind(airflow_m_s=v)), "top") for v in (0, 10, 20)]
    rear = [w["rear"] for w in ways]
    assert rear[0] < rear[1] <= rear[2]
    assert ways[1]["rear"] > ways[1].get("front", 0.0)
    assert ways[1].get("left", 0.0) == pytest.approx(ways[1].get("right", 0.0), abs=TOLERANCE)


def test_drops_drift_rearward_in_the_air() -> None:
    made = machine((*box(airflow_exposure=1), *THREE_TRAYS))
    ways = shares_from(flow_of(made, Wind(airflow_m_s=15)), "underside")
    assert ways["tray_rear"] > ways.get("tray_front", 0.0)


def walls(exposure: float) -> Machine:
    ahead = patch("wall_ahead", (350, 0, 400), (1, 0, 0), (0, 300, 300))
    behind = patch("wall_behind", (-350, 0, 400), (1, 0, 0), (0, 300, 300))
    return machine((*box(airflow_exposure=exposure), ahead, behind))


def test_air_carries_to_what_stands_behind_and_never_to_what_stands_ahead() -> None:
    carried = shares(flow_of(walls(1.0), Wind(airflow_m_s=20)), Way.CARRY)
    assert "wall_behind" in {b for _, b in carried}
    assert "wall_ahead" not in {b for a, b in carried if a != "wall_ahead"}


def test_nothing_is_carried_in_still_air_or_where_no_air_sweeps() -> None:
    assert not shares(flow_of(walls(1.0)), Way.CARRY)
    sheltered = machine(box(airflow_exposure=0.0))
    still, blown = flow_of(sheltered), flow_of(sheltered, Wind(airflow_m_s=30))
    assert blown.courses == still.courses
    np.testing.assert_array_equal(blown.to_ground, still.to_ground)


# Flung, and along drawn paths.


def wheel(axis: tuple[float, float, float], spins: float | None = 80.0) -> Machine:
    return machine(
        (
            patch("wheel", (0, 0, 500), axis, (40, 40, 40), spins=spins, spin_axis=axis),
            patch("ahead", (200, 0, 500), (-1, 0, 0), (0, 60, 60)),
            patch("beside", (0, 200, 500), (0, -1, 0), (60, 0, 60)),
            patch("above", (0, 0, 700), (0, 0, -1), (60, 60, 0)),
            # Near enough, and in the plane of none of the three axes.
            patch("aslant", (200, 150, 650), (-1, 0, 0), (0, 60, 60)),
            patch("far_ahead", (2000, 0, 500), (-1, 0, 0), (0, 60, 60)),
            patch("far_beside", (0, 2000, 500), (0, -1, 0), (60, 0, 60)),
        )
    )


@pytest.mark.parametrize(
    ("axis", "hit"),
    [
        ((1.0, 0.0, 0.0), {"beside", "above"}),
        ((0.0, 1.0, 0.0), {"ahead", "above"}),
        ((0.0, 0.0, 1.0), {"ahead", "beside"}),
        ((0.0, 0.0, -3.0), {"ahead", "beside"}),
    ],
)
def test_a_wheel_flings_only_in_its_own_plane(
    axis: tuple[float, float, float], hit: set[str]
) -> None:
    flung = shares(flow_of(wheel(axis)), Way.FLING)
    assert {b for _, b in flung} == hit
    assert {a for a, _ in flung} == {"wheel"}


def test_what_stands_still_flings_nothing() -> None:
    assert not shares(flow_of(wheel((1.0, 0.0, 0.0), None)), Way.FLING)


def test_a_cable_wicks_even_uphill_and_a_drain_hole_runs() -> None:
    high = patch("box_inside", (0, 0, 900), (0, 0, 1), (50, 50, 0))
    paths = (
        DrawnPath(source="underside", target="box_inside", share=0.4, wicks=True),
        DrawnPath(source="top", target="tray", share=0.4),
    )
    flow = flow_of(machine((*box(), high, tray()), paths=paths))
    assert set(shares(flow, Way.WICK)) == {("underside", "box_inside")}
    assert shares(flow, Way.RUN)["top", "tray"] > 0
    assert not shares(flow_of(machine((*box(), high, tray()))), Way.WICK)


def test_a_drawn_path_that_takes_more_leaves_less_for_the_rest() -> None:
    taken, left = [], []
    for share in (0.2, 0.8):
        path = DrawnPath(source="top", target="tray", share=share)
        ways = shares_from(flow_of(machine((*box(), tray()), paths=(path,))), "top")
        taken.append(ways.pop("tray"))
        left.append(sum(ways.values()))
    assert taken[0] < taken[1]
    assert left[0] > left[1]


# Accounts.


@given(machines(), winds)
@settings(max_examples=60, deadline=None)
def test_what_leaves_a_zone_goes_somewhere(made: Machine, wind: Wind) -> None:
    flow = flow_of(made, wind)
    ids, ground = flow.surfaces.ids, ground_of(flow)
    for zone in ids:
        ways = shares_from(flow, zone)
        parts = [*ways.values(), ground[zone]]
        assert all(0 <= p <= 1 + TOLERANCE for p in parts)
        assert sum(parts) == pytest.approx(1, abs=TOLERANCE)


@given(machines(), winds, st.sampled_from(DETAILS))
@settings(max_examples=60, deadline=None)
def test_the_order_is_the_order_of_the_flow(made: Machine, wind: Wind, detail: Detail) -> None:
    flow = flow_map(made, wind, shipped_priors(), detail)
    assert sorted(flow.order) == list(range(flow.surfaces.count))
    place = {k: n for n, k in enumerate(flow.order)}
    for c in flow.courses:
        assert c.source != c.target
        if not c.sideways:
            assert place[c.source] < place[c.target]


@given(machines(), winds)
@settings(max_examples=40, deadline=None)
def test_only_what_would_close_a_loop_is_sideways(made: Machine, wind: Wind) -> None:
    flow = flow_of(made, wind)
    below: dict[int, set[int]] = {}
    for k in reversed(flow.order):
        firm = {c.target for c in flow.courses if c.source == k and not c.sideways}
        below[k] = firm.union(*(below[t] for t in firm))
    for c in flow.courses:
        if c.sideways:
            assert c.source in below[c.target]


def test_two_level_plates_side_by_side_keep_one_way_firm_and_one_sideways() -> None:
    plates = (
        patch("plate_a", (0, 0, 100), (0, 0, 1), (200, 200, 0)),
        patch("plate_b", (200, 0, 100), (0, 0, 1), (200, 200, 0)),
    )
    flow = flow_of(machine(plates))
    assert {(c.source, c.target) for c in flow.courses} == {(0, 1), (1, 0)}
    assert [c.sideways for c in flow.courses] == [False, True]


@given(machines(), winds)
@settings(max_examples=30, deadline=None)
def test_fewer_ways_followed_are_some_of_the_ways(made: Machine, wind: Wind) -> None:
    full = {(c.source, c.target, c.way) for c in flow_of(made, wind).courses}
    for detail in DETAILS[1:]:
        courses = flow_map(made, wind, shipped_priors(), detail).courses
        assert {(c.source, c.target, c.way) for c in courses} <= full
        for k in {c.source for c in courses}:
            assert sum(c.source == k for c in courses) <= detail.ways


def test_a_tray_under_many_pipes_only_collects() -> None:
    pipes = tuple(
        patch(f"pipe_{n}", (100 * n, 0, 300), (0, 0, -1), (40, 40, 0))
        for n in range(DETAILS[0].feeds + 2)
    )
    flow = flow_of(machine((*pipes, tray(0, (5000, 900, 0)))))
    collector = flow.surfaces.ids.index("tray")
    assert flow.collectors == {collector}
    fed = collected_shares(flow, collector)
    assert {flow.surfaces.ids[k] for k in fed} == {p.id for p in pipes}
    assert all(0 < s <= 1 for s in fed.values())
    # The tray runs over onto the ground, and so, by way of it, does every pipe.
    np.testing.assert_allclose(ground_shares(flow), 1, rtol=0, atol=TOLERANCE)


# The same machine elsewhere.


def same(flow: FlowMap, other: FlowMap) -> None:
    assert shares(other) == pytest.approx(shares(flow), abs=TOLERANCE)
    assert ground_of(other) == pytest.approx(ground_of(flow), abs=TOLERANCE)


@given(machines(), winds, st.tuples(*[st.integers(-3000, 3000)] * 3))
@settings(max_examples=40, deadline=None)
def test_a_machine_moved_is_the_same(made: Machine, wind: Wind, by: tuple[int, int, int]) -> None:
    same(flow_of(made, wind), flow_of(moved(made, by), wind))


@given(machines(), winds)
@settings(max_examples=40, deadline=None)
def test_a_machine_mirrored_leaning_the_other_way_is_the_same(made: Machine, wind: Wind) -> None:
    attitude = Attitude(wind.attitude.pitch_deg, -wind.attitude.roll_deg)
    same(flow_of(made, wind), flow_of(mirrored(made), Wind(attitude, wind.airflow_m_s)))


@given(machines(), tilts)
@settings(max_examples=40, deadline=None)
def test_in_still_air_a_machine_turned_is_the_same(made: Machine, tilt: float) -> None:
    same(flow_of(made), flow_of(turned(made)))
    # The rear looks right after a quarter turn to the right, so nose up becomes left side up
    # after one to the left.
    pitched, rolled = Wind(Attitude(pitch_deg=tilt)), Wind(Attitude(roll_deg=tilt))
    same(flow_of(made, pitched), flow_of(turned(made), rolled))


@given(machines(), winds)
@settings(max_examples=30, deadline=None)
def test_neighbours_listed_or_found_are_the_same(made: Machine, wind: Wind) -> None:
    surfaces = surfaces_of(made)
    listed = tuple(
        Neighbour(
            between=(surfaces.ids[e.first], surfaces.ids[e.second]), shared_edge_mm=e.length_mm
        )
        for e in shared_edges(made, surfaces)
    )
    written = made.model_copy(update={"neighbours": listed})
    assert flow_of(written, wind).courses == flow_of(made, wind).courses


def test_a_box_has_the_twelve_edges_of_a_box() -> None:
    made = machine((*box((400, 300, 200)), tray()))
    surfaces = surfaces_of(made)
    edges = {
        frozenset((surfaces.ids[e.first], surfaces.ids[e.second])): e.length_mm
        for e in shared_edges(made, surfaces)
    }
    faces = {"top", "underside", *SIDES}
    opposite = [{"top", "underside"}, {"front", "rear"}, {"left", "right"}]
    pairs = {frozenset((a, b)) for a in faces for b in faces if a != b and {a, b} not in opposite}
    assert set(edges) == pairs
    assert edges[frozenset(("top", "left"))] == pytest.approx(400)
    assert edges[frozenset(("front", "underside"))] == pytest.approx(300)
    assert edges[frozenset(("front", "right"))] == pytest.approx(200)


def test_with_no_neighbours_listed_nothing_runs_over_an_edge() -> None:
    flow = flow_of(machine((*box(), tray()), neighbours=()))
    assert not shares(flow, Way.RUN)
    assert shares_from(flow, "underside") == pytest.approx({"tray": 1}, abs=TOLERANCE)


def test_a_zone_without_a_box_is_a_square_of_its_area() -> None:
    made = machine((*box(), tray()))
    bare = made.zones[0].model_copy(update={"bbox_mm": None, "area_mm2": 160000.0})
    same(
        flow_of(made),
        flow_of(made.model_copy(update={"zones": (bare, *made.zones[1:])})),
    )


# What one patch looks like.


def test_a_flat_patch_is_no_lump_and_a_cube_is() -> None:
    s = surfaces_of(
        machine(
            (
                patch("plate", (0, 0, 0), (0, 0, 2), (100, 80, 0)),
                patch("slope", (0, 0, 0), (0, -0.6, 0.8), (100, 80, 60)),
                patch("cube", (0, 0, 0), (0, 0, 1), (100, 100, 100)),
            )
        )
    )
    np.testing.assert_allclose(s.lump, [0, 0, 1], rtol=0, atol=TOLERANCE)
    np.testing.assert_allclose(np.linalg.norm(s.normal, axis=1), 1, rtol=0, atol=TOLERANCE)
    in_plane = np.einsum("zkc,zc->zk", s.axes, s.normal)
    np.testing.assert_allclose(in_plane, 0, rtol=0, atol=TOLERANCE)


def test_steepness_is_the_slope_of_the_patch_in_the_field_of_gravity() -> None:
    made = machine((*box(), tray()))
    index = {z: k for k, z in enumerate(surfaces_of(made).ids)}
    level = flow_of(made).steepness
    assert level[index["top"]] == pytest.approx(0, abs=TOLERANCE)
    assert level[index["front"]] == pytest.approx(1, abs=TOLERANCE)
    leaning = flow_of(made, Wind(Attitude(pitch_deg=30))).steepness
    assert leaning[index["top"]] == pytest.approx(0.5, abs=TOLERANCE)
    assert leaning[index["left"]] == pytest.approx(1, abs=TOLERANCE)
    assert leaning[index["front"]] == pytest.approx(np.cos(np.radians(30)), abs=TOLERANCE)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8, 1.0])
def test_a_drawn_path_takes_what_it_states(share: float) -> None:
    path = DrawnPath(source="top", target="tray", share=share)
    flow = flow_of(machine((*box(), tray()), paths=(path,)))
    assert shares_from(flow, "top")["tray"] == pytest.approx(share, abs=TOLERANCE)
