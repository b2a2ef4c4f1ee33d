"""Every number the code asks for is shipped, sourced and used; and how numbers are replaced."""

from __future__ import annotations

import ast
import math
from collections import Counter
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
import yaml
from pydantic import ValidationError

import leakdx
from leakdx.advice.risks import RUBBERS
from leakdx.case.joints import JOINT_FACTORS
from leakdx.case.model import Sureness
from leakdx.files.faults import FaultyInput
from leakdx.files.places import priors_folder
from leakdx.machine.model import CauseKind, Drive, FluidKind, Method, SealKind, SignKind, Surface
from leakdx.network.causes import OWN_RAISE, PRESSURE
from leakdx.network.looks import LOOKS
from leakdx.network.odds import CLASSES
from leakdx.network.refit import FINDS, Check, Fault, Nearness
from leakdx.network.setting import Use
from leakdx.network.signs import HOT, REGIMES
from leakdx.priors.model import Fixed, PriorFile, Priors, Quantity, UnknownNumber
from leakdx.priors.read import joined, load_prior_file, shipped_priors

SHIPPED = shipped_priors().numbers
FILES = sorted(priors_folder().glob("*.yaml"))
PACKAGE = Path(leakdx.__file__).parent
# These deal with whichever numbers they are given, and know none by name.
PASSED_ON = frozenset({"priors/drawing.py", "reasons/draws.py", "reasons/swings.py"})
# Reading a number with its distribution, or its value only.
ASKING = frozenset({"quantity", "group"})

SEALS_OF_SIGN = [k for k in SignKind if k not in (*REGIMES, *HOT, SignKind.GROUND_WET)]
# What stands in the braces of each key that the code puts together.
WAYS: dict[str, list[tuple[str, ...]]] = {
    "base_rates.{seal.kind.value}": [(k,) for k in SealKind],
    "causes.chance.{cause.kind.value}": [(k,) for k in CauseKind],
    "causes.chance.{kind.value}": [(k,) for k in CauseKind],
    "causes.raises.{kind}": [("listed",), *((k,) for k in OWN_RAISE)],
    "causes.strains.{c.kind.value}": [(k,) for k in PRESSURE],
    "costs.part_minutes.{seal.kind.value}": [(k,) for k in SealKind],
    "costs.renew_minutes.{seal.kind.value}": [(k,) for k in SealKind],
    "detection.fresh.{look}": [(k,) for k in LOOKS[1:]],
    "detection.sure.{sureness}": [(k,) for k in Sureness if k is not Sureness.NORMAL],
    "detection.{method}.{error}": list(product(Method, ("miss", "false_call"))),
    "flow.airflow.{use.value}": [(k,) for k in Use if k is not Use.PARKED],
    "flow.roughness.{z.surface.value}": [(k,) for k in Surface],
    "fluids.{fluid.kind.value}.density_15C": [(k,) for k in FluidKind],
    "fluids.{fluid.kind.value}.temperature_C": [(k,) for k in FluidKind],
    "fluids.{fluid.kind.value}.viscosity_100C": [(k,) for k in FluidKind],
    "fluids.{fluid.kind.value}.viscosity_40C": [(k,) for k in FluidKind],
    "leak_rates.{c}.share": [(k,) for k in CLASSES],
    "leak_rates.{c}.rate": [(k,) for k in CLASSES],
    "leak_rates.{name}.rate": [(k,) for k in CLASSES],
    "leak_rates.use.{use.value}.{drive.value}": list(product(Use, Drive)),
    "looks.swells.{material.value}": [(k,) for k in RUBBERS],
    "modifiers.drive.{seal.drive.value}": [(k,) for k in Drive],
    "modifiers.fluid.{fluid.kind.value}": [(k,) for k in FluidKind],
    "refit.disturbs.{one.value}": [(k,) for k in Nearness],
    "refit.fault.{fault.value}": [(k,) for k in Fault],
    "refit.found.{check.value}.{fault.value}": [(c, f) for c in Check for f in FINDS[c]],
    "signs.{kind.value}.{c}": list(product(SEALS_OF_SIGN, CLASSES)),
    "signs.{kind.value}.{seal.drive.value}": list(product(REGIMES, Drive)),
    "signs.level_rises.{c}": [(c,) for c in CLASSES],
    "signs.ground_wet.{look}": [(look,) for look in LOOKS[1:]],
    "signs.regime_seen.{c}": [(c,) for c in CLASSES],
    "signs.{sign.kind.value}.without": [(k,) for k in SignKind],
    "signs.{sign.kind.value}.{c}": list(product(HOT, CLASSES)),
}
# Keys that stand in a table and are looked up from there.
TABLES = {"JOINT_FACTORS[factor]": list(JOINT_FACTORS.values())}


def asked_keys() -> Iterator[ast.expr]:
    """What stands in the brackets of priors[...] and priors.quantity(...), all over."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.relative_to(PACKAGE).as_posix() in PASSED_ON:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Subscript) and _is_priors(node.value):
                yield node.slice
            elif (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in ASKING
                and _is_priors(node.func.value)
            ):
                yield node.args[0]


def _is_priors(node: ast.expr) -> bool:
    return (isinstance(node, ast.Name) and node.id == "priors") or (
        isinstance(node, ast.Attribute) and node.attr == "priors"
    )


def written(key: ast.expr) -> str:
    """A key as it stands in the code, with braces for what is put in."""
    if isinstance(key, ast.Constant):
        return str(key.value)
    if isinstance(key, ast.JoinedStr):
        return "".join(
            str(part.value)
            if isinstance(part, ast.Constant)
            else "{" + ast.unparse(part.value) + "}"  # type: ignore[attr-defined]
            for part in key.values
        )
    return ast.unparse(key)


def expanded(key: str) -> list[str]:
    if key in TABLES:
        return TABLES[key]
    if "{" not in key:
        return [key]
    pieces = [piece.partition("}")[2] for piece in key.split("{")[1:]]
    start = key.split("{")[0]
    return [
        start + "".join(str(v) + p for v, p in zip(values, pieces, strict=True))
        for values in WAYS[key]
    ]


KEYS = sorted({written(k) for k in asked_keys()})
USED = {number for key in KEYS if key in WAYS or "{" not in key for number in expanded(key)}


# What is asked for and what is there.


def test_the_search_finds_how_the_code_asks() -> None:
    assert {"flow.visible_ml", "base_rates.{seal.kind.value}", "flow.hours_since_clean"} <= {*KEYS}


def test_every_way_to_put_a_key_together_is_known_here() -> None:
    put_together = {k for k in KEYS if "{" in k or "[" in k or "." not in k}
    assert put_together == WAYS.keys() | TABLES.keys()


@pytest.mark.parametrize("key", KEYS)
def test_every_number_the_code_asks_for_is_shipped(key: str) -> None:
    missing = [number for number in expanded(key) if number not in SHIPPED]
    assert not missing


def test_no_shipped_number_is_unused() -> None:
    assert not sorted(SHIPPED.keys() - USED)


# Each number.


@pytest.mark.parametrize("key", sorted(SHIPPED))
def test_a_number_has_value_distribution_unit_and_source(key: str) -> None:
    quantity = SHIPPED[key]
    assert math.isfinite(quantity.value)
    assert quantity.unit.strip()
    assert quantity.source.strip()
    if not isinstance(quantity.distribution, Fixed):
        assert quantity.value == pytest.approx(quantity.distribution.centre, rel=0.02)
    if quantity.unit == "probability":
        assert 0 <= quantity.value <= 1


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_all_four_are_written_out_for_every_number(path: Path) -> None:
    content = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert content["id"] == path.stem
    for key, number in content["numbers"].items():
        assert {"value", "distribution", "unit", "source"} <= number.keys(), key


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_no_number_is_written_twice(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    keys = Counter(ln.strip() for ln in lines if ln.startswith("  ") and ln[2:3] != " ")
    assert not [k for k, n in keys.items() if n > 1 and k.endswith(":")]


def test_shipped_chances_leave_room_for_the_rest() -> None:
    shares = [SHIPPED[f"leak_rates.{c}.share"].value for c in CLASSES]
    assert sum(shares) == pytest.approx(1)
    for method in Method:
        for error in ("miss", "false_call"):
            assert 0 < SHIPPED[f"detection.{method}.{error}"].value < 0.5
    for kind in ("grime", "grime_after_repair"):
        film = SHIPPED[f"detection.{kind}"].value
        runs = SHIPPED["detection.grime_run"].value if kind == "grime" else film / 3
        assert film + runs < 1


def test_worse_leaks_run_faster() -> None:
    # Leak classes of US Army technical manuals: seeping, drops, dripping.
    rates = [SHIPPED[f"leak_rates.{c}.rate"].value for c in CLASSES]
    assert rates == sorted(rates)
    for sign in (*SEALS_OF_SIGN, *HOT):
        chances = [SHIPPED[f"signs.{sign}.{c}"].value for c in CLASSES]
        assert chances == sorted(chances)


@pytest.mark.parametrize("kind", sorted(FluidKind))
def test_every_fluid_thins_when_it_warms(kind: FluidKind) -> None:
    at_40, at_100 = (SHIPPED[f"fluids.{kind}.viscosity_{t}C"].value for t in (40, 100))
    assert at_40 > at_100 > 0
    assert SHIPPED[f"fluids.{kind}.density_15C"].value > 500


def test_water_is_as_heavy_as_water() -> None:
    # IAPWS: 999.1 kg/m3 at 15 degrees C.
    assert SHIPPED["fluids.water.density_15C"].value == pytest.approx(999.1, rel=0.005)


# Asking.


def test_a_number_that_is_not_there_is_named() -> None:
    priors = shipped_priors()
    assert "flow.no_such_number" not in priors
    for ask in (priors.__getitem__, priors.quantity):
        with pytest.raises(UnknownNumber, match=r"flow\.no_such_number"):
            ask("flow.no_such_number")
    with pytest.raises(KeyError):
        Priors({})["flow.visible_ml"]


def test_a_value_is_the_value_of_its_quantity() -> None:
    priors = shipped_priors()
    for key, quantity in SHIPPED.items():
        assert key in priors
        assert priors[key] == priors.quantity(key).value == quantity.value


def test_a_group_is_what_stands_under_a_name() -> None:
    group = shipped_priors().group("detection.sure")
    assert group.keys() == {"poor", "good"}
    assert group["poor"] == shipped_priors()["detection.sure.poor"]
    # A name that only begins alike is another one.
    assert not shipped_priors().group("detection.sur")


# Replacing.


def number(median: float, **more: object) -> dict[str, object]:
    spread = {"family": "lognormal", "median": median, "factor": 2.0}
    return {"value": median, "distribution": spread, "unit": "mm", "source": "made up"} | more


def prior_file(name: str, **numbers: dict[str, object]) -> PriorFile:
    return PriorFile.model_validate({"format": "leakdx-prior/1", "id": name, "numbers": numbers})


def test_a_later_file_replaces_what_it_names_and_leaves_the_rest() -> None:
    first = prior_file("flow", film=number(1.0), drop=number(2.0))
    later = prior_file("flow", film=number(3.0))
    assert joined([first, later])["flow.film"] == 3.0
    assert joined([later, first])["flow.film"] == 1.0
    assert joined([first, later])["flow.drop"] == 2.0


def test_files_of_other_subjects_do_not_meet() -> None:
    both = joined([prior_file("flow", film=number(1.0)), prior_file("signs", film=number(2.0))])
    assert (both["flow.film"], both["signs.film"]) == (1.0, 2.0)


def test_a_file_of_ones_own_goes_over_the_shipped_ones(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    own = {"format": "leakdx-prior/1", "id": "flow", "numbers": {"film_mm": number(0.7)}}
    path.write_text(yaml.safe_dump(own))
    files = [*map(load_prior_file, FILES), load_prior_file(path)]
    priors = joined(files)
    assert priors["flow.film_mm"] == 0.7
    assert priors.numbers.keys() == SHIPPED.keys()
    changed = [k for k in SHIPPED if priors.quantity(k) != SHIPPED[k]]
    assert changed == ["flow.film_mm"]


@pytest.mark.parametrize(
    "fault",
    [
        number(2.0, value=3.0),
        number(2.0, source=""),
        number(2.0, unit=""),
        number(2.0, value=float("nan")),
        number(2.0, value=1.5, unit="probability", distribution={"family": "fixed"}),
        number(2.0, value=-0.1, unit="probability", distribution={"family": "fixed"}),
        number(2.0, distribution={"family": "lognormal", "median": 2.0, "factor": 1.0}),
        number(2.0, distribution={"family": "unheard_of"}),
        number(2.0, remark="a key nobody knows"),
        {k: v for k, v in number(2.0).items() if k != "source"},
        {k: v for k, v in number(2.0).items() if k != "distribution"},
    ],
    ids=[
        "value_off_centre",
        "no_source",
        "no_unit",
        "not_a_number",
        "above_one",
        "below_zero",
        "no_spread",
        "unknown_family",
        "unknown_key",
        "source_left_out",
        "distribution_left_out",
    ],
)
def test_a_number_that_is_not_sound_is_refused(fault: dict[str, object]) -> None:
    assert Quantity.model_validate(number(2.0)).value == 2.0
    with pytest.raises(ValidationError):
        Quantity.model_validate(fault)


def test_a_faulty_file_says_where(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    own = {"format": "leakdx-prior/1", "id": "flow", "numbers": {"film_mm": number(2.0, value=9)}}
    path.write_text(yaml.safe_dump(own))
    with pytest.raises(FaultyInput) as caught:
        load_prior_file(path)
    assert "film_mm" in str(caught.value)
