"""A job with the readings its looks could bring, on a pump stand made up for tests."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leakdx.advice.asking import SIGNS_AHEAD, Ahead, ahead_of, weighable
from leakdx.advice.looks import Look, look_at
from leakdx.advice.outcomes import outlooks
from leakdx.advice.solving import solve
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import Beliefs, compile_network
from leakdx.case.evidence import asked_of
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob, load_job
from leakdx.machine.model import Inspection, Machine, SignKind
from leakdx.machine.read import load_machine
from leakdx.network.setting import flow_name, look_name, seal_name
from leakdx.network.tables import Array
from leakdx.priors.read import shipped_priors

DATA = Path(__file__).parents[1] / "data"
PRIORS = shipped_priors()
STAND = load_machine(DATA / "pump_stand.yaml")
TOLERANCE = 1e-9


def inspection(name: str, *zones: str, seals: tuple[str, ...] = (), **more: Any) -> Inspection:
    reads: dict[str, Any] = {"zones": zones, "seal_points": seals}
    reads |= {k: more.pop(k) for k in ("signs", "fluid") if k in more}
    return Inspection.model_validate({"id": name, "minutes": 5, "reads": reads} | more)


EVERY_ZONE = tuple(z.id for z in STAND.zones)
EVERY_SEAL = tuple(s.id for s in STAND.seal_points)
INSPECTIONS = (
    *STAND.inspections,
    inspection("eyes_all", *EVERY_ZONE),
    inspection("wash", *EVERY_ZONE, method="wash_and_run"),
    inspection("eyes_cover", "cover_side"),
    inspection("wash_cover", "cover_side", method="wash_and_run"),
    inspection("powder_cover", "cover_side", method="powder", state=["cold", "washed"]),
    inspection("powder_dirty", "cover_side", method="powder", state=["cold"]),
    inspection("close_up", seals=EVERY_SEAL, method="mirror"),
    inspection("everything", *EVERY_ZONE, seals=EVERY_SEAL, signs=tuple(SignKind)),
    inspection("water_level", signs=("level_falls",), fluid="water"),
    inspection("watch", signs=("leaks_hot_idle", "ground_wet", "pressure_loss")),
)
BUSY = STAND.model_copy(update={"inspections": INSPECTIONS})
WET = {"zone": "foot_left", "state": "wet", "fluid": "gear_oil"}
TIMELINES: dict[str, list[dict[str, Any]]] = {
    "nothing": [],
    "wet foot": [WET],
    "not looked": [WET, {"zone": "cover_side", "state": "not_looked"}],
    "fluid not known": [{"zone": "cover_side", "state": "film", "age": "fresh"}],
    "dry and close up": [
        {"zone": "cover_top", "state": "dry", "inspection": "look_at_cover"},
        {"seal_point": "cover_gasket", "state": "weeping"},
        {"sign": "level_falls", "value": "yes", "fluid": "gear_oil"},
        {"context": "ventilation_blocked", "fluid": "gear_oil"},
    ],
    "smell and ground": [{"sign": "ground_wet"}, {"sign": "leaks_at_rest", "value": "no"}],
    "washed": [WET, {"wash": "whole"}, {"run_minutes": 30}, {"zone": "cover_side", "state": "dry"}],
    "part washed": [WET, {"wash": ["foot_left"]}, {"run_minutes": 30}, WET | {"state": "film"}],
    "renewed": [
        WET,
        {"renew": "shaft_seal"},
        {"wash": "whole"},
        {"run_minutes": 60},
        {"seal_point": "shaft_seal", "state": "tight"},
    ],
    "renewed and not washed": [WET, {"renew": "shaft_seal"}, {"zone": "drip_tray", "state": "wet"}],
    # The same zone and sign as the looks would read again.
    "read before": [
        {"zone": "cover_side", "state": "running", "fluid": "gear_oil"},
        {"seal_point": "shaft_seal", "state": "tight", "method": "wipe"},
        {"sign": "level_falls", "value": "no", "fluid": "water"},
    ],
}


def job(*timeline: dict[str, Any], **more: Any) -> Job:
    return Job.model_validate(
        {
            "format": "leakdx-job/1",
            "id": "a_job",
            "machine": {"id": "pump_stand", "version": "1.2"},
            "timeline": list(timeline),
        }
        | more
    )


def looks_at(machine: Machine, *names: str) -> list[Look]:
    chosen = [i for i in machine.inspections if not names or i.id in names]
    return [look_at(machine, i, frozenset()) for i in chosen]


def ahead(timeline: list[dict[str, Any]], *names: str, machine: Machine = BUSY) -> Ahead:
    return ahead_of(machine, job(*timeline), looks_at(machine, *names), PRIORS)


def dry_of(timeline: list[dict[str, Any]], name: str) -> tuple[Mapping[str, Array], ...]:
    return ahead(timeline, name).reads[0].dry


def alone(machine: Machine, made: Job, detail: int) -> Beliefs:
    """Beliefs of the job as it is, in that detail."""
    asked = asked_of(machine, made, PRIORS, detail)
    return compile_network(asked.network.network).update(asked.evidence)


# What is known.


@pytest.mark.parametrize("name", TIMELINES)
def test_what_is_known_says_what_the_job_alone_says(name: str) -> None:
    made = job(*TIMELINES[name])
    found = ahead_of(BUSY, made, looks_at(BUSY), PRIORS)
    got, told = found.tree.update(found.known), alone(BUSY, made, found.detail)
    assert len(found.seals) == len(BUSY.seal_points)
    for seal in found.seals:
        np.testing.assert_allclose(got[seal], told[seal], atol=TOLERANCE)
    solved = solve(LoadedJob(made, BUSY), PRIORS)
    assert solved.detail == found.detail
    for seal in found.seals:
        np.testing.assert_allclose(got[seal], solved.beliefs[seal], atol=TOLERANCE)


def test_a_whole_job_with_two_washes_and_a_renewal() -> None:
    loaded = load_job(DATA / "wet_foot.yaml")
    looks = looks_at(loaded.machine)
    found = ahead_of(loaded.machine, loaded.job, looks, PRIORS)
    got, told = found.tree.update(found.known), alone(loaded.machine, loaded.job, found.detail)
    for seal in found.seals:
        np.testing.assert_allclose(got[seal], told[seal], atol=TOLERANCE)


def test_seal_points_are_named_as_they_are_now() -> None:
    assert ahead([]).seals == tuple(seal_name(s) for s in EVERY_SEAL)
    renewed = ahead(TIMELINES["renewed"]).seals
    assert renewed == tuple(seal_name(s, int(s == "shaft_seal")) for s in EVERY_SEAL)


def test_without_looks_there_is_only_what_is_known() -> None:
    made = job(WET)
    found = ahead_of(BUSY, made, [], PRIORS)
    assert found.reads == ()
    got, told = found.tree.update(found.known), alone(BUSY, made, found.detail)
    for seal in found.seals:
        np.testing.assert_allclose(got[seal], told[seal], atol=TOLERANCE)
    assert dict(ahead([]).known) == {}


# What could be read.


@pytest.mark.parametrize("name", TIMELINES)
def test_every_dry_reading_is_a_chance(name: str) -> None:
    found = ahead(TIMELINES[name])
    several = 0
    for reads in found.reads:
        for dry in reads.dry:
            for variable, likelihood in dry.items():
                assert likelihood.shape == (found.tree.network[variable].size,)
                assert likelihood.min() >= 0
            # In each state of all its variables at once.
            whole = np.ones(())
            for likelihood in dry.values():
                whole = np.multiply.outer(whole, likelihood)
            several += len(dry) > 1
            assert whole.max() <= 1 + 1e-12
            assert whole.max() > 0.5
    assert several, "no zone that several fluids may wet"


@pytest.mark.parametrize("name", TIMELINES)
def test_what_it_could_read_is_what_reading_it_would_say(name: str) -> None:
    """Going by the outlook, and telling the job the reading, come to the same."""
    timeline = TIMELINES[name]
    found = ahead(timeline)
    looks = {i.id: k for k, i in enumerate(BUSY.inspections)}
    events: dict[str, list[dict[str, Any]]] = {
        "eyes_cover": [{"zone": "cover_side", "state": "dry", "inspection": "eyes_cover"}],
        "look_at_cover": [
            {"zone": z, "state": "dry", "inspection": "look_at_cover"}
            for z in ("cover_top", "cover_side")
        ],
        "close_up": [
            {"seal_point": s, "state": "tight", "inspection": "close_up"} for s in EVERY_SEAL
        ],
        "wipe_shaft": [
            {"zone": "foot_left", "state": "dry", "inspection": "wipe_shaft"},
            {"seal_point": "shaft_seal", "state": "tight", "inspection": "wipe_shaft"},
            {"sign": "level_falls", "value": "no", "fluid": "gear_oil"},
        ],
        "water_level": [{"sign": "level_falls", "value": "no", "fluid": "water"}],
    }
    got = outlooks(found.tree, found.known, found.reads, found.seals)
    before = alone(BUSY, job(*timeline), found.detail)
    for look, readings in events.items():
        after = alone(BUSY, job(*timeline, *readings), found.detail)
        outlook = got[looks[look]]
        leaks = [1 - after[s][0] for s in found.seals]
        np.testing.assert_allclose(outlook.leaks[0], leaks, atol=1e-7)
        chance = np.exp(after.log_evidence - before.log_evidence)
        assert outlook.chance[0] == pytest.approx(chance, abs=TOLERANCE)


def test_readings_are_named_and_in_the_order_of_the_looks() -> None:
    found = ahead([])
    for i, reads in zip(BUSY.inspections, found.reads, strict=True):
        signs = [s.value for s in i.reads.signs if s in SIGNS_AHEAD]
        assert list(reads.things) == [*i.reads.zones, *i.reads.seal_points, *signs]
        assert len(reads.things) == len(reads.dry)


def test_each_reading_is_about_its_own_thing() -> None:
    zone, seal, sign = dry_of([], "wipe_shaft")
    assert flow_name("gear_oil", "foot_left") in zone
    assert set(seal) == {look_name("shaft_seal", 0)}
    assert list(sign) == ["sign__level_falls__gear_oil__e0"]
    (water,) = dry_of([], "water_level")
    assert list(water) == ["sign__level_falls__water__e0"]


def test_a_look_is_about_the_surface_as_it_is_now() -> None:
    washed = dry_of(TIMELINES["washed"], "eyes_cover")
    assert set(washed[0]) == {flow_name(f, "cover_side", 1) for f in ("gear_oil", "water")}


def test_the_errors_an_inspection_states_count() -> None:
    """wipe_shaft misses one film in ten, as its file says; a usual wipe misses fewer."""
    usual = STAND.inspections[1].model_copy(update={"miss": None})
    plain = STAND.model_copy(update={"inspections": (usual,)})
    stated = dry_of([], "wipe_shaft")[0]
    other = ahead([], "wipe_shaft", machine=plain).reads[0].dry[0]
    name = flow_name("gear_oil", "foot_left")
    assert PRIORS["detection.wipe.miss"] < 0.1
    assert stated[name][-1] > other[name][-1]
    assert stated[name][0] == pytest.approx(other[name][0], abs=0.01)


def product(dry: Mapping[str, Array]) -> float:
    """Chance that a zone is called dry where nothing flows."""
    return float(np.prod([likelihood[0] for likelihood in dry.values()]))


@pytest.mark.parametrize("name", ["nothing", "wet foot", "washed", "renewed and not washed"])
def test_what_is_washed_for_the_look_bears_no_old_residue(name: str) -> None:
    """Then only a false call says that a zone is wet on which nothing flows."""
    timeline = TIMELINES[name]
    for look, method in (("wash_cover", "wash_and_run"), ("powder_cover", "powder")):
        clean = product(dry_of(timeline, look)[0])
        assert clean == pytest.approx(1 - PRIORS[f"detection.{method}.false_call"])
    for look, method in (("eyes_cover", "eyes"), ("powder_dirty", "powder")):
        dirty = product(dry_of(timeline, look)[0])
        assert dirty < 1 - PRIORS[f"detection.{method}.false_call"] - 1e-4


def test_after_a_repair_with_no_wash_there_is_more_of_it() -> None:
    messy = TIMELINES["renewed and not washed"]
    assert product(dry_of(messy, "eyes_cover")[0]) < product(dry_of([], "eyes_cover")[0]) - 0.1


# Signs.


def test_signs_that_cannot_be_weighed_are_left_out() -> None:
    by_id = {i.id: i for i in BUSY.inspections}
    assert not weighable(by_id["watch"])
    assert weighable(by_id["water_level"])
    assert weighable(by_id["everything"])
    found = ahead([], "watch", "everything")
    everything, watch = found.reads
    assert watch.things == () and watch.dry == ()
    for sign in SignKind:
        assert (sign.value in everything.things) == (sign in SIGNS_AHEAD)
        made = any(n.startswith(f"sign__{sign.value}__") for n in found.tree.network.names)
        assert made == (sign in SIGNS_AHEAD)


def test_a_sign_that_was_read_counts_though_it_cannot_be_weighed_ahead() -> None:
    """It is among what is known."""
    known = ahead([{"sign": "leaks_at_rest", "value": "no", "fluid": "gear_oil"}], "eyes_cover")
    assert list(known.known) == ["sign__leaks_at_rest__gear_oil__e0"]


def test_hoped_for_readings_are_not_among_what_is_known() -> None:
    asked = asked_of(BUSY, job(WET), PRIORS)
    found = ahead([WET])
    told = combine(asked.readings.values())
    assert isinstance(found.known, Evidence)
    assert set(found.known) == set(told)
    for name, likelihood in told.items():
        np.testing.assert_allclose(found.known[name], likelihood, atol=TOLERANCE)
