"""``leakdx why``: reasons in words and numbers, the picture, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from leakdx import cli
from leakdx.case.read import load_shipped_job
from leakdx.reasons.account import STAGES, Account, why
from leakdx.reasons.why_schema import document_of, json_schema

JOB = "right_side_two_fluids"
FEW = ["--draws", "20"]


@pytest.fixture(scope="module")
def account() -> Account:
    return why(load_shipped_job(JOB), draws=20)


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_document_is_what_the_schema_says(account: Account) -> None:
    document = json.loads(json.dumps(document_of(account)))
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)
    first = document["candidates"][0]
    added = sum(r["in_order"] for r in first["readings"])
    assert added == pytest.approx(first["after"] - first["before"], abs=1e-6)
    of_groups = sum(document["conflict"]["within"].values()) + document["conflict"]["between"]
    assert of_groups == pytest.approx(document["conflict"]["whole"], abs=1e-6)


def test_every_part_is_told_in_the_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "92")
    assert cli.main(["why", JOB, *FEW]) == 0
    said = capsys.readouterr().out
    for title in (
        "For and against",
        "in decibans",
        "If a reading were wrong",
        "Do the readings agree?",
        "What else could be behind it",
        "Leaks together",
        "The way of the fluid",
        "How firm is it?",
        "Which number matters most",
    ):
        assert title in said, title
    assert all(len(line) < 92 for line in said.splitlines())


def test_every_stage_is_told_to_who_waits() -> None:
    heard = []
    why(load_shipped_job(JOB), draws=20, step=lambda: heard.append(1))
    assert len(heard) == len(STAGES)


def test_the_seal_point_asked_for_comes_first(account: Account) -> None:
    other = account.candidates[1].seal_point
    found = why(load_shipped_job(JOB), seal_point=other, draws=20)
    assert [c.seal_point for c in found.candidates[:2]] == [
        other,
        account.candidates[0].seal_point,
    ]
    assert all(r.seal_point == other for r, _ in found.routes)
    table = found.table()
    assert list(table["reading"]) == list(account.weights.readings)
    with pytest.raises(KeyError):
        found.table("nowhere")


def test_a_seal_point_that_is_not_there_is_refused(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    mistyped = ["--seal", "crank_seal_raer", "--picture", "way.svg"]
    assert cli.main(["why", JOB, *mistyped]) == 2
    said = capsys.readouterr().err
    assert "crank_seal_raer" in said
    assert "Did you mean 'crank_seal_rear'?" in said
    assert not list(here.iterdir())


@pytest.mark.parametrize("number", ["0", "19", "-5", "many", "1e9"])
def test_a_number_of_draws_that_tells_nothing_is_refused(number: str) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main(["why", JOB, f"--draws={number}"])
    assert stopped.value.code == 2


def test_the_way_is_drawn(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["why", JOB, *FEW, "--picture", "way.svg"]) == 0
    root = ElementTree.parse(here / "way.svg").getroot()
    assert root.tag.endswith("svg")
    assert "way.svg" in capsys.readouterr().out


def test_the_seal_points_of_the_command_have_routes_of_their_own_fluid(account: Account) -> None:
    fluids = {s.id: s.fluid for s in load_shipped_job(JOB).machine.seal_points}
    assert account.routes
    for route, _ in account.routes:
        assert route.fluid == fluids[route.seal_point]
        assert route.steps[0].source == route.seal_point
        assert route.steps[-1].target == route.zone
