"""The strip-down and refit sheet: order, what is left out, what is said and what never is."""

from __future__ import annotations

import re
from functools import cache
from html import unescape
from typing import Any

import jsonschema
import pytest
from numpy.testing import assert_allclose

from leakdx.advice.looks import steps_off
from leakdx.advice.next_look import Weigher, next_of
from leakdx.advice.renewal import steps_behind
from leakdx.advice.sheet import CHECKS, MAKER_FIRST, Sheet, sheet_of
from leakdx.advice.sheet_practice import practice_of
from leakdx.advice.sheet_schema import document_of, json_schema
from leakdx.advice.sheet_steps import UNKNOWN_TORQUE, stripped, torque_said
from leakdx.advice.sheet_text import sheet_text
from leakdx.advice.solving import Solved, solve
from leakdx.case.read import LoadedJob, job_from, load_shipped_job
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Machine, SealKind
from leakdx.machine.read import machine_from
from leakdx.priors.read import shipped_priors
from leakdx.report.pages import job_sheet_page

JOB = "rear_of_engine_wet"
PRIORS = shipped_priors()


@cache
def solved_job() -> tuple[LoadedJob, Solved]:
    loaded = load_shipped_job(JOB)
    return loaded, solve(loaded, PRIORS)


@cache
def sheet(*renew: str) -> Sheet:
    loaded, solved = solved_job()
    return sheet_of(loaded, solved, PRIORS, renew)


STAND: dict[str, Any] = {
    "format": "leakdx-machine/1",
    "id": "small_stand",
    "version": "1",
    "name": "Invented stand <script>alert(1)</script>",
    "fluids": [{"id": "gear_oil", "kind": "gear_oil"}],
    "zones": [
        {"id": "side", "centroid_mm": [0, 0, 50], "normal": [0, 1, 0], "area_mm2": 9000},
        {"id": "foot", "centroid_mm": [0, 20, 0], "normal": [0, 0, 1], "area_mm2": 9000},
    ],
    "seal_points": [
        {
            "id": "cover_gasket",
            "name": "Cover gasket <b>& 'more'</b>",
            "kind": "flat_gasket",
            "zones": ["side"],
            "fluid": "gear_oil",
            "access": ["take_off_cover"],
            "torque_Nm": 12.5,
            "torque_from": "the manual <i>",
            "tighten": "from the left <u>",
            "one_use": ["spring washers <s>"],
        },
        {
            "id": "plug",
            "kind": "threaded_plug",
            "zones": ["foot"],
            "fluid": "gear_oil",
            "drive": "static_head",
        },
    ],
    "access_steps": [
        {
            "id": "take_off_cover",
            "name": "Take off the cover <a>",
            "minutes": 5,
            "after": ["disconnect_battery"],
            "cautions": ["Sharp <em> edge."],
            "torque_Nm": 8,
            "one_use": ["split pin <q>"],
        },
        {"id": "disconnect_battery", "name": "Disconnect the battery", "minutes": 3},
    ],
}


def job_on(machine: Machine, **more: Any) -> LoadedJob:
    return job_from(
        {
            "format": "leakdx-job/1",
            "id": "small",
            "name": "Job <img src=x onerror=alert(1)>",
            "machine": {"id": machine.id, "version": machine.version, "file": "stand.yaml"},
            "conditions": {"hours": 100},
            "timeline": [{"zone": "side", "state": "wet"}],
        }
        | more,
        machine,
    )


def sheet_on(data: dict[str, Any], *renew: str, **more: Any) -> Sheet:
    loaded = job_on(machine_from(data), **more)
    return sheet_of(loaded, solve(loaded, PRIORS), PRIORS, renew)


# --- what is renewed --------------------------------------------------------------------------


def test_without_a_choice_it_is_the_plan_of_the_next_look() -> None:
    loaded, solved = solved_job()
    plan = next_of(Weigher.of(loaded, PRIORS), solved).plan
    made = sheet()
    assert {c.seal_point for c in made.renew} == set(plan.seals)
    assert_allclose(made.dry, plan.dry, rtol=1e-9)
    assert_allclose(made.times.total, plan.minutes, rtol=1e-9)
    assert made.times.said == plan.said
    parts = made.times.strip + made.times.joints + made.times.refit
    assert_allclose(parts, made.times.total, rtol=1e-9)


def test_one_stretch_brings_its_whole_gasket() -> None:
    made = sheet("head_cover_gasket_rear")
    machine = solved_job()[0].machine
    whole = {s.id for s in machine.seal_points if s.part_of == "head_cover_gasket"}
    assert {c.seal_point for c in made.renew} == whole
    assert {c.seal_point for c in made.renew if not c.added} == {"head_cover_gasket_rear"}
    assert [j.name for j in made.joints] == ["Head cover gasket, whole"]


def test_money_where_the_job_has_prices() -> None:
    costs = {"currency": "EUR", "labour_per_hour": 90, "comeback": 300, "part": 9}
    assert re.search(r"about \d+ EUR", sheet_on(STAND, "cover_gasket", costs=costs).times.said)
    assert "EUR" not in sheet_on(STAND, "cover_gasket").times.said


# --- strip-down and refit ---------------------------------------------------------------------

ENGINE = load_shipped("forestry_carrier_five")


@pytest.mark.parametrize("seal", [s.id for s in ENGINE.seal_points])
def test_every_step_once_and_after_what_it_needs(seal: str) -> None:
    point = next(s for s in ENGINE.seal_points if s.id == seal)
    needed = steps_behind(ENGINE, point.access)
    order = [s.id for s in stripped(ENGINE, needed)]
    assert sorted(order) == sorted(needed)
    after = {k.id: k.after for k in ENGINE.access_steps}
    for place, step in enumerate(order):
        assert set(after[step]) <= set(order[:place])
    assert [s.number for s in stripped(ENGINE, needed)] == list(range(1, len(order) + 1))


def test_it_cools_before_anything_hot_comes_off() -> None:
    # Common practice, no source.
    order = [s.id for s in sheet("vacuum_pump_o_ring", "head_cover_gasket_rear").steps]
    assert order.index("cool_down") < order.index("remove_head_cover")


def test_what_is_off_already_is_not_taken_off_again_but_refitted() -> None:
    loaded, _ = solved_job()
    off = steps_off(loaded.machine, loaded.job)
    made = sheet()
    taken = {s.id for s in made.steps}
    assert {"tilt_cab", "park_and_chock"} <= off
    assert not taken & off
    back = {r.id: r for r in made.refit}
    assert back["tilt_cab"].undoes is None
    assert len(made.off) == len(off)


def test_refit_is_the_strip_down_backwards() -> None:
    made = sheet("crank_seal_rear")
    undone = [r.undoes for r in made.refit if r.undoes is not None]
    assert undone == sorted(undone, reverse=True)
    steps = {s.number: s.id for s in made.steps}
    # Only cooling has nothing to be undone.
    assert set(steps.values()) - {steps[n] for n in undone} == {"cool_down"} & set(steps.values())


@pytest.mark.parametrize(
    ("seal", "step", "words"),
    [
        ("crank_seal_rear", "battery_off", "negative on last"),
        ("sump_joint_rear", "drain_oil", "Fill to the mark again"),
        ("crank_seal_rear", "remove_gearbox", "Put the gearbox back on"),
    ],
)
def test_steps_are_undone_in_plain_words(seal: str, step: str, words: str) -> None:
    said = {r.id: r.text for r in sheet(seal).refit}
    assert words in said[step]


def test_what_else_is_laid_bare_is_told_with_its_chance() -> None:
    made = sheet("fuel_pump_flange_o_ring")
    reached = [c.seal_point for c in made.reached]
    # Behind the same pump; a seal point that nothing hides is not laid bare by anything.
    assert "fuel_pump_shaft_seal" in reached
    assert "oil_filler_cap" not in reached
    assert "crank_seal_rear" not in reached
    assert not set(reached) & {c.seal_point for c in made.renew}
    assert [c.leaks for c in made.reached] == sorted((c.leaks for c in made.reached), reverse=True)


# --- torque: only what the machine file says ----------------------------------------------------


def test_an_absent_torque_is_said_and_none_made_up() -> None:
    made = sheet_on(STAND, "plug")
    [joint] = made.joints
    assert "torque: look it up in the maker's data." in joint.refit
    assert not re.search(r"\d\s*N·m", sheet_text(made, 100))


def test_a_torque_is_told_with_whose_it_is() -> None:
    made = sheet_on(STAND, "cover_gasket")
    [joint] = made.joints
    assert not made.invented
    said = next(line for line in joint.refit if line.startswith("torque"))
    assert "12.5 N·m" in said
    assert "the manual <i>" in said
    assert "invented" not in said
    assert "order: from the left <u>." in joint.refit
    assert [r.torque for r in made.refit if r.id == "take_off_cover"] == [
        "torque: 8 N·m (value in the machine file: check with the maker's data)"
    ]


def test_figures_of_shipped_machines_are_called_invented() -> None:
    made = sheet("head_cover_gasket_rear", "fuel_rail_union", "head_gasket_oil")
    assert made.invented
    figures = [line for j in made.joints for line in j.refit if "N·m" in line]
    figures += [r.torque for r in made.refit if r.torque and "N·m" in r.torque]
    assert len(figures) > 3
    assert all("invented: check with the maker's data" in line for line in figures)


def test_an_invented_figure_stays_invented_in_a_machine_of_ones_own() -> None:
    assert "invented" in torque_said(9, "Invented", invented=False)
    assert "invented" in torque_said(9, None, invented=True)
    assert torque_said(None, None, invented=True) == UNKNOWN_TORQUE


def test_shipped_figures_are_such_as_are_common() -> None:
    # Common practice, no source: covers are tightened low, about 9 N m, and in order; fuel pipe
    # unions to about 23 N m.
    points = {s.id: s for s in ENGINE.seal_points}
    for cover in ("head_cover_gasket_rear", "sump_joint_left", "front_cover_joint_left"):
        assert 6 <= (points[cover].torque_Nm or 0) <= 12
        assert points[cover].tighten
    assert 18 <= (points["fuel_rail_union"].torque_Nm or 0) <= 28
    stated = [*ENGINE.seal_points, *ENGINE.access_steps]
    assert all(s.torque_from == "invented" for s in stated if s.torque_Nm is not None)


# --- practice at the joints ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", SealKind)
def test_every_kind_has_its_practice(kind: SealKind) -> None:
    practice = practice_of(kind)
    assert all((practice.take_out, practice.look, practice.found, practice.refit))


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        # Common practice, no source.
        (SealKind.MOULDED_GASKET, r"no sealant on it unless the maker says so"),
        (SealKind.FLAT_GASKET, r"no sealant on it unless the maker says so"),
        (SealKind.CRUSH_WASHER, r"new washer every time"),
        (SealKind.SHAFT_LIP_SEAL, r"oil the lip.*seated square"),
        (SealKind.HOSE_END, r"shortened by a few mm.*breaking a plastic barb"),
        (SealKind.PIPE_UNION, r"second spanner"),
        (SealKind.O_RING, r"without twisting"),
        (SealKind.SEALANT_JOINT, r"one unbroken bead.*cure"),
    ],
)
def test_what_is_common_practice(kind: SealKind, words: str) -> None:
    assert re.search(words, " ".join(practice_of(kind).refit).lower())


@pytest.mark.parametrize(
    "kind", [SealKind.FLAT_GASKET, SealKind.MOULDED_GASKET, SealKind.SEALANT_JOINT]
)
def test_faces_are_cleaned_and_nothing_scraped_inside(kind: SealKind) -> None:
    said = " ".join(practice_of(kind).take_out).lower()
    assert "clean both faces" in said
    assert "no scrapings get inside" in said


def test_checks_are_the_words_of_the_job_file() -> None:
    made = sheet("head_cover_gasket_rear", "vacuum_pump_o_ring")
    assert CHECKS == ("mirror", "wiped", "torque")
    records = [r for c in made.checks for r in c.records]
    assert sorted(records) == sorted(
        f"- {{renew: {c.seal_point}, checks: [mirror, wiped, torque]}}" for c in made.renew
    )
    [gasket] = [c for c in made.checks if c.name == "Head cover gasket, whole"]
    assert "before any fastener is tightened" in dict(gasket.boxes)["mirror"]
    assert "tight rear corners roll" in dict(gasket.boxes)["mirror"]


# --- before the start ---------------------------------------------------------------------------


def test_cautions_are_gathered_once() -> None:
    made = sheet("crank_seal_rear", "fuel_rail_union", "coolant_hose_top_end")
    assert len(set(made.cautions)) == len(made.cautions)
    said = "\n".join(made.cautions)
    for words in (
        "slowly under a rag",
        "negative off first",
        "rated stands",
        "Hot parts",
        "Solvent vapour",
        "waste fluid",
        "eye protection",
        "Never open a hot cooling",
    ):
        assert words in said
    # What the machine file says of fuel stands for the general words.
    assert said.count("slowly under a rag") == 1


def test_fluids_that_run_out_are_told() -> None:
    assert "drained in the strip-down" in " ".join(sheet("sump_joint_rear").fluids)
    [said] = sheet("drain_plug").fluids
    assert "runs out when these are opened: Sump drain plug washer" in said
    assert sheet("vacuum_pump_o_ring").fluids == ()


def test_one_use_parts_are_to_be_had_before_the_start() -> None:
    said = sheet_on(STAND, "cover_gasket").parts
    assert any("spring washers" in line for line in said)
    assert any("split pin" in line for line in said)


# --- how it is shown ----------------------------------------------------------------------------


def test_nothing_in_a_file_becomes_markup() -> None:
    page = job_sheet_page(sheet_on(STAND, "cover_gasket", "plug"))
    for tag in ("script", "img", "i", "u", "s", "a", "q", "em"):
        assert f"<{tag}>" not in page
        assert f"<{tag} " not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "Cover gasket &lt;b&gt;&amp; &#39;more&#39;&lt;/b&gt;" in page
    # Nothing is fetched.
    inside_tags = " ".join(re.findall(r"<[^>]*>", page))
    assert not re.search(r"\b(src|href|on\w+)=|https?:", inside_tags)
    assert not re.search(r"url\(|@import", page)


def test_page_and_text_tell_the_same() -> None:
    made = sheet()
    page, text = unescape(job_sheet_page(made)), " ".join(sheet_text(made, 100).split())
    assert MAKER_FIRST in page
    assert MAKER_FIRST in text
    for step in made.steps:
        assert step.name in page
        assert step.name in text
    boxes = 3 * len(made.checks) + 1 + len(made.parts) + len(made.steps) + len(made.refit)
    assert page.count('type="checkbox"') == boxes + len(made.wash_and_run)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_lines_fit_the_terminal(width: int) -> None:
    for line in sheet_text(sheet(), width).splitlines():
        # What is to be copied stays in one piece.
        assert len(line) <= width or line.strip().startswith("- {renew")


def test_nothing_to_renew_is_one_clear_sentence() -> None:
    dry = [{"zone": z, "state": "dry"} for z in ("side", "foot")]
    made = sheet_on(STAND, timeline=dry)
    assert made.renew == ()
    assert made.steps == made.refit == ()
    for said in (sheet_text(made, 200), job_sheet_page(made)):
        assert "Nothing is to be renewed" in said
        assert "1. What is" not in said
    jsonschema.Draft202012Validator(json_schema()).validate(document_of(made, None))


@pytest.mark.parametrize("renew", [(), ("crank_seal_rear",)])
def test_json_fits_its_schema(renew: tuple[str, ...]) -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    document = document_of(sheet(*renew), "sheet.html")
    jsonschema.Draft202012Validator(schema).validate(document)
    assert [s["step"] for s in document["strip"]] == [s.id for s in sheet(*renew).steps]
