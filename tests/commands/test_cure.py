"""``leakdx cure``: what is printed, in the terminal and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from leakdx import cli

DATA = Path(__file__).parents[1] / "data"
HEAD = f"""format: leakdx-job/1
id: repaired
name: A pump stand after a repair
machine: {{id: pump_stand, version: "1.2", file: {DATA / "pump_stand.yaml"}}}
conditions: {{hours: 40}}
timeline:
  - {{zone: cover_side, state: running, fluid: gear_oil}}
"""
REPAIR = "  - {renew: cover_gasket}\n"
CLEAN = "  - {wash: whole}\n  - {run_minutes: 45, use: driven}\n"
DRY = "  - {zone: cover_side, state: dry, inspection: look_at_cover}\n"
WET = "  - {zone: cover_side, state: running, age: fresh, fluid: gear_oil}\n"


@pytest.fixture
def written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path / "job.yaml"


TIMELINES = {
    "dry": REPAIR + CLEAN + DRY,
    "wet": REPAIR + CLEAN + WET,
    "unwashed": REPAIR + WET,
    "not looked": REPAIR + CLEAN,
    "no repair": DRY,
}


@pytest.mark.parametrize("kind", TIMELINES)
def test_json_follows_its_schema(
    kind: str, written: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written.write_text(HEAD + TIMELINES[kind])
    assert cli.main(["schema", "cure"]) == 0
    schema = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert cli.main(["cure", str(written), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(found)
    assert found["format"] == "leakdx-cure/1"
    assert (found["again"] is not None) == (kind == "wet")
    assert (found["proof"] is not None) == (kind in ("dry", "unwashed", "not looked"))
    assert found["washed"] == (kind in ("dry", "wet", "not looked"))
    assert len(found["course"]) == (kind in ("dry", "wet", "unwashed"))
    assert (found["before"] is None) == (kind == "no repair")


@pytest.mark.parametrize("kind", TIMELINES)
@pytest.mark.parametrize("columns", [72, 100])
def test_it_fits_the_terminal_and_ends_with_one_step_and_the_cautions(
    kind: str,
    columns: int,
    written: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    written.write_text(HEAD + TIMELINES[kind])
    assert cli.main(["cure", str(written)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) < columns for line in lines)
    assert sum(line.startswith("Next: ") for line in lines) == 1
    assert lines[-1] == "! The maker's procedure and local rules come first."


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("dry", "What each reading since the repair did"),
        ("dry", "Wash it whole, run it at working temperature, look"),
        ("dry", "Hot parts burn"),
        ("wet", "It is wet again"),
        ("wet", "cover gasket (renewed)"),
        ("unwashed", "what is wet may be from before"),
        ("not looked", "Nothing has been looked at since the repair"),
        ("no repair", "Nothing was renewed or worked on in this job"),
    ],
)
def test_what_is_said(
    kind: str, said: str, written: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written.write_text(HEAD + TIMELINES[kind])
    assert cli.main(["cure", str(written)]) == 0
    assert said in " ".join(capsys.readouterr().out.split())


def test_a_job_with_faults_is_refused(written: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written.write_text(HEAD + "  - {renew: nothing_of_the_kind}\n")
    assert cli.main(["cure", str(written)]) == 2
    assert "nothing_of_the_kind" in capsys.readouterr().err


def test_the_shipped_job_is_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert cli.main(["cure"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("Invented example: ")
    assert all(len(line) < 100 for line in lines)
    told = " ".join(lines)
    for words in ("Head cover gasket holds", "What else helps", "dye and lamp", "night parked"):
        assert words in told
