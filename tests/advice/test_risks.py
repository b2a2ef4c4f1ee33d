"""What a look may harm: which joints, how dear, and in what words."""

from __future__ import annotations

from typing import Any

import pytest

from leakdx.advice.renewal import Labour
from leakdx.advice.risks import SWELLS, TRIED, UNDONE, Harm, harms_of, risk_of, told, washes
from leakdx.machine.model import Inspection, Machine, SealKind, SealPoint
from leakdx.priors.read import shipped_priors
from tests.advice.test_looks import bench, inspection

PRIORS = shipped_priors()
MATERIALS = {
    "hose": ("ethylene_propylene", "upper"),
    "ring": ("fluorocarbon", "upper"),
    "lip": ("nitrile", "lower"),
    "washer": ("copper", "upper"),
    "unknown": (None, "upper"),
}
LABOUR = Labour(
    renew={"hose": 10.0, "ring": 10.0, "lip": 20.0},
    steps={"panel": 30.0},
    needs={"hose": frozenset(), "ring": frozenset(), "lip": frozenset({"panel"})},
    comeback=240.0,
)


def made(*inspections: Inspection) -> Machine:
    seals = tuple(
        SealPoint.model_validate(
            {"id": s, "kind": "o_ring", "zones": [z], "fluid": "oil", "material": m}
        )
        for s, (m, z) in MATERIALS.items()
    )
    return bench(*inspections).model_copy(update={"seal_points": seals})


def harms(look: Inspection, *places: str) -> tuple[Harm, ...]:
    return harms_of(made(look), look, frozenset(places), PRIORS)


@pytest.mark.parametrize(
    "more", [{"method": "wash_and_run"}, {"method": "powder"}, {"state": ["washed"]}]
)
def test_degreaser_swells_rubber_where_it_gets_to(more: dict[str, Any]) -> None:
    look = inspection("wash", "upper", **more)
    assert washes(look)
    found = {h.seal: h for h in harms(look, "upper")}
    # Neither metal nor what is elsewhere.
    assert found.keys() == {"hose", "ring"}
    assert {h.by for h in found.values()} == {SWELLS}
    assert {h.seal for h in harms(look, "upper", "lower")} == {"hose", "ring", "lip"}
    assert harms(look, "far") == ()


def test_looking_and_wiping_harm_nothing() -> None:
    for more in ({}, {"method": "wipe"}, {"state": ["hot_idle"]}, {"method": "dye_lamp"}):
        look = inspection("look", "upper", seals=("hose",), destroys=["residue"], **more)
        assert not washes(look)
        assert harms(look, "upper") == ()


def test_some_rubbers_swell_more_than_others() -> None:
    """Common practice, no source: ethylene-propylene worst with oil, fluorocarbon hardly."""
    swells = PRIORS.group("looks.swells")
    assert max(swells, key=lambda k: swells[k]) == "ethylene_propylene"
    assert min(swells, key=lambda k: swells[k]) == "fluorocarbon"
    assert swells["ethylene_propylene"] > 3 * swells["nitrile"]
    assert swells["fluorocarbon"] < swells["nitrile"] / 3
    assert all(chance < 0.05 for chance in swells.values())
    chances = {h.seal: h.chance for h in harms(inspection("p", "upper", method="powder"), "upper")}
    assert chances == {"hose": swells["ethylene_propylene"], "ring": swells["fluorocarbon"]}


def test_a_disturbed_joint() -> None:
    torque = inspection("t", seals=("hose", "washer"), method="torque_check", destroys=["joint"])
    assert [(h.seal, h.by) for h in harms(torque)] == [("hose", TRIED), ("washer", TRIED)]
    apart = inspection("a", seals=("hose",), method="pressure_test", destroys=["joint", "level"])
    (harm,) = harms(apart)
    assert harm == Harm("hose", PRIORS["looks.disturbs.undone"], UNDONE)
    # What is taken off and tried by itself is no joint.
    core = made(apart).seal_points[0].model_copy(update={"kind": SealKind.HEAT_EXCHANGER_CORE})
    bare = made(apart).model_copy(update={"seal_points": (core,)})
    assert harms_of(bare, apart, frozenset(), PRIORS) == ()
    # One whose screws are not touched is not.
    assert harms(inspection("t", seals=("hose",), method="torque_check")) == ()


def test_the_cost_by_hand() -> None:
    some = (Harm("hose", 0.01, SWELLS), Harm("lip", 0.02, TRIED))
    # A leak left costs the comeback and the renewal later: 250, and 240 + 20 + 30 = 290.
    assert risk_of(some, LABOUR, {"hose": 0.0, "lip": 0.0}) == pytest.approx(2.5 + 5.8)
    assert risk_of(some, LABOUR, {"hose": 1.0, "lip": 0.5}) == pytest.approx(2.9)
    assert risk_of((), LABOUR, {}) == 0


def test_the_risks_in_words() -> None:
    names = {"hose": "heater hose", "ring": "flange ring", "lip": "front seal"}
    sound = dict.fromkeys(names, 0.0)
    some = (Harm("ring", 0.001, SWELLS), Harm("hose", 0.01, SWELLS), Harm("lip", 0.02, TRIED))
    assert told(some, LABOUR, sound, names) == (
        "degreaser or solvent can swell the rubber at heater hose and flange ring",
        "trying the screws can start a leak at front seal",
    )
    # Nothing to speak of: 0.001 x 250 is a quarter of a minute.
    assert told(some[:1], LABOUR, sound, names) == ()
    # Where all leak already nothing can be made worse.
    assert told(some, LABOUR, dict.fromkeys(names, 1.0), names) == ()


def test_many_joints_are_counted_not_listed() -> None:
    ids = [f"s{k}" for k in range(6)]
    labour = Labour(dict.fromkeys(ids, 10.0), {}, dict.fromkeys(ids, frozenset[str]()), 240.0)
    many = [Harm(s, 0.01 + 0.001 * k, SWELLS) for k, s in enumerate(ids)]
    (said,) = told(many, labour, dict.fromkeys(ids, 0.0), {s: s.upper() for s in ids})
    assert said == f"{SWELLS} S5, S4, S3 and 3 more joints"
    (said,) = told(many[:4], labour, dict.fromkeys(ids, 0.0), {s: s.upper() for s in ids})
    assert said == f"{SWELLS} S3, S2, S1 and 1 more joint"
