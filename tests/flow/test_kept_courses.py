"""A flow kept to the courses of another one: same ways, shares of its own."""

from __future__ import annotations

from collections import defaultdict

import pytest

from leakdx.case.read import load_shipped_job
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import DETAILS, LEAST, FlowMap, Wind, flow_map
from leakdx.priors.drawing import with_values
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
MACHINE = load_shipped_job("rear_of_engine_wet").machine
WIND = Wind(Attitude(2.0, 0.0), 3.0)
OTHER = with_values(
    PRIORS,
    {
        "flow.sideways_spread": 0.2,
        "flow.corner_drip": 0.2,
        "flow.underside_drip": 0.4,
        "flow.film_mm": 0.03,
        "flow.carry_share": 0.4,
        "flow.airflow_exposure": 0.8,
    },
)


def shares(flow: FlowMap) -> dict[tuple[int, int, str, bool], float]:
    return {(c.source, c.target, c.way.value, c.sideways): c.share for c in flow.courses}


@pytest.mark.parametrize("number", [0, 3, 7])
def test_kept_to_its_own_courses_a_flow_stays_as_it_is(number: int) -> None:
    stated = flow_map(MACHINE, WIND, PRIORS, DETAILS[number])
    again = flow_map(MACHINE, WIND, PRIORS, DETAILS[number], stated)
    assert shares(again) == pytest.approx(shares(stated), abs=1e-12)
    assert again.to_ground == pytest.approx(stated.to_ground, abs=1e-12)


@pytest.mark.parametrize("number", [0, 3, 7])
def test_other_numbers_give_other_shares_of_the_same_courses(number: int) -> None:
    stated = flow_map(MACHINE, WIND, PRIORS, DETAILS[number])
    kept = flow_map(MACHINE, WIND, OTHER, DETAILS[number], stated)
    free = flow_map(MACHINE, WIND, OTHER, DETAILS[number])
    ways = [(c.source, c.target, c.way, c.sideways) for c in stated.courses]
    assert [(c.source, c.target, c.way, c.sideways) for c in kept.courses] == ways
    assert (kept.order, kept.collectors) == (stated.order, stated.collectors)
    assert kept.to_ground == pytest.approx(free.to_ground, abs=1e-6)
    assert kept.along == pytest.approx(free.along)
    assert shares(kept) != pytest.approx(shares(stated), abs=1e-3)
    # Where a zone has the same ways out in both, they take the same shares.
    mine, others = out_of(stated), out_of(free)
    same = {zone for zone in mine if mine[zone] == others.get(zone)}
    told = {(c.source, c.target, c.way): c.share for c in free.courses}
    compared = [c for c in kept.courses if c.source in same and not c.sideways]
    assert len(compared) > 20
    for c in compared:
        if (c.source, c.target, c.way) in told:
            assert c.share == pytest.approx(told[c.source, c.target, c.way], abs=1e-6)


def out_of(flow: FlowMap) -> dict[int, set[tuple[int, str]]]:
    found: dict[int, set[tuple[int, str]]] = defaultdict(set)
    for source, target, way in flow.strong:
        found[source].add((target, way.value))
    return found


def test_where_nothing_goes_any_more_next_to_nothing_is_kept() -> None:
    # Air that carries no farther than a finger's breadth takes nothing to the zones behind.
    gale = Wind(Attitude(), 40.0)
    stated = flow_map(MACHINE, gale, PRIORS)
    kept = flow_map(MACHINE, gale, with_values(PRIORS, {"flow.carry_reach_mm": 1e-3}), like=stated)
    carried = [c for c in kept.courses if c.way.value == "carry"]
    assert carried
    assert all(0 < c.share < 1e4 * LEAST for c in carried)
