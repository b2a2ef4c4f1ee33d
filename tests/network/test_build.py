"""The network of small machines: what hangs on what, and which way it pushes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from leakdx.belief.evidence import hard
from leakdx.belief.tree import Beliefs, compile_network
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import DETAILS
from leakdx.machine.model import (
    Cause,
    CauseKind,
    DrawnPath,
    Fluid,
    FluidKind,
    Machine,
    SealPoint,
    SignKind,
)
from leakdx.network.build import LeakNetwork, build_network
from leakdx.network.causes import TIRED, strained_name
from leakdx.network.noisymax import plain
from leakdx.network.pgmpy_io import bif_text
from leakdx.network.setting import (
    DRY_WET,
    LEAK_STATES,
    Epoch,
    Setting,
    SignAsked,
    cause_name,
    flow_name,
    look_name,
    mixed_name,
    other_name,
    seal_name,
    sign_name,
)
from leakdx.network.signs import SEAL_LOOKS
from leakdx.network.tables import Network
from leakdx.priors.read import shipped_priors
from tests.flow.boxes import box, machine, patch, tray

TOLERANCE = 1e-9
PRIORS = shipped_priors()
FLUIDS = (
    Fluid(id="oil", kind=FluidKind.ENGINE_OIL),
    Fluid(id="coolant", kind=FluidKind.COOLANT),
)
WORST = LEAK_STATES[-1]
# The state of the machine that its seals share, held fixed.
SOUND = {TIRED: "no", strained_name("oil"): "no"}


def joint(name: str, zone: str, fluid: str = "oil", **more: Any) -> SealPoint:
    parts = {"id": name, "kind": "flat_gasket", "zones": (zone,), "fluid": fluid}
    return SealPoint.model_validate(parts | more)


def column(count: int = 4, **more: Any) -> Machine:
    """Upright plates one below the other; oil above, coolant from the second plate down."""
    plates = tuple(
        patch(f"plate_{n}", (0, 0, 2000 - 200 * n), (0, 1, 0), (300, 0, 200)) for n in range(count)
    )
    seals = (
        joint("cover", "plate_0"),
        joint("hose", "plate_1", "coolant", drive="pressure_fed"),
        joint("plug", "plate_2"),
    )
    return machine(plates, **({"fluids": FLUIDS, "seal_points": seals} | more))


def built(made: Machine, **more: Any) -> LeakNetwork:
    return build_network(Setting(made, **more), PRIORS)


def beliefs(network: Network, given: Mapping[str, str] | None = None) -> Beliefs:
    ordinary = plain(network)
    return compile_network(ordinary).update(hard(ordinary, given or {}))


def parents_of(network: Network) -> dict[str, tuple[str, ...]]:
    parents = {t.child: t.parents for t in network.tables}
    return parents | {m.child: m.parents for m in network.maxima}


def ancestors(network: Network, name: str) -> set[str]:
    parents = parents_of(network)
    found: set[str] = set()
    stack = [name]
    while stack:
        for parent in parents[stack.pop()]:
            if parent not in found:
                found.add(parent)
                stack.append(parent)
    return found


def wet(told: Beliefs, zone: str, fluid: str = "oil", epoch: int = 0) -> float:
    return 1 - float(told[flow_name(fluid, zone, epoch)][0])


# Everything at once, for what must hold of any network.

EVERYTHING = Setting(
    column(paths=(DrawnPath(source="plate_0", target="plate_3", share=0.2, wicks=True),)),
    epochs=(
        Epoch(hours=None, active={"cover": (0, 1)}, spilled=frozenset({(None, "plate_1")})),
        Epoch(Attitude(5, -3), 10.0, 20.0, 2.0, active={"cover": (1,)}),
    ),
    odds={"cover": (8.0, 0.5), "plug": (2.0,)},
    mixed=frozenset({(0, "plate_2"), (1, "plate_3")}),
    read=frozenset({(0, "plate_2"), (1, "plate_3")}),
    wetted=frozenset({("coolant", "plate_0")}),
    looked=frozenset({(0, "cover"), (1, "cover"), (1, "hose")}),
    signs=frozenset(SignAsked(k, f.id, e) for k in SignKind for f in FLUIDS for e in (0, 1)),
)


@pytest.mark.parametrize("detail", range(len(DETAILS)))
def test_every_table_of_a_full_network_is_sound(detail: int) -> None:
    network = plain(build_network(replace(EVERYTHING, detail=detail), PRIORS).network)
    for table in network.tables:
        assert (table.values >= 0).all()
        np.testing.assert_allclose(table.values.sum(axis=0), 1, rtol=0, atol=TOLERANCE)


def test_every_name_can_be_written_as_bif() -> None:
    network = plain(build_network(EVERYTHING, PRIORS).network)
    text = bif_text(network)
    assert text.count("\nvariable ") == len(network.variables)


def test_what_was_read_has_its_variable() -> None:
    names = set(build_network(EVERYTHING, PRIORS).network.names)
    assert {mixed_name("plate_2", 0), mixed_name("plate_3", 1)} <= names
    assert {look_name("cover", 0), look_name("cover", 1), look_name("hose", 1)} <= names
    assert {sign_name(s) for s in EVERYTHING.signs} <= names
    assert flow_name("coolant", "plate_0", 0) in names


def test_what_was_not_read_has_none() -> None:
    names = built(column()).network.names
    assert not [n for n in names if n.split("__")[0] in ("any", "look", "sign")]


@pytest.mark.parametrize("kind", sorted(SignKind))
def test_a_leak_never_speaks_against_a_sign(kind: SignKind) -> None:
    made = column(
        seal_points=(
            joint("cover", "plate_0", leaks_into="coolant"),
            joint("hose", "plate_1", "coolant", leaks_into="oil"),
        )
    )
    sign = SignAsked(kind, "oil", 0)
    network = built(made, signs=frozenset({sign})).network
    tight = {seal_name("cover"): "tight", seal_name("hose"): "tight"}
    without = beliefs(network, tight)[sign_name(sign)][1]
    for seal in ("cover", "hose"):
        told = beliefs(network, tight | {seal_name(seal): WORST})
        assert told[sign_name(sign)][1] >= without - TOLERANCE


@pytest.mark.parametrize(
    ("kind", "seal"),
    [
        (SignKind.LEVEL_FALLS, "cover"),
        (SignKind.PRESSURE_LOSS, "cover"),
        (SignKind.GROUND_WET, "cover"),
        (SignKind.LEAKS_AT_REST, "cover"),
        # What gets into the oil comes from another system.
        (SignKind.LEVEL_RISES, "hose"),
        (SignKind.FLUID_EMULSIFIED, "hose"),
        (SignKind.FLUID_THINNED, "hose"),
    ],
)
def test_a_sign_hangs_on_the_seals_it_is_a_sign_of(kind: SignKind, seal: str) -> None:
    made = column(
        seal_points=(
            joint("cover", "plate_0"),
            joint("hose", "plate_1", "coolant", leaks_into="oil"),
        )
    )
    sign = SignAsked(kind, "oil", 0)
    network = built(made, signs=frozenset({sign})).network
    other = {"cover": "hose", "hose": "cover"}[seal]
    tight = {seal_name("cover"): "tight", seal_name("hose"): "tight"}
    none, its, others = (
        float(beliefs(network, tight | more)[sign_name(sign)][1])
        for more in ({}, {seal_name(seal): WORST}, {seal_name(other): WORST})
    )
    assert its > none
    assert others == pytest.approx(none, abs=TOLERANCE)


def test_only_fuel_smells_of_fuel() -> None:
    fuel = Fluid(id="fuel", kind=FluidKind.PETROL)
    made = column(
        fluids=(*FLUIDS, fuel),
        seal_points=(joint("cover", "plate_0"), joint("fuel_hose", "plate_1", "fuel")),
    )
    sign = SignAsked(SignKind.FUEL_SMELL, "oil", 0)
    above = ancestors(built(made, signs=frozenset({sign})).network, sign_name(sign))
    assert seal_name("fuel_hose") in above
    assert seal_name("cover") not in above


def test_only_fluid_on_hot_metal_smokes() -> None:
    zones = list(column().zones)
    zones[2] = zones[2].model_copy(update={"temperature_C": PRIORS["signs.hot_zone_C"] + 100})
    made = column().model_copy(update={"zones": tuple(zones)})
    sign = SignAsked(SignKind.SMOKE, "oil", 0)
    network = built(made, signs=frozenset({sign})).network
    assert parents_of(network)[sign_name(sign)] == (flow_name("oil", "plate_2"),)


# Zones.


def test_a_leak_wets_what_is_below_it_and_not_what_is_above() -> None:
    network = built(column()).network
    # Seals that have aged together speak for each other, so the age is held.
    tight, leaking = (
        beliefs(network, {seal_name("plug"): state, **SOUND}) for state in ("tight", WORST)
    )
    for zone in ("plate_2", "plate_3"):
        assert wet(leaking, zone) > wet(tight, zone)
    for zone in ("plate_0", "plate_1"):
        assert wet(leaking, zone) == pytest.approx(wet(tight, zone), abs=TOLERANCE)


def test_a_worse_leak_brings_more() -> None:
    network = built(column()).network
    for zone in ("plate_0", "plate_1", "plate_2"):
        name = flow_name("oil", zone)
        ladder = [
            np.cumsum(beliefs(network, {seal_name("cover"): s})[name][::-1])[::-1]
            for s in LEAK_STATES
        ]
        for better, worse in pairwise(ladder):
            assert (worse >= better - TOLERANCE).all()
        assert ladder[-1].sum() > ladder[0].sum()


def test_a_zone_is_wetter_near_the_leak_than_far_below_it() -> None:
    told = beliefs(built(column()).network, {seal_name("cover"): "drops"})
    zones = [f"plate_{n}" for n in (0, 1)]
    assert wet(told, zones[0]) > wet(told, zones[1])


def test_upside_down_the_leak_runs_the_other_way() -> None:
    network = built(column(), epochs=(Epoch(Attitude(roll_deg=180)),)).network
    tight, leaking = (
        beliefs(network, {seal_name("plug"): state, **SOUND}) for state in ("tight", WORST)
    )
    assert wet(leaking, "plate_0") > wet(tight, "plate_0")
    assert wet(leaking, "plate_3") == pytest.approx(wet(tight, "plate_3"), abs=TOLERANCE)


def test_fluids_keep_apart() -> None:
    setting = Setting(column(), wetted=frozenset({("coolant", "plate_0")}))
    network = build_network(setting, PRIORS).network
    for name in network.names:
        if not name.startswith("flow__"):
            continue
        fluid = name.split("__")[1]
        above = ancestors(network, name)
        oil_seals = {seal_name("cover"), seal_name("plug")}
        assert not above & ({seal_name("hose")} if fluid == "oil" else oil_seals)
        assert not [n for n in above if n.startswith("flow__") and n.split("__")[1] != fluid]


def test_a_second_fluid_has_zones_where_its_seals_lead_and_where_it_was_seen() -> None:
    def zones(network: Network) -> set[str]:
        return {n.split("__")[2] for n in network.names if n.startswith("flow__coolant__")}

    below = {"plate_1", "plate_2", "plate_3"}
    assert zones(built(column()).network) == below
    seen = built(column(), wetted=frozenset({("coolant", "plate_0")})).network
    assert zones(seen) == {"plate_0"} | below


def test_the_first_fluid_may_turn_up_anywhere() -> None:
    network = built(column()).network
    assert {n for n in network.names if n.startswith("flow__oil__")} == {
        flow_name("oil", f"plate_{n}") for n in range(4)
    }


def test_what_no_seal_explains_an_unlisted_origin_does() -> None:
    network = built(column()).network
    tight = {seal_name(s): "tight" for s in ("cover", "plug", "hose")}
    before = beliefs(network, tight)
    for zone in ("plate_0", "plate_1", "plate_2", "plate_3"):
        name = other_name("oil", zone)
        states = network[name].states
        assert before[name][states.index("unlisted")] > 0
        assert before[name][states.index("spilled")] > 0
    seen = beliefs(network, tight | {flow_name("oil", "plate_1"): "level2"})
    none = [float(seen[other_name("oil", f"plate_{n}")][0]) for n in range(4)]
    # It came from that plate or from above; from below it cannot have come.
    assert none[1] < 1 / 2 or none[0] < 1 / 2
    for n in (2, 3):
        plain_none = float(before[other_name("oil", f"plate_{n}")][0])
        assert none[n] == pytest.approx(plain_none, abs=TOLERANCE)


@pytest.mark.parametrize("fluid", ["oil", None])
def test_a_spill_that_was_told_of_explains_a_wet_zone(fluid: str | None) -> None:
    spilled = Epoch(spilled=frozenset({(fluid, "plate_1")}))
    with_it, without = (built(column(), epochs=(e,)).network for e in (spilled, Epoch()))
    told, silent = beliefs(with_it), beliefs(without)
    state = with_it[other_name("oil", "plate_1")].states.index("spilled")
    assert told[other_name("oil", "plate_1")][state] > silent[other_name("oil", "plate_1")][state]
    assert wet(told, "plate_1") > wet(silent, "plate_1")
    # And so a wet plate says less of the seal above it.
    seen = {flow_name("oil", "plate_1"): "level2"}
    name = seal_name("cover")
    assert beliefs(with_it, seen)[name][0] > beliefs(without, seen)[name][0]


def test_wet_below_and_dry_above_clears_the_upper_seal() -> None:
    network = built(column()).network
    before = beliefs(network)
    seen = {flow_name("oil", "plate_0"): "level0", flow_name("oil", "plate_2"): "level2"}
    after = beliefs(network, seen)
    assert after[seal_name("cover")][0] > before[seal_name("cover")][0]
    assert after[seal_name("plug")][0] < before[seal_name("plug")][0]


def test_thick_cold_oil_gets_less_far_in_a_short_run() -> None:
    cold, hot = (
        beliefs(
            built(column(), epochs=(Epoch(temperature_C=t, hours=0.5),)).network,
            {seal_name("cover"): WORST},
        )
        for t in (-10.0, 100.0)
    )
    assert wet(cold, "plate_1") < wet(hot, "plate_1")


# Zones that only collect.


def gallery() -> Machine:
    """Many pipes over one tray."""
    pipes = tuple(
        patch(f"pipe_{n}", (100 * n, 0, 300), (0, 0, -1), (40, 40, 0))
        for n in range(DETAILS[0].feeds + 2)
    )
    seals = (joint("union", "pipe_0"), joint("tray_plug", "tray"))
    return machine((*pipes, tray(0, (5000, 900, 0))), seal_points=seals)


def test_a_tray_that_only_collects_is_built_where_it_was_read_and_is_dry_or_wet() -> None:
    name = flow_name("oil", "tray")
    assert name not in built(gallery()).network
    network = built(gallery(), read=frozenset({(0, "tray")})).network
    assert network[name].states == DRY_WET
    tight = {seal_name("union"): "tight", seal_name("tray_plug"): "tight"}
    chances = [
        float(beliefs(network, tight | {seal_name(s): WORST})[name][1])
        for s in ("union", "tray_plug")
    ]
    assert min(chances) > float(beliefs(network, tight)[name][1]) > 0


def test_a_seal_in_a_tray_that_was_read_can_be_looked_at() -> None:
    network = built(
        gallery(), read=frozenset({(0, "tray")}), looked=frozenset({(0, "tray_plug")})
    ).network
    name = look_name("tray_plug", 0)
    assert network[name].states == SEAL_LOOKS
    tight, leaking = (
        beliefs(network, {seal_name("tray_plug"): s})[name][0] for s in ("tight", WORST)
    )
    assert leaking < tight


# Readings of one zone.


def test_a_zone_of_any_fluid_is_as_wet_as_the_wettest() -> None:
    network = built(column(), mixed=frozenset({(0, "plate_2")})).network
    name = mixed_name("plate_2", 0)
    for oil, coolant in (("level0", "level0"), ("level2", "level1"), ("level0", "level3")):
        given = {flow_name("oil", "plate_2"): oil, flow_name("coolant", "plate_2"): coolant}
        told = beliefs(network, given)[name]
        assert told[network[name].states.index(max(oil, coolant))] == pytest.approx(1)


def test_a_close_look_sees_the_leak_and_is_misled_by_what_comes_from_above() -> None:
    network = built(column(), looked=frozenset({(0, "plug")})).network
    name = look_name("plug", 0)
    for state, look in zip(LEAK_STATES, SEAL_LOOKS, strict=True):
        told = beliefs(network, {seal_name("plug"): state})[name]
        at_least = told[SEAL_LOOKS.index(look) :].sum()
        assert at_least == pytest.approx(1)
    both_tight = {seal_name("plug"): "tight", seal_name("cover"): "tight"}
    clean = beliefs(network, both_tight)[name][0]
    misled = beliefs(network, both_tight | {seal_name("cover"): WORST})[name][0]
    assert misled < clean


# Epochs and generations.


def test_two_epochs_are_two_sets_of_zones_on_the_same_seals() -> None:
    one = built(column()).network
    two = built(column(), epochs=(Epoch(), Epoch(hours=1.0))).network

    def having(network: Network, start: str) -> set[str]:
        return {n for n in network.names if n.startswith(start)}

    for kind in ("seal__", "cause__", "strained__"):
        assert having(two, kind) == having(one, kind)
    for kind in ("flow__", "other__"):
        first = having(one, kind)
        assert having(two, kind) == first | {n.removesuffix("0") + "1" for n in first}
    for name in having(two, "flow__"):
        assert not [
            a
            for a in ancestors(two, name)
            if a.startswith(("flow__", "other__")) and a[-2:] != name[-2:]
        ]


def test_a_renewed_seal_has_a_life_before_and_a_life_after() -> None:
    epochs = (Epoch(active={"cover": (0, 1)}), Epoch(hours=1.0, active={"cover": (1,)}))
    network = built(column(), epochs=epochs, odds={"cover": (1.0, 1.0)}).network
    before, after = seal_name("cover", 0), seal_name("cover", 1)
    assert {before, after} <= set(network.names)
    assert {before, after} <= ancestors(network, flow_name("oil", "plate_0", 0))
    later = ancestors(network, flow_name("oil", "plate_0", 1))
    assert after in later
    assert before not in later


def test_what_was_clean_after_the_wash_says_nothing_of_the_old_seal() -> None:
    epochs = (Epoch(active={"cover": (0,)}), Epoch(hours=4.0, active={"cover": (1,)}))
    odds = {"cover": (1.0, 1.0)}
    network = built(column(), epochs=epochs, odds=odds).network
    dry = beliefs(network, {flow_name("oil", "plate_0", 1): "level0", **SOUND})
    before = beliefs(network, SOUND)
    old, new = (seal_name("cover", g) for g in (0, 1))
    assert dry[new][0] > before[new][0]
    np.testing.assert_allclose(dry[old], before[old], rtol=0, atol=TOLERANCE)


def test_odds_of_the_job_count() -> None:
    chances = [
        1 - float(beliefs(built(column(), odds={"cover": (o,)}).network)[seal_name("cover")][0])
        for o in (0.2, 1.0, 5.0)
    ]
    assert chances[0] < chances[1] < chances[2]


def test_causes_reach_the_zones() -> None:
    network = built(column()).network
    blocked, clear = (
        beliefs(network, {cause_name("ventilation_blocked_oil"): s}) for s in ("yes", "no")
    )
    assert wet(blocked, "plate_0") > wet(clear, "plate_0")
    assert wet(blocked, "plate_1", "coolant") == pytest.approx(
        wet(clear, "plate_1", "coolant"), abs=TOLERANCE
    )


# Leaving out what does not matter.


@pytest.mark.parametrize("made", [column(), machine((*box(), tray()))], ids=["column", "box"])
def test_zones_that_bear_on_no_reading_can_be_left_out(made: Machine) -> None:
    zone = made.zones[1].id
    setting = Setting(made, read=frozenset({(0, zone)}))
    whole = build_network(setting, PRIORS).network
    part = build_network(replace(setting, whole=False), PRIORS).network
    assert set(part.names) < set(whole.names)
    given = {flow_name("oil", zone): "level2"}
    of_whole, of_part = beliefs(whole, given), beliefs(part, given)
    for seal in made.seal_points:
        name = seal_name(seal.id)
        np.testing.assert_allclose(of_part[name], of_whole[name], rtol=0, atol=TOLERANCE)


def test_flows_names_the_fluids_of_a_zone() -> None:
    network = built(column())
    assert network.flows("plate_0", 0) == ("oil",)
    assert network.flows("plate_2", 0) == ("oil", "coolant")
    assert network.flows("plate_2", 1) == ()


# Causes and the generations of a seal point.


def test_only_the_last_refit_hangs_on_how_it_was_refitted() -> None:
    causes = tuple(
        Cause(id=kind.value, kind=kind, raises=("cover",))
        for kind in (CauseKind.GASKET_ROLLED, CauseKind.DRAIN_BACK_BLOCKED)
    )
    parents = parents_of(built(column(causes=causes), odds={"cover": (8.0, 0.5)}).network)
    rolled, drain = (cause_name(c.id) for c in causes)
    assert {rolled, drain} <= {*parents[seal_name("cover", 1)]}
    assert {rolled, drain} & {*parents[seal_name("cover", 0)]} == {drain}


def test_the_seal_as_it_is_now_fills_the_other_case() -> None:
    axle = Fluid(id="axle_oil", kind=FluidKind.GEAR_OIL)
    seals = (joint("shaft", "plate_0", leaks_into="axle_oil"), joint("axle", "plate_1", "axle_oil"))
    made = column(fluids=(*FLUIDS, axle), seal_points=seals)
    parents = parents_of(built(made, odds={"shaft": (8.0, 0.5)}).network)
    found = [p for p in parents[strained_name("axle_oil")] if p.startswith("seal__")]
    assert found == [seal_name("shaft", 1)]
