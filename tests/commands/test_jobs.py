"""``leakdx jobs``, ``export`` and ``import``: a job taken in, listed, and given out whole."""

from __future__ import annotations

import json
from pathlib import Path
from shutil import copy
from typing import Any

import jsonschema
import pytest

from leakdx import cli
from leakdx.case.read import load_job, load_shipped_job, shipped_jobs
from leakdx.commands.jobs import table
from leakdx.files.yaml_lines import read_document
from leakdx.store.changes import Entered, Renamed
from leakdx.store.places import FILE_NAME
from leakdx.store.store import CaseStore, Filed

ROOT = Path(__file__).parent.parent.parent
DATA = ROOT / "tests" / "data"
JOBS = ROOT / "leakdx" / "library" / "jobs"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the store; the working folder is another one."""
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("LEAKDX_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path / "home"


def json_of(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    """What a command prints with --json, checked against its schema."""
    assert cli.main(["schema", args[0]]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert cli.main([*args, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(document)
    return document


def test_without_a_job_it_says_how_to_take_one_in(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["jobs"]) == 0
    assert capsys.readouterr().out == f"No job yet in {home}.\nTake one in: leakdx import FILE\n"
    assert json_of(capsys, "jobs") == {
        "format": "leakdx-jobs/1",
        "folder": str(home),
        "jobs": [],
    }


def test_jobs_are_listed_newest_change_first(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        assert cli.main(["import", str(DATA / "wet_foot.yaml")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == f"'wet_foot' with 9 entries and its machine 'pump_stand' is now in {home}."
    assert said[1].startswith("'wet_foot_2' with 9 entries")
    with CaseStore.open() as store:
        store.append(
            "wet_foot",
            [Entered({"zone": "cover_top", "state": "dry"}), Renamed("Foot \x1b[31mwet\nagain")],
            "k",
        )
    listed = json_of(capsys, "jobs")["jobs"]
    assert [(job["id"], job["entries"]) for job in listed] == [("wet_foot", 10), ("wet_foot_2", 9)]
    assert listed[0]["title"] == "Foot \x1b[31mwet\nagain"
    assert listed[0]["machine_id"] == "pump_stand"
    assert cli.main(["jobs"]) == 0
    text = capsys.readouterr().out
    assert "\x1b" not in text
    assert "    Foot [31mwet again, on Pump stand, made up for tests\n" in text
    assert text.index("wet_foot ") < text.index("wet_foot_2 ")
    assert str(home) in text


def test_a_long_title_keeps_within_the_terminal() -> None:
    job = Filed("a" * 20, "title " * 60, "machine " * 9, "m", 1234, "2031-05-01T10:00:00+02:00")
    lines = table([job], "/f", 60).splitlines()
    assert max(map(len, lines)) < 60
    assert "2031-05-01 10:00     1234" in lines[1]
    assert " ".join(" ".join(lines).split()).count("title") == 60


@pytest.mark.parametrize("name", shipped_jobs())
def test_a_job_given_out_and_taken_in_is_the_same(
    home: Path, name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded = load_shipped_job(name)
    assert json_of(capsys, "import", str(JOBS / f"{name}.yaml")) == {
        "format": "leakdx-import/1",
        "folder": str(home),
        "id": name,
        "counts": {"timeline": len(loaded.job.timeline)},
    }
    assert json_of(capsys, "export", name) == {
        "format": "leakdx-export/1",
        "file": f"{name}.yaml",
        "id": name,
        "counts": {"timeline": len(loaded.job.timeline)},
    }
    assert load_job(f"{name}.yaml") == loaded
    assert cli.main(["check", f"{name}.yaml"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{name}.yaml: case '{name}', no faults (timeline: ")
    schema_and_file(capsys, Path(f"{name}.yaml"))
    monkeypatch.setenv("LEAKDX_HOME", str(home / "another"))
    assert cli.main(["import", f"{name}.yaml"]) == 0
    with CaseStore.open() as store:
        assert store.read(name).loaded == loaded


def schema_and_file(capsys: pytest.CaptureFixture[str], path: Path) -> None:
    assert cli.main(["schema", "case"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$id"] == "leakdx:case/1"
    jsonschema.Draft202012Validator(schema).validate(read_document(path).data)


def test_a_machine_beside_the_job_is_taken_in_with_it(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("pump_stand.yaml", "wet_foot.yaml"):
        copy(DATA / name, ".")
    loaded = load_job("wet_foot.yaml")
    assert cli.main(["import", "wet_foot.yaml"]) == 0
    for name in ("pump_stand.yaml", "wet_foot.yaml"):
        Path(name).unlink()
    assert cli.main(["export", "wet_foot", "--out", "given.yaml"]) == 0
    out = capsys.readouterr().out
    assert "given.yaml: job 'wet_foot' with 9 entries and its machine 'pump_stand', whole." in out
    assert "leakdx import given.yaml" in out
    again = load_job("given.yaml")
    assert again.machine == loaded.machine
    assert again.job.timeline == loaded.job.timeline


def test_a_file_that_is_there_is_left(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["import", str(DATA / "wet_foot.yaml")]) == 0
    Path("wet_foot.yaml").write_text("mine\n")
    assert cli.main(["export", "wet_foot"]) == 2
    assert "wet_foot.yaml  is there already and is left as it is." in capsys.readouterr().err
    assert Path("wet_foot.yaml").read_text() == "mine\n"
    assert cli.main(["export", "wet_foot", "--out", "none/a.yaml"]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert [p.name for p in Path().iterdir()] == ["wet_foot.yaml"]


def test_a_faulty_file_is_told_and_nothing_is_taken_in(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy(DATA / "pump_stand.yaml", ".")
    text = (DATA / "wet_foot.yaml").read_text().replace("state: weeping", "state: weepy")
    Path("bad.yaml").write_text(text)
    assert cli.main(["import", "bad.yaml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("bad.yaml:12  timeline[2].state  must be one of")
    assert not home.exists()
    assert cli.main(["import", "none.yaml"]) == 2
    assert "is not there" in capsys.readouterr().err


def test_a_job_that_is_not_there_is_told(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["import", str(DATA / "wet_foot.yaml")]) == 0
    capsys.readouterr()
    assert cli.main(["export", "wet_fot", "--json"]) == 2
    found = json.loads(capsys.readouterr().out)
    (fault,) = found["faults"]
    assert fault["problem"] == "no job 'wet_fot' is in the case store"
    assert fault["remedy"] == "Did you mean 'wet_foot'?"
    assert list(Path().iterdir()) == []


@pytest.mark.parametrize("command", [["jobs"], ["export", "x"], ["import", "JOB"]])
def test_a_store_that_cannot_be_used_is_told(
    home: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    home.mkdir()
    (home / FILE_NAME).write_bytes(b"not a store\n" * 100)
    args = [str(DATA / "wet_foot.yaml") if arg == "JOB" else arg for arg in command]
    assert cli.main(args) == 2
    err = capsys.readouterr().err
    assert "is not a case store of leakdx. It was left as it is" in err
    assert "Traceback" not in err
    assert (home / FILE_NAME).read_bytes() == b"not a store\n" * 100
