"""Facts of the trade, asked of the whole program.

Each is common practice, no source.  The machine is the invented reference engine.
"""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.case.read import job_from, load_shipped_job
from tests.outside.chances import Ranking, chance, rank_job

MACHINE = load_shipped_job("rear_of_engine_wet").machine


def ranked(*timeline: dict[str, Any], **conditions: float) -> Ranking:
    stated = {"hours": 100, "fluid_temperature_C": 90} | conditions
    return rank_job(
        job_from(
            {
                "format": "leakdx-job/1",
                "id": "asked",
                "machine": {"id": MACHINE.id, "version": MACHINE.version},
                "conditions": stated,
                "timeline": list(timeline),
            },
            MACHINE,
        )
    )


def oil(zone: str, state: str, **more: str) -> dict[str, Any]:
    return {"zone": zone, "state": state, "fluid": "engine_oil"} | more


REAR_BELOW = (oil("bell_top", "running"), oil("bell_bottom", "dripping"))


def test_oil_on_the_rear_of_the_head_and_the_bell_housing_comes_from_the_head_cover() -> None:
    # Common practice, no source: the shield at the rear of the head catches oil, which runs
    # down the back onto the gearbox; the rear shaft seal is blamed for it.
    wet = ranked(oil("head_rear", "running"), oil("rear_shield", "running"), *REAR_BELOW)
    assert chance(wet, "head_cover_gasket_rear") > chance(wet, "crank_seal_rear")


def test_with_the_rear_of_the_head_dry_the_order_turns_round() -> None:
    # Common practice, no source.
    dry = ranked(oil("head_rear", "dry"), oil("rear_shield", "dry"), oil("bell_bottom", "running"))
    assert chance(dry, "crank_seal_rear") > chance(dry, "head_cover_gasket_rear")


@pytest.mark.parametrize(
    "context",
    ["hard_and_rigid", "sealant_seen", "gasket_rolled", "fastener_loose", "fastener_missing"],
)
def test_what_is_wrong_with_a_joint_raises_it(context: str) -> None:
    # Common practice, no source: a gasket hard as plastic no longer seals; sealant on a
    # moulded gasket is a fault; a rolled gasket leaks at once.
    seal = "head_cover_gasket_left"
    wet = oil("head_intake", "film")
    without = ranked(wet)
    seen = ranked(wet, {"context": context, "seal_point": seal})
    assert chance(seen, seal) > 1.5 * chance(without, seal)


def test_the_mess_after_a_repair_says_nothing_until_washed_and_run() -> None:
    # Common practice, no source.
    seal = "sump_joint_front"
    renewed = {"context": "renewed", "seal_point": seal}
    mess = (
        oil("front_cover_upper", "dry"),
        oil("front_cover_lower", "running"),
        oil("sump_front", "running"),
        {"seal_point": "crank_seal_front", "state": "tight"},
    )
    unseen = chance(ranked(renewed), seal)
    unwashed = chance(ranked(renewed, *mess), seal)
    washed = chance(ranked(renewed, {"wash": "whole"}, {"run_minutes": 120}, *mess), seal)
    assert unwashed < 2 * unseen
    assert washed > 3 * unwashed
    assert washed > 4 * unseen


def test_a_dry_zone_says_more_after_a_long_run_than_after_a_short_one() -> None:
    # Common practice, no source: nothing shows yet after five minutes.
    seal = "head_cover_gasket_rear"
    wash = {"wash": "whole"}
    dry = oil("head_rear", "dry")
    before = chance(ranked(wash), seal)
    short = chance(ranked(wash, {"run_minutes": 3}, dry), seal)
    long = chance(ranked(wash, {"run_minutes": 600}, dry), seal)
    assert long < short < before
    assert before - short < 0.5 * (before - long)


def test_several_joints_leak_at_once_on_an_aged_engine() -> None:
    # Common practice, no source: one joint found leaking makes the others more suspect.
    seen = {"seal_point": "vacuum_pump_o_ring", "state": "dripping"}
    assert chance(ranked(seen), "filter_housing_gasket") > chance(ranked(), "filter_housing_gasket")


def test_blocked_ventilation_raises_the_joints_of_its_case_only() -> None:
    # Common practice, no source.
    blocked = ranked({"context": "ventilation_blocked", "fluid": "engine_oil"})
    clear = ranked({"context": "ventilation_clear", "fluid": "engine_oil"})
    assert chance(blocked, "sump_joint_left") > 1.5 * chance(clear, "sump_joint_left")
    coolant = "coolant_hose_top_end"
    assert chance(blocked, coolant) == pytest.approx(chance(clear, coolant), rel=1e-9)


def test_not_looked_at_is_not_dry() -> None:
    # Common practice, no source.
    seen = (oil("bell_top", "running"),)
    unlooked = ranked(*seen, oil("head_rear", "not_looked"))
    plain, dry = ranked(*seen), ranked(*seen, oil("head_rear", "dry"))
    seal = "head_cover_gasket_rear"
    assert chance(unlooked, seal) == chance(plain, seal)
    assert chance(dry, seal) < chance(plain, seal)


def test_a_point_seen_tight_from_close_by_falls_and_one_seen_dripping_leads() -> None:
    # Common practice, no source.
    wet = (oil("sump_bottom", "dripping"),)
    tight = ranked(*wet, {"seal_point": "drain_plug", "state": "tight"})
    drips = ranked(*wet, {"seal_point": "drain_plug", "state": "dripping"})
    assert chance(tight, "drain_plug") < 0.5 * chance(ranked(*wet), "drain_plug")
    assert drips.rows[0].seal_point == "drain_plug"


def test_coolant_that_falls_while_oil_rises_points_to_the_heat_exchanger_core() -> None:
    # Common practice, no source.
    rising = ranked(
        {"sign": "level_falls", "value": "yes", "fluid": "coolant"},
        {"sign": "level_rises", "value": "yes", "fluid": "engine_oil"},
        {"sign": "fluid_emulsified", "value": "yes", "fluid": "engine_oil"},
    )
    inner = [s.id for s in MACHINE.seal_points if s.leaks_into is not None]
    assert rising.rows[0].seal_point in inner


def test_a_leak_seen_only_at_rest_points_to_a_head_of_fluid_not_to_pressure() -> None:
    # Common practice, no source.
    drives = {s.id: s.drive.value for s in MACHINE.seal_points if s.fluid == "engine_oil"}
    signs = {"leaks_at_rest": "yes", "leaks_at_speed": "no", "leaks_hot_idle": "no"}
    asked = ranked(*({"sign": k, "value": v, "fluid": "engine_oil"} for k, v in signs.items()))
    oil_rows = [r.seal_point for r in asked.rows if r.seal_point in drives]
    assert drives[oil_rows[0]] == "static_head"
