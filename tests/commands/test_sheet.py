"""``leakdx sheet``: what is printed and written, and what is told of wrong names and files."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from leakdx import cli

JOB = "rear_of_engine_wet"
DATA = Path(__file__).parents[1] / "data"
SMALL = f"""format: leakdx-job/1
id: stand
machine: {{id: pump_stand, version: "1.2", file: {DATA / "pump_stand.yaml"}}}
conditions: {{hours: 40}}
timeline:
  - {{zone: cover_side, state: running, fluid: gear_oil}}
"""


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job on a small machine, outside the folder that is worked in."""
    job = tmp_path_factory.mktemp("jobs") / "job.yaml"
    job.write_text(SMALL)
    return job


def test_a_sheet_is_printed_and_written(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chosen = ["--renew", "head_cover_gasket", "vacuum_pump_o_ring"]
    assert cli.main(["sheet", JOB, *chosen, "--out", "sheet.html"]) == 0
    said = capsys.readouterr().out
    assert "The maker's procedure and local rules come first" in said
    assert "- {renew: vacuum_pump_o_ring, checks: [mirror, wiped, torque]}" in said
    said = " ".join(said.split())
    assert "at working temperature" in said
    assert "If all of that is dry, what was renewed holds with" in said
    assert "The sheet to print is in sheet.html." in said
    page = (here / "sheet.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "Vacuum pump flange ring" in page
    assert "<svg" in page


def test_json_follows_its_schema(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["schema", "sheet"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert cli.main(["sheet", str(small), "--renew", "cover_gasket", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(found)
    assert [c["seal_point"] for c in found["renew"]] == ["cover_gasket"]
    assert found["file"] is None
    assert list(here.iterdir()) == []


def test_how_long_to_run_is_what_cure_says_once_the_sheet_was_worked_off(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["sheet", str(small), "--renew", "cover_gasket", "--json"]) == 0
    sheet = json.loads(capsys.readouterr().out)
    records = [r for check in sheet["checks"] for r in check["records"]]
    small.write_text(SMALL + "".join(f"  {record}\n" for record in records))
    assert cli.main(["cure", str(small), "--json"]) == 0
    proof = json.loads(capsys.readouterr().out)["proof"]
    told = sheet["proof"]
    assert told["needed"] == proof["needed"] != []
    assert {key: proof[key] for key in told} == told


def test_every_wrong_name_is_told_at_once_and_nothing_written(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--renew", "drain_plgu", "drain_plug", "nonsense", "--renew", JOB]
    assert cli.main(["sheet", *asked, "--out", "job.yaml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = err.splitlines()
    assert len(lines) == 4
    assert lines[0] == (
        "--renew  names the seal point 'drain_plgu', which the machine 'forestry_carrier_five' "
        "lacks. Did you mean 'drain_plug'?"
    )
    assert "'nonsense'" in lines[1]
    assert lines[2].endswith("Name the job before --renew.")
    assert lines[3].startswith("--out  names 'job.yaml'")
    assert list(here.iterdir()) == []


def test_faults_as_json_follow_their_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["schema", "faults"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert cli.main(["sheet", JOB, "--json", "--renew", "nonsense"]) == 2
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(found)
    assert [f["path"] for f in found["faults"]] == ["--renew"]


def test_a_file_that_cannot_be_written_is_told(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--renew", "cover_gasket", "--out", "none/sheet.html"]
    assert cli.main(["sheet", str(small), *asked]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("none/sheet.html  --out  cannot be written")
    assert list(here.iterdir()) == []


def test_the_owners_sheet_is_written_instead(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--renew", "cover_gasket", "--customer", "--out", "owner.html"]
    assert cli.main(["sheet", str(small), *asked]) == 0
    said = capsys.readouterr().out
    assert "We propose to renew one joint" in said
    assert "The sheet for the owner is in owner.html." in said
    assert "Strip down" not in said
    page = (here / "owner.html").read_text(encoding="utf-8")
    assert "What we found and what we propose" in page
    assert "gear oil, running" in page


def test_the_owners_sheet_tells_of_a_repair(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    small.write_text(SMALL + "  - {renew: cover_gasket}\n  - {wash: whole}\n")
    assert cli.main(["sheet", str(small), "--customer", "--out", "owner.html"]) == 0
    assert "It was repaired." in capsys.readouterr().out
    page = (here / "owner.html").read_text(encoding="utf-8")
    assert "What was renewed" in page


def test_json_is_the_same_with_the_owners_sheet(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = []
    for more in ([], ["--customer"]):
        asked = ["--renew", "cover_gasket", "--out", "page.html", "--json", *more]
        assert cli.main(["sheet", str(small), *asked]) == 0
        found.append(json.loads(capsys.readouterr().out))
    assert found[0] == found[1]
    assert found[0]["file"] == "page.html"


def test_the_owners_sheet_needs_a_file(
    here: Path, small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["sheet", str(small), "--customer", "--renew", "nonsense"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert [line.partition(" ")[0] for line in err.splitlines()] == ["--renew", "--customer"]
    assert "Add --out" in err
    assert list(here.iterdir()) == []


def test_an_empty_plan_is_a_clear_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["sheet", "front_drip_after_refit"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Nothing is to be renewed" in said
    assert "with --renew" in said


def test_an_empty_plan_needs_no_proof(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["sheet", "front_drip_after_refit", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["proof"] is None and found["wash_and_run"] == []


def test_who_waits_is_told_what_is_done(
    small: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    assert cli.main(["sheet", str(small), "--renew", "cover_gasket"]) == 0
    err = capsys.readouterr().err
    stages = ("putting the sheet together", "after the repair", "driven runs", "idled runs")
    places = [err.index(stage) for stage in stages]
    assert places == sorted(places)
