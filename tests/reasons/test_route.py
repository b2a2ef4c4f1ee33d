"""The route of the fluid, against every path written out and the sum over all states."""

from __future__ import annotations

from functools import lru_cache
from math import prod
from typing import Any

import numpy as np
import pytest

from leakdx.advice.solving import Solved, solve
from leakdx.belief.evidence import Evidence, combine
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob, load_shipped_job
from leakdx.flow.courses import FlowMap, Way
from leakdx.machine.model import Fluid, FluidKind, Machine, SealKind, SealPoint
from leakdx.network.setting import flow_name, seal_name
from leakdx.network.tables import Array, Influence
from leakdx.priors.read import shipped_priors
from leakdx.reasons.route import (
    WORDS,
    Route,
    Step,
    arrives,
    arrives_alone,
    gets_over,
    likeliest,
    marks_of,
    route_to,
    routes_of,
    sentence_of,
)
from tests.belief.enumeration import marginal, weighted, written_out
from tests.flow.boxes import OIL, machine, patch, tray

JOBS = ("rear_of_engine_wet", "front_drip_after_refit", "right_side_two_fluids")
MAY_RISE = {Way.CARRY, Way.FLING, Way.WICK}
Graph = dict[str, dict[str, float]]


def paths(graph: Graph, start: str, end: str) -> list[tuple[tuple[str, str], ...]]:
    """Every path, walked one by one; graph: target -> source -> chance."""
    if start == end:
        return [()]
    return [
        (*before, (source, end))
        for source, chance in graph.get(end, {}).items()
        if chance > 0
        for before in paths(graph, start, source)
    ]


def chance_of(graph: Graph, path: tuple[tuple[str, str], ...]) -> float:
    return prod(graph[target][source] for source, target in path)


@pytest.mark.parametrize("seed", range(40))
def test_no_path_of_a_random_graph_is_likelier(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 9))
    graph: Graph = {
        f"n{b}": {f"n{a}": float(rng.random()) * float(rng.random() < 0.7) for a in range(b)}
        for b in range(1, count)
    }
    every = paths(graph, "n0", f"n{count - 1}")
    found = likeliest(graph, "n0", f"n{count - 1}")
    if not every:
        assert found == ()
        return
    assert found in every
    assert chance_of(graph, found) == pytest.approx(max(chance_of(graph, p) for p in every))


def test_a_roundabout_path_is_taken_where_it_is_likelier() -> None:
    graph = {"b": {"a": 0.9}, "c": {"b": 0.9}, "end": {"a": 0.7, "c": 0.9}}
    assert likeliest(graph, "a", "end") == (("a", "b"), ("b", "c"), ("c", "end"))
    graph["end"]["a"] = 0.73  # 0.9 ** 3 is 0.729
    assert likeliest(graph, "a", "end") == (("a", "end"),)


def test_of_two_as_likely_the_shorter_one() -> None:
    graph = {"b": {"a": 0.5}, "end": {"b": 1.0, "a": 0.5}}
    assert likeliest(graph, "a", "end") == (("a", "end"),)
    assert likeliest({"end": {"a": 0.0}}, "a", "end") == ()


def test_the_chance_of_a_step_by_hand() -> None:
    nothing = [1.0, 0.6, 0.25, 0.0]  # brought by each level of the source
    influence = Influence("source", np.array([nothing, [1 - n for n in nothing]]))
    # Wet with 0.1 + 0.2 + 0.2 = 0.5, and then over with 0.1 * 0.4 + 0.2 * 0.75 + 0.2 * 1 = 0.39.
    assert gets_over(np.array([0.5, 0.1, 0.2, 0.2]), influence) == pytest.approx(0.78)
    assert gets_over(np.array([1.0, 0.0, 0.0, 0.0]), influence) == 0.0


def solved(made: Machine, *timeline: dict[str, Any]) -> Solved:
    job = {
        "format": "leakdx-job/1",
        "id": "tiny",
        "machine": {"id": made.id, "version": "1"},
        "conditions": {"hours": 50},
        "timeline": timeline,
    }
    return solve(LoadedJob(Job.model_validate(job), made), shipped_priors())


def joint(name: str, zone: str, **more: Any) -> SealPoint:
    return SealPoint(
        **{"id": name, "kind": SealKind.FLAT_GASKET, "zones": (zone,), "fluid": "oil"} | more
    )


def house(**more: Any) -> Machine:
    """A top that a gutter drains to the front; three ways lead from it down to a tray."""
    zones = [
        patch("top", (0, 0, 400), (0, 0, 1), (200, 200, 0)),
        patch("left", (0, 100, 300), (0, 1, 0), (200, 0, 200)),
        patch("front", (100, 0, 300), (1, 0, 0), (0, 200, 200)),
        tray(size=(300, 300, 0)),
    ]
    parts: dict[str, Any] = {
        "seal_points": (joint("lid", "top"), joint("plug", "left")),
        "paths": ({"source": "top", "target": "front", "share": 0.8},),
    }
    return machine(zones, **(parts | more))


@lru_cache
def read_house() -> Solved:
    return solved(
        house(), {"zone": "tray", "state": "wet"}, {"zone": "left", "state": "film", "sure": "poor"}
    )


@lru_cache
def enumerated(seal: str) -> tuple[tuple[str, ...], Array]:
    """Every state of the network of the house with its chance if a seal point leaks."""
    network = written_out(read_house().asked.network.network)
    leaks = Evidence({seal_name(seal): np.array([0.0, 1, 1, 1])})
    whole = weighted(network, combine([read_house().evidence, leaks]))
    # The causes and the other origins are summed out: nothing below asks for them.
    kept = tuple(n for n in network.names if n.startswith(("seal", "flow")))
    table = marginal(network, whole, kept)
    return kept, table / table.sum()


def alone(kept: tuple[str, ...], table: Array, name: str) -> Array:
    axis = kept.index(name)
    found: Array = table.sum(axis=tuple(n for n in range(table.ndim) if n != axis))
    return found


@pytest.mark.parametrize("seal", ["lid", "plug"])
def test_routes_and_their_steps_against_enumeration(seal: str) -> None:
    kept, table = enumerated(seal)
    graph: Graph = {}
    for maximum in read_house().asked.network.network.maxima:
        graph[maximum.child] = {}
        for influence in maximum.influences:
            if influence.parent in (*kept[2:], seal_name(seal)):
                there = alone(kept, table, influence.parent)[1:]
                brings = 1 - influence.table[0, 1:]
                chance = float((there * brings).sum() / there.sum())
                graph[maximum.child][influence.parent] = chance
    ends = {z.id: flow_name("oil", z.id) for z in house().zones}
    for zone, end in ends.items():
        every = paths(graph, seal_name(seal), end)
        found = route_to(read_house(), seal, zone)
        if not every:
            assert found is None
            continue
        assert found is not None
        best = max(every, key=lambda p: chance_of(graph, p))
        names = {name: z for z, name in ends.items()} | {seal_name(seal): seal}
        walked = [(names[a], names[b], graph[b][a]) for a, b in best]
        assert [(s.source, s.target) for s in found.steps] == [(a, b) for a, b, _ in walked]
        assert [s.chance for s in found.steps] == pytest.approx([c for _, _, c in walked])
        assert found.chance == pytest.approx(chance_of(graph, best))
        wet = float(alone(kept, table, end)[1:].sum())
        assert found.arrives == pytest.approx(wet)
        assert arrives(read_house(), seal, zone) == pytest.approx(wet)
    assert any(len(paths(graph, seal_name(seal), e)) > 1 for e in ends.values())


def test_what_a_leak_does_alone_against_enumeration() -> None:
    network = written_out(read_house().asked.network.network)
    said = {"seal__lid": np.array([0.0, 1, 1, 1]), "seal__plug": np.eye(4)[0]}
    said |= {n: np.eye(3)[0] for n in network.names if n.startswith("other__")}
    whole = weighted(network, said)
    for zone in ("front", "tray"):
        table = marginal(network, whole, [flow_name("oil", zone)])
        wet = 1 - table[0] / table.sum()
        assert arrives_alone(read_house(), "lid", zone) == pytest.approx(float(wet))


def test_the_drawn_gutter_is_followed_and_each_way_is_named() -> None:
    found = route_to(read_house(), "lid", "tray")
    assert found is not None
    walked = [(s.source, s.target, s.way) for s in found.steps]
    assert walked == [("lid", "top", "shows"), ("top", "front", "run"), ("front", "tray", "drip")]
    assert {s.way for s in found.steps} <= WORDS.keys()


def test_routes_go_to_what_was_read_wet_the_likeliest_first() -> None:
    found = routes_of(read_house(), "plug")
    assert [r.zone for r in found] == ["left", "tray"]
    assert found[0].chance > found[1].chance
    # It wets the left side, and nothing leads up from there to the top.
    assert route_to(read_house(), "plug", "top") is None
    assert marks_of(read_house(), 0) == {"tray": True, "left": True}


def test_a_dry_zone_or_one_wet_with_another_fluid_is_no_end() -> None:
    water = Fluid(id="water", kind=FluidKind.COOLANT)
    made = house(fluids=(OIL, water), seal_points=(joint("lid", "top"),))
    here = solved(
        made,
        {"zone": "tray", "state": "wet", "fluid": "water"},
        {"zone": "front", "state": "wet", "fluid": "oil"},
        {"zone": "left", "state": "dry"},
        {"zone": "top", "state": "not_looked"},
    )
    assert [r.zone for r in routes_of(here, "lid")] == ["front"]
    assert marks_of(here, 0) == {"tray": True, "front": True, "left": False}


def test_a_zone_that_bears_on_no_reading_is_on_no_route() -> None:
    here = solved(house(), {"zone": "left", "state": "wet"})
    assert route_to(here, "lid", "tray") is None
    assert arrives(here, "lid", "tray") == 0.0
    assert arrives_alone(here, "lid", "tray") == 0.0
    assert routes_of(solved(house(), {"zone": "left", "state": "dry"}), "lid") == ()
    with pytest.raises(KeyError):
        routes_of(here, "nothing")


def test_the_newest_epoch_that_has_something_wet_counts() -> None:
    wet, dry = {"zone": "tray", "state": "wet"}, {"zone": "tray", "state": "dry"}
    wash, run = {"wash": "whole"}, {"run_minutes": 600}
    here = solved(house(), wet, wash, run, {"zone": "front", "state": "wet"})
    assert [r.zone for r in routes_of(here, "lid")] == ["front"]
    here = solved(house(), wet, wash, run, dry)
    assert [r.zone for r in routes_of(here, "lid")] == ["tray"]
    # To the tray as it was read last, and dry: another chance than before the wash.
    now, before = route_to(here, "lid", "tray"), routes_of(here, "lid")[0]
    assert now is not None
    assert now.arrives < before.arrives


def test_a_joint_renewed_since_wetted_nothing_before() -> None:
    wet = {"zone": "tray", "state": "wet"}
    renewed = solved(house(), wet, {"renew": "lid"}, {"wash": "whole"}, {"run_minutes": 60})
    assert routes_of(renewed, "lid") == ()
    assert [r.zone for r in routes_of(renewed, "plug")] == ["tray"]
    again = solved(house(), wet, {"renew": "lid"}, {"wash": "whole"}, {"run_minutes": 60}, wet)
    assert [r.zone for r in routes_of(again, "lid")] == ["tray"]


@pytest.mark.parametrize("job", JOBS)
def test_no_route_of_a_shipped_job_goes_uphill(job: str) -> None:
    here = solve(load_shipped_job(job), shipped_priors())
    flow = here.asked.network.spreads[-1].flow
    index = {z: k for k, z in enumerate(flow.surfaces.ids)}
    count = 0
    for seal in here.asked.network.setting.machine.seal_points:
        for route in routes_of(here, seal.id):
            assert route.chance == pytest.approx(prod(s.chance for s in route.steps))
            assert route.steps[0].source == seal.id and route.steps[-1].target == route.zone
            for step, after in zip(route.steps, route.steps[1:], strict=False):
                assert step.target == after.source
            for step in route.steps[1:]:
                count += 1
                if step.way not in MAY_RISE:
                    assert not_up(flow, index[step.source], index[step.target]), step
    assert count > 50


def not_up(flow: FlowMap, source: int, target: int) -> bool:
    """Whether a zone ends lower than another begins, its middle no more than a step higher."""
    depth = [flow.surfaces.boxes[k].corners @ flow.down for k in (source, target)]
    return bool(depth[1].max() > depth[0].min() and depth[1].mean() > depth[0].mean() - 15)


def test_a_route_in_a_sentence() -> None:
    steps = (Step("lid", "top", "shows", 0.9), Step("top", "pan", "drip", 0.5))
    route = Route("lid", "pan", "oil", steps, 0.45, 0.97)
    assert sentence_of(route, {"lid": "Lid gasket", "top": "Top, front", "pan": "Pan"}) == (
        "Lid gasket: shows on Top, front (90 %); then drips onto Pan (50 %). "
        "The whole route: 45 %. If it leaks, its fluid is there, by whatever way and from "
        "whatever leak: 97 %."
    )
    alone = sentence_of(Route("lid", "the_top", "oil", (steps[0],), 0.9, 1.0), {})
    assert "shows on top (90 %). If it leaks" in alone
