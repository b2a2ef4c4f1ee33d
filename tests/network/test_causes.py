"""Shared causes raise what they act on and leave the rest alone.

That a blocked breather pushes oil out of a case, and that seals age together, is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

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
from leakdx.network.causes import (
    AGEING,
    FEELS_PRESSURE,
    OWN_RAISE,
    PRESSURE,
    REFIT,
    TIRED,
    VENTED,
    SealParents,
    cause_tables,
    causes_of,
    raised_by,
    seal_table,
    strained_name,
)
from leakdx.network.odds import base_odds
from leakdx.network.setting import LEAK_STATES, cause_name, seal_name
from leakdx.network.tables import Array, Network, Table, Variable
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, machine

TOLERANCE = 1e-12
PRIORS = shipped_priors()
FLUIDS = (
    Fluid(id="oil", kind=FluidKind.ENGINE_OIL),
    Fluid(id="axle_oil", kind=FluidKind.GEAR_OIL),
    Fluid(id="coolant", kind=FluidKind.COOLANT),
)


def joint(name: str, fluid: str, drive: Drive = Drive.SPLASH) -> SealPoint:
    return SealPoint.model_validate(
        {"id": name, "kind": "flat_gasket", "zones": ("top",), "fluid": fluid, "drive": drive}
    )


SEALS = (
    joint("cover", "oil"),
    joint("sump", "oil", Drive.STATIC_HEAD),
    joint("gallery_plug", "oil", Drive.PRESSURE_FED),
    joint("axle_cover", "axle_oil"),
    joint("hose", "coolant"),
)
NAMES = {s.id for s in SEALS}


def with_causes(*causes: Cause) -> Machine:
    return machine(box(), fluids=FLUIDS, seal_points=SEALS, causes=causes)


def network_of(made: Machine) -> Network:
    """Causes and seals only."""
    pieces: list[tuple[Variable, Table]] = list(cause_tables(made, PRIORS))
    parents = SealParents(made, frozenset(v.name for v, _ in pieces))
    fluids = {f.id: f for f in made.fluids}
    for seal in made.seal_points:
        of, values = seal_table(seal, fluids[seal.fluid], 1.0, parents, PRIORS)
        name = seal_name(seal.id)
        pieces.append((Variable(name, LEAK_STATES), Table(name, of, values)))
    return Network(tuple(v for v, _ in pieces), tuple(t for _, t in pieces))


def leaks(made: Machine, given: Mapping[str, str]) -> dict[str, float]:
    """Chance that each seal point leaks, given the states of some variables."""
    network = network_of(made)
    beliefs = compile_network(network).update(hard(network, given))
    return {s.id: 1 - float(beliefs[seal_name(s.id)][0]) for s in made.seal_points}


def raised(made: Machine, variable: str) -> set[str]:
    """Seal points that leak more often where a variable says yes; no other may change."""
    no, yes = (leaks(made, {variable: state}) for state in ("no", "yes"))
    for seal in no:
        assert yes[seal] > no[seal] - TOLERANCE
    return {seal for seal in no if yes[seal] > no[seal] + TOLERANCE}


def test_vented_cases_have_the_usual_causes_and_others_none() -> None:
    found = {(c.kind, c.fluid) for c in causes_of(with_causes())}
    assert found == {(k, f.id) for f in FLUIDS for k in VENTED.get(f.kind, ())}
    assert {f for _, f in found} == {"oil", "axle_oil"}
    assert (CauseKind.WORN_RINGS, "axle_oil") not in found


@pytest.mark.parametrize("fluid", ["oil", None])
def test_a_listed_cause_takes_the_place_of_the_usual_one(fluid: str | None) -> None:
    listed = Cause(id="breather_stuck", kind=CauseKind.VENTILATION_BLOCKED, fluid=fluid)
    of_oil = [
        c
        for c in causes_of(with_causes(listed))
        if c.kind is CauseKind.VENTILATION_BLOCKED and c.fluid in ("oil", None)
    ]
    assert of_oil == [listed]


def test_all_causes_and_seals_make_a_network_with_sound_tables() -> None:
    every = tuple(
        Cause(id=f"cause_{kind.value}", kind=kind, fluid="oil", raises=("cover",))
        for kind in CauseKind
    )
    for made in (with_causes(), with_causes(*every)):
        # A network refuses columns that do not sum to one, and cycles.
        network = network_of(made)
        assert {seal_name(s) for s in NAMES} <= set(network.names)
        assert {cause_name(c.id) for c in causes_of(made)} <= set(network.names)


@pytest.mark.parametrize("kind", sorted(PRESSURE))
def test_pressure_in_a_case_raises_its_own_seals_that_feel_it(kind: CauseKind) -> None:
    name = cause_name(f"{kind.value}_oil")
    assert raised(with_causes(), name) == {"cover", "sump"}


def test_pressure_in_the_axle_leaves_the_engine_alone() -> None:
    name = cause_name("ventilation_blocked_axle_oil")
    assert raised(with_causes(), name) == {"axle_cover"}


@pytest.mark.parametrize("drive", sorted(Drive))
def test_only_some_drives_feel_the_pressure_of_the_case(drive: Drive) -> None:
    made = machine(box(), fluids=FLUIDS, seal_points=(joint("cover", "oil", drive),))
    expected = {"cover"} if drive in FEELS_PRESSURE else set()
    assert raised(made, cause_name("ventilation_blocked_oil")) == expected


def test_a_tired_machine_leaks_more_everywhere() -> None:
    assert raised(with_causes(), TIRED) == NAMES


@pytest.mark.parametrize("kind", sorted(AGEING))
def test_what_ages_seals_makes_a_machine_tired(kind: CauseKind) -> None:
    made = with_causes(Cause(id="aged", kind=kind))
    assert raised(made, cause_name("aged")) == NAMES


@pytest.mark.parametrize("kind", sorted({*CauseKind} - {*PRESSURE, *AGEING}))
def test_another_cause_raises_what_it_lists_and_nothing_else(kind: CauseKind) -> None:
    made = with_causes(Cause(id="it", kind=kind, fluid="oil", raises=("sump", "gallery_plug")))
    assert raised(made, cause_name("it")) == {"sump", "gallery_plug"}


@pytest.mark.parametrize("kind", sorted({*PRESSURE, *AGEING}))
def test_a_cause_of_pressure_or_ageing_with_a_list_keeps_to_it(kind: CauseKind) -> None:
    made = with_causes(Cause(id="it", kind=kind, fluid="oil", raises=("cover",)))
    assert raised(made, cause_name("it")) <= {"cover", "axle_cover", "hose"}
    assert raised(made, cause_name("it")) & {"cover", "sump", "gallery_plug"} == {"cover"}


def test_a_list_holds_whatever_other_causes_there_are() -> None:
    made = with_causes(
        Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",)),
        Cause(id="overfull", kind=CauseKind.OVERFILLED, fluid="oil"),
    )
    assert raised(made, cause_name("breather")) == {"cover"}
    assert raised(made, cause_name("overfull")) == {"cover", "sump"}


def test_a_list_of_one_cause_does_not_silence_the_others() -> None:
    made = with_causes(
        Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",))
    )
    assert raised(made, cause_name("overfilled_oil")) == {"cover", "sump"}


def test_a_cause_of_one_fluid_with_a_list_leaves_other_fluids_as_they_were() -> None:
    plain = leaks(with_causes(), {})
    listed = leaks(
        with_causes(
            Cause(id="breather", kind=CauseKind.VENTILATION_BLOCKED, fluid="oil", raises=("cover",))
        ),
        {},
    )
    for seal in ("axle_cover", "hose"):
        assert listed[seal] == pytest.approx(plain[seal], abs=TOLERANCE)


def test_two_causes_strain_a_case_more_surely_than_one() -> None:
    made = with_causes()
    network = network_of(made)
    tree = compile_network(network)
    chances = []
    for given in (
        {},
        {"ventilation_blocked_oil": "yes"},
        {"ventilation_blocked_oil": "yes", "overfilled_oil": "yes"},
    ):
        told = hard(network, {cause_name(c): s for c, s in given.items()})
        chances.append(float(tree.update(told)[strained_name("oil")][1]))
    assert chances[0] < chances[1] < chances[2] <= 1


def test_without_any_cause_a_case_is_not_strained() -> None:
    network = network_of(with_causes())
    none = {cause_name(c.id): "no" for c in causes_of(with_causes())}
    beliefs = compile_network(network).update(hard(network, none))
    for fluid in ("oil", "axle_oil"):
        assert beliefs[strained_name(fluid)][1] == 0


def test_a_leak_in_a_vented_case_speaks_for_its_breather() -> None:
    network = network_of(with_causes())
    tree = compile_network(network)
    name = cause_name("ventilation_blocked_oil")
    before = tree.update(hard(network, {}))[name][1]
    leaking = {seal_name("cover"): "drops", seal_name("sump"): "drops"}
    assert tree.update(hard(network, leaking))[name][1] > before
    tight = {seal_name("cover"): "tight", seal_name("sump"): "tight"}
    assert tree.update(hard(network, tight))[name][1] < before


@pytest.mark.parametrize("seal", SEALS, ids=lambda s: s.id)
def test_odds_of_the_job_multiply_the_odds_of_the_seal(seal: SealPoint) -> None:
    made = with_causes()
    parents = SealParents(made, frozenset(v.name for v, _ in cause_tables(made, PRIORS)))
    fluid = next(f for f in FLUIDS if f.id == seal.fluid)
    (names, plain), (same, tenfold) = (
        seal_table(seal, fluid, odds, parents, PRIORS) for odds in (1.0, 10.0)
    )
    assert names == same
    assert plain.shape == (len(LEAK_STATES), *[2] * len(names))

    def odds(table: Array) -> Array:
        ratio: Array = (1 - table[0]) / table[0]
        return ratio

    np.testing.assert_allclose(odds(tenfold), 10 * odds(plain), rtol=1e-9)
    assert odds(plain).min() < base_odds(seal, fluid, PRIORS)
    assert odds(plain).max() > base_odds(seal, fluid, PRIORS)


@pytest.mark.parametrize(
    ("kind", "at_home"),
    [
        (CauseKind.SHAFT_WORN, SealKind.SHAFT_LIP_SEAL),
        (CauseKind.WRONG_SEALANT, SealKind.SEALANT_JOINT),
    ],
)
def test_a_cause_without_a_list_raises_the_kinds_it_belongs_to(
    kind: CauseKind, at_home: SealKind
) -> None:
    plain = joint("plain", "oil")
    own = joint("own", "oil").model_copy(update={"kind": at_home})
    far = joint("far", "axle_oil").model_copy(update={"kind": at_home})
    cause = Cause(id="it", kind=kind, fluid="oil")
    made = machine(box(), fluids=FLUIDS, seal_points=(plain, own, far), causes=(cause,))
    assert raised(made, cause_name("it")) == {"own"}


# Causes of one joint or a few.


def made_of(*seals: SealPoint, **more: object) -> Machine:
    return machine(box(), **({"fluids": FLUIDS, "seal_points": seals} | more))


def kinds_of(kind: SealKind, name: str, **more: object) -> SealPoint:
    return joint(name, "oil").model_copy(update={"kind": kind} | more)


@pytest.mark.parametrize(
    ("kind", "at_home"),
    [
        (CauseKind.OVERTIGHTENED, {"threaded_plug", "crush_washer", "bonded_washer"}),
        (CauseKind.CORRODED, {"corroded_wall", "core_plug"}),
        (CauseKind.FASTENERS_LOOSE, set()),
        (CauseKind.FASTENER_TOO_LONG, set()),
    ],
)
def test_a_local_cause_without_a_list_raises_the_kinds_it_belongs_to(
    kind: CauseKind, at_home: set[str]
) -> None:
    # A plug is crushed, a wall or a core plug rusts: common practice, no source.
    every = [kinds_of(k, k.value) for k in SealKind]
    far = joint("far", "axle_oil").model_copy(update={"kind": SealKind.CORE_PLUG})
    made = made_of(*every, far)
    assert set(raised_by(Cause(id="it", kind=kind, fluid="oil"), made)) == at_home


def test_a_gasket_is_rolled_where_refitting_is_blind() -> None:
    # Common practice, no source.
    blind = kinds_of(SealKind.MOULDED_GASKET, "blind", tight_access=True)
    open_one = kinds_of(SealKind.MOULDED_GASKET, "open_one")
    plug = kinds_of(SealKind.THREADED_PLUG, "plug", tight_access=True)
    made = made_of(
        blind, open_one, plug, causes=(Cause(id="it", kind=CauseKind.GASKET_ROLLED, fluid="oil"),)
    )
    assert raised(made, cause_name("it")) == {"blind"}


def test_oil_that_cannot_drain_back_stands_in_the_upper_half() -> None:
    # Common practice, no source.
    seals = [
        joint("cover", "oil").model_copy(update={"position_mm": (0, 0, 500)}),
        joint("middle", "oil").model_copy(update={"position_mm": (0, 0, 200)}),
        joint("sump", "oil").model_copy(update={"position_mm": (0, 0, 0)}),
        joint("plug", "oil", Drive.PRESSURE_FED).model_copy(update={"position_mm": (0, 0, 500)}),
        joint("axle_cover", "axle_oil").model_copy(update={"position_mm": (0, 0, -900)}),
    ]
    cause = Cause(id="it", kind=CauseKind.DRAIN_BACK_BLOCKED, fluid="oil")
    assert raised(made_of(*seals, causes=(cause,)), cause_name("it")) == {"cover"}
    # Of any fluid: each case has its own upper half.
    anywhere = cause.model_copy(update={"fluid": None})
    assert set(raised_by(anywhere, made_of(*seals))) == {"cover", "axle_cover"}


@pytest.mark.parametrize("kind", sorted({*OWN_RAISE, CauseKind.SHAFT_WORN}))
def test_a_cause_that_acts_on_nothing_is_not_there(kind: CauseKind) -> None:
    hose = joint("hose", "coolant", Drive.PRESSURE_FED)
    idle = Cause(id="it", kind=kind, fluid="coolant")
    made, plain = made_of(hose, causes=(idle,)), made_of(hose)
    assert idle not in causes_of(made)
    assert network_of(made).names == network_of(plain).names


@pytest.mark.parametrize("kind", sorted(OWN_RAISE))
def test_a_cause_multiplies_the_odds_by_its_own_number(kind: CauseKind) -> None:
    made = with_causes(Cause(id="it", kind=kind, raises=("hose",)))
    sound = {TIRED: "no"}
    no, yes = (leaks(made, sound | {cause_name("it"): s})["hose"] for s in ("no", "yes"))
    ratio = yes / (1 - yes) / (no / (1 - no))
    assert ratio == pytest.approx(PRIORS[f"causes.raises.{kind.value}"])


def test_how_a_joint_was_refitted_says_nothing_of_it_before() -> None:
    names = {kind: f"it_{kind.value}" for kind in CauseKind}
    made = with_causes(
        *(Cause(id=names[kind], kind=kind, fluid="oil", raises=("cover",)) for kind in CauseKind)
    )
    parents = SealParents(made, frozenset(v.name for v, _ in cause_tables(made, PRIORS)))
    gone = {*parents.of(SEALS[0])} - {*parents.before().of(SEALS[0])}
    assert gone == {cause_name(names[kind]) for kind in REFIT}


def test_what_was_seen_at_a_joint_is_in_its_odds_and_raises_the_others() -> None:
    made = with_causes(
        Cause(id="slack", kind=CauseKind.FASTENERS_LOOSE, raises=("cover", "sump")),
    )
    known = frozenset(v.name for v, _ in cause_tables(made, PRIORS))
    seen = SealParents(made, known, seen=frozenset({("slack", "cover")}))
    assert cause_name("slack") not in seen.of(SEALS[0])
    assert cause_name("slack") in seen.of(SEALS[1])
    assert cause_name("slack") in SealParents(made, known).of(SEALS[0])


def test_a_tank_with_a_breather_of_its_own_is_a_case_too() -> None:
    hydraulic = Fluid(id="hydraulic_oil", kind=FluidKind.HYDRAULIC_OIL)
    lid = joint("lid", "hydraulic_oil")
    plain = machine(box(), fluids=(hydraulic,), seal_points=(lid,))
    assert strained_name("hydraulic_oil") not in network_of(plain).names
    cause = Cause(id="stuck", kind=CauseKind.VENTILATION_BLOCKED, fluid="hydraulic_oil")
    made = plain.model_copy(update={"causes": (cause,)})
    assert raised(made, cause_name("stuck")) == {"lid"}
    # With a list it acts on that, and the tank as a whole stays out of it.
    told = plain.model_copy(update={"causes": (cause.model_copy(update={"raises": ("lid",)}),)})
    assert strained_name("hydraulic_oil") not in network_of(told).names


# Two cases that share a shaft.


def shared(*pairs: tuple[str, str]) -> Machine:
    """Oil cases, and seals between them: (leaks from, leaks into)."""
    between = [
        joint(f"shaft_{a}_{b}", a).model_copy(
            update={"kind": SealKind.SHAFT_LIP_SEAL, "leaks_into": b}
        )
        for a, b in pairs
    ]
    return machine(box(), fluids=FLUIDS, seal_points=(*SEALS, *between))


def strained(made: Machine, fluid: str, **states: str) -> float:
    network = network_of(made)
    given = {seal_name(s): state for s, state in states.items()}
    return float(compile_network(network).update(hard(network, given))[strained_name(fluid)][1])


def test_a_seal_that_leaks_into_another_case_fills_it() -> None:
    # Common practice, no source: one level falls, the other rises, and its seals weep.
    made = shared(("axle_oil", "oil"))
    into = [strained(made, "oil", shaft_axle_oil_oil=state) for state in LEAK_STATES]
    assert into == sorted(into)
    assert into[-1] > 2 * into[0]
    shaft = seal_name("shaft_axle_oil_oil")
    tight, filled = (leaks(made, {TIRED: "no", shaft: s}) for s in ("tight", "dripping"))
    assert {s for s in NAMES if filled[s] > tight[s] + 1e-3} == {"cover", "sump"} | (
        # A leak of the giving case speaks for its own pressure, too.
        {"axle_cover"}
    )


def test_what_leaks_into_water_strains_no_case() -> None:
    made = shared(("oil", "coolant"), ("coolant", "oil"))
    parents = next(t.parents for t in network_of(made).tables if t.child == strained_name("oil"))
    assert not [p for p in parents if p.startswith("seal__")]


def test_two_cases_that_fill_each_other_make_no_ring() -> None:
    # A network refuses rings; here and with a third case between.
    gear = Fluid(id="hub_oil", kind=FluidKind.GEAR_OIL)
    ring = shared(("oil", "axle_oil"), ("axle_oil", "oil"))
    assert strained_name("oil") in network_of(ring).names
    three = (("oil", "axle_oil"), ("axle_oil", "hub_oil"), ("hub_oil", "oil"))
    seals = tuple(joint(f"shaft_{a}", a).model_copy(update={"leaks_into": b}) for a, b in three)
    made = machine(box(), fluids=(*FLUIDS, gear), seal_points=seals)
    hung = [t.child for t in network_of(made).tables if any("seal__" in p for p in t.parents)]
    assert hung == [strained_name("axle_oil"), strained_name("hub_oil")]


def test_it_is_the_renewed_seal_that_fills_the_other_case_now() -> None:
    made = shared(("axle_oil", "oil"))
    tables = cause_tables(made, PRIORS, {"shaft_axle_oil_oil": 2})
    parents = next(t.parents for _, t in tables if t.child == strained_name("oil"))
    assert parents[-1] == seal_name("shaft_axle_oil_oil", 1)
