"""What renewing costs: minutes and parts worked out by hand, and how they are told."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from leakdx.advice.costs import labour_of, money, whole_gaskets
from leakdx.advice.renewal import Labour, best_renewal
from leakdx.case.model import Job
from leakdx.kit.read import load_machine, load_shipped
from leakdx.machine.model import Machine, SealKind
from leakdx.priors.model import Fixed, Priors, Quantity
from leakdx.priors.read import shipped_priors

# Open the gate (1 minute), then take off the guard (10 minutes): the cover gasket lies behind.
STAND = load_machine(Path(__file__).parent.parent / "data" / "pump_stand.yaml")
NOTHING = frozenset[str]()
PRICES = {"currency": "EUR", "labour_per_hour": 60, "comeback": 300}


def job(costs: Mapping[str, Any] | None = None) -> Job:
    data = {
        "format": "leakdx-job/1",
        "id": "any",
        "machine": {"id": "pump_stand", "version": "1.2"},
        "costs": costs,
    }
    return Job.model_validate(data)


def priors(**numbers: float) -> Priors:
    """Round numbers, so that sums can be worked out by hand; others in their place by kind."""
    made = {"costs.refit_share": 0.5, "costs.comeback_minutes": 200.0}
    for kind in SealKind:
        made[f"costs.renew_minutes.{kind}"] = 20.0
        made[f"costs.part_minutes.{kind}"] = 6.0
    made |= {f"costs.{key.replace('__', '.')}": value for key, value in numbers.items()}
    fixed = Fixed(family="fixed")
    return Priors(
        {
            key: Quantity(value=value, distribution=fixed, unit="minutes", source="made up")
            for key, value in made.items()
        }
    )


# Minutes of labour.


def test_without_prices_all_is_in_usual_minutes() -> None:
    own = priors(renew_minutes__flat_gasket=30, part_minutes__shaft_lip_seal=15)
    labour = labour_of(STAND, NOTHING, job(), own)
    # By hand: 30 + 6, 20 + 15, 20 + 6.
    assert labour.renew == {"cover_gasket": 36, "shaft_seal": 35, "water_union": 26}
    # By hand: off and half as long again to refit.
    assert labour.steps == {"open_gate": 1.5, "take_off_guard": 15}
    assert labour.needs == {
        "cover_gasket": {"open_gate", "take_off_guard"},
        "shaft_seal": NOTHING,
        "water_union": NOTHING,
    }
    assert labour.comeback == 200
    # By hand: 1.5 + 15 for gate and guard, 36 for the gasket, 35 for the seal.
    assert labour.of(["cover_gasket", "shaft_seal"]) == 87.5


def test_prices_of_the_job_become_minutes() -> None:
    costs = PRICES | {"labour_per_hour": 90, "part": 12, "parts": {"shaft_seal": 45}}
    labour = labour_of(STAND, NOTHING, job(costs), priors())
    # By hand: 90 an hour is 1.50 a minute; 12 is 8 minutes, 45 is 30, 300 is 200.
    assert labour.renew == pytest.approx({"cover_gasket": 28, "shaft_seal": 50, "water_union": 28})
    assert labour.comeback == pytest.approx(200)
    dearer = labour_of(STAND, NOTHING, job(costs | {"comeback": 600}), priors())
    assert dearer.comeback == pytest.approx(400)
    assert dearer.steps == labour.steps


def test_a_part_without_a_price_costs_what_is_usual() -> None:
    labour = labour_of(STAND, NOTHING, job(PRICES | {"parts": {"shaft_seal": 0}}), priors())
    # A part that costs nothing is a price too.
    assert labour.renew == {"cover_gasket": 26, "shaft_seal": 20, "water_union": 26}


def test_what_is_off_already_is_no_cost_of_renewing() -> None:
    gate = labour_of(STAND, frozenset({"open_gate"}), job(), priors())
    assert gate.needs["cover_gasket"] == {"take_off_guard"}
    # The gate has to be shut again in any case: half a minute, and in no choice.
    assert gate.steps == {"open_gate": 0.5, "take_off_guard": 15}
    assert gate.of(["cover_gasket"]) == 26 + 15
    both = labour_of(STAND, frozenset({"open_gate", "take_off_guard"}), job(), priors())
    assert both.of(["cover_gasket"]) == 26


def test_all_that_comes_off_before_is_needed() -> None:
    machine = load_shipped("forestry_carrier_five")
    labour = labour_of(machine, frozenset({"remove_belt"}), job(), shipped_priors())
    steps = {step.id: step for step in machine.access_steps}
    for needs in labour.needs.values():
        behind = {before for name in needs for before in steps[name].after}
        assert behind - {"remove_belt"} <= needs
        assert "remove_belt" not in needs
    assert any("remove_crank_pulley" in needs for needs in labour.needs.values())


@pytest.mark.parametrize("kind", SealKind)
def test_every_kind_can_be_renewed_at_a_cost(kind: SealKind) -> None:
    seal = STAND.seal_points[0].model_copy(update={"kind": kind})
    machine = STAND.model_copy(update={"seal_points": (seal,)})
    (minutes,) = labour_of(machine, NOTHING, job(), shipped_priors()).renew.values()
    assert 5 <= minutes <= 480


def test_quick_work_costs_less_than_slow() -> None:
    # Common practice, no source: a plug or a ring is quick, a head gasket is not.
    numbers = shipped_priors()
    renew = numbers.group("costs.renew_minutes")
    assert renew["threaded_plug"] < renew["shaft_lip_seal"] < renew["head_gasket"]
    part = numbers.group("costs.part_minutes")
    assert part["crush_washer"] < part["shaft_lip_seal"] < part["heat_exchanger_core"]


# Gaskets of several stretches.


def stretched(*part_of: str | None) -> Machine:
    """Seal points s0, s1, ... behind the guard, each a stretch of that gasket."""
    first = STAND.seal_points[0]
    seals = [
        first.model_copy(update={"id": f"s{i}", "part_of": name}) for i, name in enumerate(part_of)
    ]
    return STAND.model_copy(update={"seal_points": tuple(seals)})


def test_a_gasket_of_several_stretches_is_paid_for_once() -> None:
    machine = stretched("cover", "cover", None, "cover")
    labour = whole_gaskets(machine, labour_of(machine, NOTHING, job(), priors()))
    # By hand: gate and guard 16.5, then 26 for the cover gasket however much of it, 26 for s2.
    assert labour.of(["s0"]) == labour.of(["s0", "s1", "s3"]) == 42.5
    assert labour.of(["s0", "s2"]) == 68.5
    assert labour.comeback == 200
    # Two gaskets are two.
    machine = stretched("cover", "foot")
    labour = whole_gaskets(machine, labour_of(machine, NOTHING, job(), priors()))
    assert labour.of(["s0", "s1"]) == 68.5


@pytest.mark.parametrize("renew", [{"s0": 10, "s1": 70}, {"s0": 70, "s1": 10}])
def test_the_dearest_stretch_is_the_price_of_the_gasket(renew: dict[str, float]) -> None:
    machine = stretched("cover", "cover")
    labour = Labour(renew, {}, {"s0": NOTHING, "s1": NOTHING}, 1)
    for stretch in ("s0", "s1"):
        assert whole_gaskets(machine, labour).of([stretch]) == 70


def test_a_price_of_one_stretch_is_that_of_the_gasket() -> None:
    machine = stretched("cover", "cover", "foot", None)
    labour = labour_of(machine, NOTHING, job(PRICES | {"part": 1, "parts": {"s1": 80}}), priors())
    assert labour.renew == {"s0": 100, "s1": 100, "s2": 21, "s3": 21}


def test_stretches_that_may_leak_are_renewed_with_the_gasket() -> None:
    machine = stretched("cover", "cover", None)
    separate = labour_of(machine, NOTHING, job(), priors(comeback_minutes=150))
    leaks = {"s0": 0.6, "s1": 0.1, "s2": 0.01}
    # By hand: left, s1 costs 0.1 x (150 + 42.5), less than the 26 minutes of renewing it too.
    assert best_renewal(separate, leaks).seals == ("s0",)
    assert best_renewal(whole_gaskets(machine, separate), leaks).seals == ("s0", "s1")


# For people.


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (0, "0 min"),
        (0.3, "under 1 min"),
        (0.9, "under 1 min"),
        (1, "1 min"),
        (9.4, "9 min"),
        (59.4, "59 min"),
        (59.5, "1 h"),
        (60, "1 h"),
        (61, "1 h"),
        (104, "1 h 45 min"),
        (597, "9 h 55 min"),
        (598, "10 h"),
        (620, "10 h"),
        (1000, "17 h"),
        (6000, "100 h"),
    ],
)
def test_minutes_in_words(minutes: float, said: str) -> None:
    assert money(minutes, job()) == said


@pytest.mark.parametrize(
    ("minutes", "per_hour", "said"),
    [
        (105, 68, "1 h 45 min, about 120 EUR"),  # 119.00
        (60, 1234, "1 h, about 1200 EUR"),
        (60, 87.4, "1 h, about 87 EUR"),
        (60, 99.6, "1 h, about 100 EUR"),
        (1, 210, "1 min, about 3.5 EUR"),
        (1, 21, "1 min, about 0.35 EUR"),
        (60, 1234567, "1 h, about 1200000 EUR"),
        (0, 68, "0 min"),
    ],
)
def test_money_in_words(minutes: float, per_hour: float, said: str) -> None:
    assert money(minutes, job(PRICES | {"labour_per_hour": per_hour})) == said


def test_the_currency_is_shown_as_the_job_writes_it() -> None:
    assert money(60, job(PRICES | {"currency": " kr "})) == "1 h, about 60 kr"


@pytest.mark.parametrize("minutes", [-1, -0.1, float("nan"), float("inf")])
def test_no_time_is_less_than_nothing_or_endless(minutes: float) -> None:
    with pytest.raises(ValueError, match="at least 0 minutes"):
        money(minutes, job())
