"""A renewed joint leaks by the faults of the renewal, and work may move the joints beside it.

The sizes are judgement (priors/refit.yaml); the arithmetic is checked by hand or by enumeration.
"""

from __future__ import annotations

from itertools import combinations, product
from typing import Any

import numpy as np
import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.tree import compile_network
from leakdx.machine.model import (
    Cause,
    CauseKind,
    Drive,
    Fluid,
    FluidKind,
    Machine,
    SealKind,
    SealPoint,
)
from leakdx.network.build import build_network
from leakdx.network.causes import FEELS_PRESSURE, TIRED, SealParents, seal_table, strained_name
from leakdx.network.odds import base_odds, class_shares, odds_of
from leakdx.network.refit import (
    BELONGS,
    FAULT_OF_CAUSE,
    FINDS,
    UNMOVED,
    Check,
    Fault,
    Nearness,
    disturbed_by,
    fault_chance,
    following,
    leaks_again,
    neighbours,
    refit_odds,
    shaken,
)
from leakdx.network.setting import Setting, cause_name, seal_name
from leakdx.network.tables import Network
from leakdx.priors.drawing import ManyPriors
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, machine

PRIORS = shipped_priors()
OIL = Fluid(id="oil", kind=FluidKind.ENGINE_OIL)
CHECKS = [set(some) for n in range(4) for some in combinations(Check, n)]
# Walls, cores and holes are not joints that are put together.
JOINTS = [k for k in SealKind if k not in UNMOVED]


def joint(name: str = "cover", **more: Any) -> SealPoint:
    parts = {"id": name, "kind": "flat_gasket", "zones": ("top",), "fluid": "oil"}
    return SealPoint.model_validate(parts | more)


def listing(*seals: SealPoint, **more: Any) -> Machine:
    return machine(box(), fluids=(OIL,), seal_points=seals, **more)


# Faults and checks.


def test_a_gasket_fitted_blind_by_hand() -> None:
    # Chances multiplied out by hand from the prior file.
    fault = {k: PRIORS[f"refit.fault.{k}"] for k in ("rolled_blind", "unclean", "wrong_sealant")}
    fastener, damaged = PRIORS["refit.fault.fastener"], PRIORS["refit.fault.damaged"]
    blind, seen = PRIORS["refit.blind"], PRIORS["refit.found.mirror.rolled"]
    found = PRIORS["refit.found.mirror.wrong_sealant"]
    gasket = joint(kind="moulded_gasket", tight_access=True)
    rest = (1 - blind * fault["unclean"]) * (1 - blind * fastener) * (1 - blind * damaged)
    without = rest * (1 - fault["rolled_blind"]) * (1 - blind * fault["wrong_sealant"])
    assert leaks_again(gasket, (), PRIORS) == pytest.approx(1 - without)
    looked = rest * (1 - fault["rolled_blind"] * (1 - seen))
    looked *= 1 - blind * fault["wrong_sealant"] * (1 - found)
    assert leaks_again(gasket, {Check.MIRROR}, PRIORS) == pytest.approx(1 - looked)


@pytest.mark.parametrize("kind", JOINTS)
def test_a_renewed_joint_leaks_about_as_often_as_before(kind: SealKind) -> None:
    # Judgement: 0.8 of the odds of its kind, within a factor of three either way.
    odds = odds_of(leaks_again(joint(kind=kind), (), PRIORS))
    usual = 0.8 * odds_of(PRIORS[f"base_rates.{kind.value}"])
    if kind is SealKind.HOSE_CRIMP:
        # Nothing of it is put together but the far end, which is a joint of its own.
        assert odds < usual
    else:
        assert usual / 3 < odds < 3 * usual


@pytest.mark.parametrize("kind", JOINTS)
def test_refitting_blind_makes_it_two_or_three_times_that(kind: SealKind) -> None:
    open_, blind = (
        odds_of(leaks_again(joint(kind=kind, tight_access=t), (), PRIORS)) for t in (False, True)
    )
    assert 1.8 * open_ < blind < 3.5 * open_


@pytest.mark.parametrize(("kind", "tight"), list(product(SealKind, (False, True))))
def test_more_checks_never_leave_more(kind: SealKind, tight: bool) -> None:
    seal = joint(kind=kind, tight_access=tight)
    left = {frozenset(c): leaks_again(seal, c, PRIORS) for c in CHECKS}
    for some, more in product(CHECKS, CHECKS):
        if some < more:
            here = any(kind in BELONGS[f] for c in more - some for f in FINDS[c])
            less = left[frozenset(more)] < left[frozenset(some)]
            assert less == here
    assert all(0 < chance < 0.2 for chance in left.values())


@pytest.mark.parametrize("check", Check)
def test_a_check_says_nothing_of_faults_it_cannot_find(check: Check) -> None:
    # A mirror does not see a fastener that is missing its torque; a wrench does not see faces.
    numbers = {f"refit.found.{check}.{f}": np.array([0.0]) for f in FINDS[check]}
    blind_check = ManyPriors(PRIORS.numbers, numbers)
    for kind in SealKind:
        seal = joint(kind=kind)
        assert leaks_again(seal, {check}, blind_check) == pytest.approx(
            leaks_again(seal, (), PRIORS)
        )


def test_age_and_heat_are_those_of_the_old_part() -> None:
    new, old = joint(), joint(service={"age_years": 25}, temperature_C=130, material="nitrile")
    assert base_odds(old, OIL, PRIORS) > 2 * base_odds(new, OIL, PRIORS)
    assert refit_odds(old, OIL, (), PRIORS) == refit_odds(new, OIL, (), PRIORS)


def test_what_presses_on_it_counts_as_before() -> None:
    odds = {d: refit_odds(joint(drive=d), OIL, (), PRIORS) for d in Drive}
    for one, other in combinations(Drive, 2):
        known = PRIORS[f"modifiers.drive.{one}"] / PRIORS[f"modifiers.drive.{other}"]
        assert odds[one] / odds[other] == pytest.approx(known)


def test_every_fault_is_found_or_belongs_to_some_kind() -> None:
    assert BELONGS.keys() == set(Fault)
    assert FINDS.keys() == set(Check)
    for fault in Fault:
        for kind in SealKind:
            chance = fault_chance(fault, joint(kind=kind), PRIORS)
            assert (chance > 0) == (kind in BELONGS[fault])


# A listed cause that is such a fault.


@pytest.mark.parametrize(("kind", "fault"), list(FAULT_OF_CAUSE.items()))
def test_a_check_lowers_a_listed_cause_of_the_same_kind(kind: CauseKind, fault: Fault) -> None:
    seal = joint(kind="moulded_gasket", tight_access=True)
    made = listing(seal, causes=(Cause(id="it", kind=kind, raises=("cover",)),))
    (check,) = (c for c in Check if fault in FINDS[c])
    names = frozenset({TIRED, cause_name("it")})

    def odds(*checks: Check) -> float:
        checked = {"cover": frozenset(checks)} if checks else {}
        of, table = seal_table(seal, OIL, 1.0, SealParents(made, names, checked=checked), PRIORS)
        assert of == (TIRED, cause_name("it"))
        return float((1 - table[0, 0, 1]) / table[0, 0, 1] * table[0, 0, 0] / (1 - table[0, 0, 0]))

    raises = PRIORS[f"causes.raises.{kind if kind != 'wrong_sealant' else 'listed'}"]
    assert odds() == pytest.approx(raises)
    left = 1 - PRIORS[f"refit.found.{check}.{fault}"]
    assert odds(check) == pytest.approx(1 + (raises - 1) * left)
    for other in set(Check) - {check}:
        assert odds(other) == pytest.approx(raises)


# What still acts on a new part.


def test_a_new_part_has_not_aged_with_the_machine() -> None:
    ageing = Cause(id="old", kind=CauseKind.HARDENED_SEALS, raises=("cover",))
    worn = Cause(id="shaft", kind=CauseKind.SHAFT_WORN, raises=("cover",))
    made = listing(joint(), causes=(ageing, worn))
    strained = strained_name("oil")
    known = frozenset({TIRED, strained, cause_name("old"), cause_name("shaft")})
    parents = SealParents(made, known, fresh=frozenset({"cover"}))
    assert parents.of(joint()) == (strained, cause_name("shaft"))
    assert parents.before().of(joint()) == (
        TIRED,
        strained,
        cause_name("old"),
        cause_name("shaft"),
    )
    assert SealParents(made, known).of(joint()) == parents.before().of(joint())


# Neighbours.

ROW = (
    joint("cover_left", part_of="cover", position_mm=(0, 0, 0), access=("lid",)),
    joint("cover_right", part_of="cover", position_mm=(900, 0, 0), access=("lid",)),
    joint("hose", kind="hose_end", position_mm=(50, 0, 0)),
    joint("union", kind="pipe_union", position_mm=(79, 0, 0)),
    joint("far_union", kind="pipe_union", position_mm=(0, 81, 0)),
    joint("plug", kind="threaded_plug", position_mm=(500, 0, 0), access=("shield", "lid")),
    joint("sump", position_mm=(500, 0, 0), access=("lid", "shield")),
    joint("wall", kind="casting_porosity", position_mm=(10, 0, 0), access=("lid",)),
    joint("nowhere", kind="sender"),
)


def test_who_is_a_neighbour() -> None:
    made = listing(*ROW)
    found = sorted(neighbours(made, ROW[0], 80.0))
    assert [(seal, near.value) for _, seal, near in found] == [
        ("cover_right", "same_gasket"),
        ("hose", "near"),
        ("union", "near"),
        ("plug", "laid_bare"),
    ]


def test_several_works_nearby_add_up() -> None:
    one = {n: disturbed_by((n,), PRIORS) for n in Nearness}
    assert one == {n: pytest.approx(PRIORS[f"refit.disturbs.{n}"]) for n in Nearness}
    both = disturbed_by((Nearness.NEAR, Nearness.LAID_BARE), PRIORS)
    assert both == pytest.approx(1 - (1 - one[Nearness.NEAR]) * (1 - one[Nearness.LAID_BARE]))
    assert disturbed_by((), PRIORS) == 0


def test_what_is_shaken_leaks_more_and_what_leaked_leaks_as_it_did() -> None:
    before = np.array([0.9, 0.05, 0.03, 0.02])
    after = shaken(before, 0.1, PRIORS)
    assert after[0] == pytest.approx(0.81)
    assert after[1:] - before[1:] == pytest.approx(0.09 * class_shares(PRIORS))
    assert after.sum() == pytest.approx(1)


def test_what_follows_keeps_its_class_or_is_new() -> None:
    new = np.array([0.9, 0.05, 0.03, 0.02])
    table = following(new, 0.25)
    assert table[:, 0] == pytest.approx(new)
    for k in (1, 2, 3):
        assert table[:, k] == pytest.approx(0.75 * new + 0.25 * np.eye(4)[k])


# In the network.


def network_of(setting: Setting) -> Network:
    return build_network(setting, PRIORS).network


def leak_chances(network: Network, given: dict[str, str], seal: str) -> list[float]:
    beliefs = compile_network(network).update(hard(network, given))
    return [float(p) for p in beliefs[seal]]


def test_a_disturbed_joint_leaks_if_it_did_and_else_by_that_chance() -> None:
    setting = Setting(
        listing(ROW[0]),
        odds={"cover_left": (1.0, 0.0)},
        lasting=frozenset({("cover_left", 1)}),
        disturbed={("cover_left", 1): 0.02},
    )
    network = network_of(setting)
    (table,) = (t for t in network.tables if t.child == seal_name("cover_left", 1))
    # Nothing acts on it but what it was.
    assert table.parents == (seal_name("cover_left"),)
    for k, state in enumerate(("seeping", "drops", "dripping"), start=1):
        now = leak_chances(network, {seal_name("cover_left"): state}, seal_name("cover_left", 1))
        assert now == pytest.approx(np.eye(4)[k].tolist(), abs=1e-12)
    now = leak_chances(network, {seal_name("cover_left"): "tight"}, seal_name("cover_left", 1))
    assert now == pytest.approx([0.98, *(0.02 * class_shares(PRIORS))])


def test_disturbed_in_its_first_life_it_is_as_if_it_had_a_second() -> None:
    # Told apart or folded into one: the same chances now.
    apart = Setting(
        listing(ROW[0]),
        odds={"cover_left": (1.0, 0.0)},
        lasting=frozenset({("cover_left", 1)}),
        disturbed={("cover_left", 1): 0.3},
    )
    folded = Setting(listing(ROW[0]), disturbed={("cover_left", 0): 0.3})
    now = [
        leak_chances(network_of(s), {}, seal_name("cover_left", n))
        for s, n in ((apart, 1), (folded, 0))
    ]
    assert now[0] == pytest.approx(now[1], abs=1e-12)


def test_causes_act_on_the_part_put_back_and_so_does_its_old_leak() -> None:
    strong = Cause(id="shaft", kind=CauseKind.SHAFT_WORN, raises=("cover_left",))
    setting = Setting(
        listing(ROW[0], causes=(strong,)),
        odds={"cover_left": (1.0, 0.5)},
        stays={("cover_left", 1): 0.4},
    )
    network = network_of(setting)
    latest = seal_name("cover_left", 1)
    sound = {
        v.name: "no"
        for v in network.variables
        if v.states == ("no", "yes") and not v.name.startswith("sign")
    }

    def leaks(was: str, worn: str) -> float:
        given = sound | {seal_name("cover_left"): was, cause_name("shaft"): worn}
        return 1 - leak_chances(network, given, latest)[0]

    for worn in ("no", "yes"):
        fresh = leaks("tight", worn)
        assert leaks("drops", worn) == pytest.approx(0.4 + 0.6 * fresh)
    assert leaks("tight", "yes") > 3 * leaks("tight", "no")


def test_numbers_of_many_draws_give_the_table_of_each() -> None:
    keys = [k for k in PRIORS.numbers if k.startswith(("refit.", "leak_rates.", "modifiers."))]
    random = np.random.default_rng(5)
    drawn = {k: PRIORS[k] * random.uniform(0.7, 1.2, 3) for k in keys}
    seal = joint(kind="moulded_gasket", tight_access=True, drive=Drive.PRESSURE_FED)
    assert Drive.PRESSURE_FED not in FEELS_PRESSURE

    def tables(values: dict[str, Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
        priors = ManyPriors(PRIORS.numbers, values)
        odds = refit_odds(seal, OIL, {Check.MIRROR}, priors)
        odds = odds / base_odds(seal, OIL, priors)
        parents = SealParents(listing(seal), frozenset({TIRED}))
        # As it is where all numbers have their axis of draws.
        raised = {k: np.full(3, PRIORS[k]) for k in ("causes.raises.tired", "causes.raises.sound")}
        _, table = seal_table(
            seal, OIL, odds, parents, ManyPriors(PRIORS.numbers, {**raised, **values})
        )
        near = disturbed_by((Nearness.NEAR,), priors)
        return following(shaken(table, near, priors), priors["refit.stays"])

    together = tables(drawn)
    for k in range(3):
        alone = tables({key: np.full(3, v[k]) for key, v in drawn.items()})
        assert together[..., k] == pytest.approx(alone[..., 0], rel=1e-12)
