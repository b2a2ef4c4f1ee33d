"""Where one leak goes, and which zones none can reach."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Course, FlowMap, Way, Wind, flow_map
from leakdx.flow.outlets import first_zones
from leakdx.flow.trail import trail, unreached
from leakdx.kit.read import load_shipped
from leakdx.machine.model import SealKind, SealPoint
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, flow_of, machine, patch, tray

PRIORS = shipped_priors()
FAR_APART = tuple(
    patch(name, (900.0 * k, 0, 0), (0, 0, 1), (90, 90, 0)) for k, name in enumerate("abcd")
)
A, B, C, D = range(4)


def made_up(*courses: Course, ground: tuple[float, ...], order: tuple[int, ...]) -> FlowMap:
    """Four zones that share no edge, with these courses and no others."""
    flow = flow_of(machine(FAR_APART))
    return replace(flow, courses=courses, to_ground=np.array(ground), order=order)


def leak(*zones: str) -> SealPoint:
    return SealPoint(id="joint", kind=SealKind.FLAT_GASKET, zones=zones, fluid="oil")


def test_shares_along_two_ways_that_meet_again() -> None:
    flow = made_up(
        Course(A, B, 0.6, Way.RUN),
        Course(A, C, 0.3, Way.DRIP),
        Course(B, C, 0.5, Way.RUN),
        Course(C, D, 1.0, Way.DRIP),
        ground=(0.1, 0.5, 0.0, 0.0),
        order=(A, B, C, D),
    )
    found = trail(leak("a"), flow, PRIORS)
    # By hand: C gets 0.3 straight and 0.6 x 0.5 by way of B, and hands all of it to D.
    assert found.zones == pytest.approx([1.0, 0.6, 0.6, 0.6])
    assert found.courses == pytest.approx([0.6, 0.3, 0.3, 0.6])
    assert found.to_ground_from == pytest.approx([0.1, 0.3, 0.0, 0.0])
    assert found.to_ground == pytest.approx(0.4)
    assert found.stays == pytest.approx([0.0, 0.0, 0.0, 0.6])


def test_only_the_leak_itself_goes_sideways() -> None:
    sideways = Course(B, A, 0.4, Way.RUN, sideways=True)
    flow = made_up(
        Course(A, B, 1.0, Way.RUN),
        Course(B, C, 0.6, Way.RUN),
        sideways,
        ground=(0.0, 0.0, 0.0, 0.0),
        order=(A, B, C, D),
    )
    from_a = trail(leak("a"), flow, PRIORS)
    assert from_a.courses == pytest.approx([1.0, 0.6, 0.0])
    # A leak in B: 0.4 goes to A and comes by B again, as a stream, so 0.6 of that goes on to C.
    from_b = trail(leak("b"), flow, PRIORS)
    assert from_b.zones == pytest.approx([0.4, 1.0, 0.6 + 0.4 * 0.6, 0.0])
    assert from_b.courses == pytest.approx([0.4, 0.84, 0.4])


def test_a_leak_between_two_zones_is_one_leak() -> None:
    flow = made_up(ground=(0.0, 0.0, 0.0, 0.0), order=(A, B, C, D))
    found = trail(leak("a", "b"), flow, PRIORS)
    assert found.zones == pytest.approx([0.5, 0.5, 0.0, 0.0])
    assert found.stays.sum() == pytest.approx(1)


def test_a_leak_between_a_zone_and_one_beside_it_is_one_leak() -> None:
    zones = (*FAR_APART[:3], patch("d", (300, 0, 2700), (0, 0, 1), (90, 90, 0)))
    flow = replace(
        flow_of(machine(zones)),
        courses=(Course(A, D, 0.9, Way.RUN, sideways=True),),
        to_ground=np.zeros(4),
        order=(D, A, B, C),
    )
    # D lies higher, so less of the leak is its own than gets there from beside.
    assert sum(first_zones(leak("a", "d"), flow, PRIORS).values()) > 1.05
    found = trail(leak("a", "d"), flow, PRIORS)
    assert found.stays.sum() == pytest.approx(1)


def test_over_a_near_edge_goes_more_and_nothing_is_made() -> None:
    made = machine(
        (
            patch("slope", (0, 0, 300), (0.6, 0, 0.8), (400, 400, 300)),
            patch("foot_left", (200, 100, 100), (1, 0, 0), (0, 200, 100)),
            patch("foot_right", (200, -100, 100), (1, 0, 0), (0, 200, 100)),
        )
    )
    flow = flow_of(made)
    seal = leak("slope").model_copy(update={"position_mm": (0.0, 180.0, 300.0)})
    found, usual = trail(seal, flow, PRIORS), trail(leak("slope"), flow, PRIORS)
    assert found.zones[1] > 1.5 * usual.zones[1]
    assert found.zones[2] < usual.zones[2]
    assert found.zones[1] == pytest.approx(first_zones(seal, flow, PRIORS)[1])
    runs = [n for n, c in enumerate(flow.courses) if c.source == 0 and c.way is Way.RUN]
    assert found.courses[runs].sum() == pytest.approx(usual.courses[runs].sum())


@pytest.mark.parametrize("wind", [Wind(), Wind(Attitude(-12, 20), 15.0)], ids=["level", "leans"])
def test_nothing_is_counted_twice_and_all_that_is_first_is_there(wind: Wind) -> None:
    made = load_shipped("forestry_carrier_five")
    flow = flow_map(made, wind, PRIORS)
    ids = flow.surfaces.ids
    for seal in made.seal_points:
        found = trail(seal, flow, PRIORS)
        assert 0 < found.stays.sum() + found.to_ground <= 1 + 1e-9, seal.id
        assert found.zones.min() >= 0 and found.zones.max() <= 1
        for zone in found.first:
            assert found.zones[zone] > 0, seal.id
        streams = [n for n, c in enumerate(flow.courses) if ids[c.source] not in seal.zones]
        expected = [
            0.0 if c.sideways else found.zones[c.source] * c.share
            for c in (flow.courses[n] for n in streams)
        ]
        assert found.courses[streams] == pytest.approx(expected), seal.id


def test_fluid_ends_below_where_it_began() -> None:
    made = machine((*box(), tray()))
    flow = flow_of(made)
    found = trail(leak("top"), flow, PRIORS)
    height = flow.surfaces.centre[:, 2]
    middle = float(height @ (found.stays + found.to_ground_from))
    assert middle < height[0] - 150


def test_what_no_seal_point_can_wet_is_named() -> None:
    shelf = patch("shelf", (0, 0, 900), (0, 0, 1), (200, 200, 0))
    made = machine((*box(), tray(), shelf))
    # The joint is on top of the box, the shelf above it; nothing leads there.
    assert unreached(made, flow_of(made), PRIORS) == ("shelf",)
    lower = made.model_copy(update={"seal_points": (leak("underside"),)})
    assert set(unreached(lower, flow_of(lower), PRIORS)) >= {"shelf", "top"}
    assert "tray" not in unreached(lower, flow_of(lower), PRIORS)
