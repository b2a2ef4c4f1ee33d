"""The benchmark: shape of what it prints, and what it says of referees.  No times are tested."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from leakdx.bench import asking, main
from leakdx.bench.command import measured
from leakdx.bench.problem import Bench
from leakdx.bench.report import NOT_ASKED, Against, Computer, Report, Row, json_schema
from leakdx.bench.rows import ROWS
from leakdx.bench.timed import timing_of
from leakdx.bench.timing import threads

JOB = str(Path(__file__).parent.parent / "data" / "wet_foot.yaml")
QUICK = ["--job", JOB, "--quick"]
WANTED = {"update", "log_evidence", "batch-64", "build", "compile", "memory", "import", "rank"}


def only(*names: str) -> list[str]:
    return [word for name in names for word in ("--only", name)]


def printed(capsys: pytest.CaptureFixture[str], *args: str) -> dict[str, Any]:
    assert main([*QUICK, "--json", *args]) == 0
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json_schema()).validate(document)
    return document


def checked(report: Report) -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(json.loads(json.dumps(report.to_json_dict())))


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench(JOB, quick=True)


def test_every_row_fits_the_schema(capsys: pytest.CaptureFixture[str]) -> None:
    document = printed(capsys, "--no-referees", *only(*ROWS))
    assert [r["name"] for r in document["rows"]] == list(ROWS)
    assert set(ROWS) >= WANTED
    for row in document["rows"]:
        assert row["median"] > 0 and row["spread"] >= 0 and row["repeats"] >= 3
        assert row["vs_pyagrum"] is None and row["vs_pgmpy"] is None
        assert NOT_ASKED in row["notes"]
    reference = {"job": "wet_foot", "machine": "pump_stand", "zones": 4, "seal_points": 3}
    assert document["reference"] == reference


def test_referees_agree_on_the_seal_points(capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = printed(capsys, *only("update"))["rows"]
    for referee in ("pyagrum", "pgmpy"):
        assert row[f"vs_{referee}"]["times"] > 0
        assert row[f"vs_{referee}"]["at_least"] is False
        (note,) = [n for n in row["notes"] if n.startswith(f"largest difference from {referee}")]
        assert "in 3 seal points" in note
        assert float(note.rpartition(" ")[2]) < 1e-9


@pytest.mark.parametrize("referee", ["pyagrum", "pgmpy"])
def test_a_missing_referee_is_said(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, referee: str
) -> None:
    monkeypatch.setattr(asking, "installed", lambda name: False)
    row = ROWS["update"](bench)
    assert row.vs_pyagrum is None and row.vs_pgmpy is None
    assert any(n.startswith(f"{referee} is not installed") for n in row.notes)


@pytest.mark.parametrize("referee", ["pyagrum", "pgmpy"])
def test_a_referee_out_of_time_gives_no_number_or_a_bound(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, referee: str
) -> None:
    monkeypatch.setitem(asking.BUDGET_s, referee, 0.05)
    reply = asking.ask(referee, bench.full, {})
    assert reply.seconds is None and reply.against(1.0) is None
    assert reply.notes == (f"{referee} was not ready to answer when its time was over",)


@pytest.mark.parametrize("referee", ["pyagrum", "pgmpy"])
def test_stopped_at_work_is_a_lower_bound(monkeypatch: pytest.MonkeyPatch, referee: str) -> None:
    told = [
        {"event": "ready", "at": 100.0, "largest": None},
        {"event": "stopped", "at": 130.0, "budget_s": 31.0},
    ]
    seconds, at_least, (note,) = asking._judged(referee, told, 60)
    assert (seconds, at_least) == (30.0, True)
    assert "lower bound" in note
    assert str(asking.Reply(seconds, at_least, ()).against(0.01)) == "at least 3000"


def test_too_little_memory_is_no_number() -> None:
    told = [
        {"event": "ready", "at": 1.0, "largest": 4_398_046_511_104},
        {"event": "failed", "at": 2.0, "why": "memory"},
        {"event": "ended", "at": 2.0},
    ]
    seconds, at_least, (note,) = asking._judged("pyagrum", told, 60)
    assert seconds is None and not at_least
    assert note.startswith("pyagrum cannot: ") and "4.4e+12 entries" in note


def test_a_row_that_fails_costs_no_other(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: Bench) -> Row:
        raise RuntimeError("no tables today")

    monkeypatch.setitem(ROWS, "build", broken)
    report = measured(bench, ("flow", "build"))
    by_name = {row.name: row for row in report.rows}
    assert by_name["flow"].median is not None
    assert by_name["build"].median is None
    assert "no tables today" in by_name["build"].notes[0]
    assert "failed" in report.to_text()
    checked(report)
    assert main([*QUICK, *only("flow", "build")]) == 1


def test_text_has_a_line_for_each_row(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*QUICK, "--no-referees", *only("flow", "build", "flow")]) == 0
    out, progress = capsys.readouterr()
    assert [line.split()[0] for line in out.splitlines() if " zones, " in line][-1:] == ["flow"]
    assert "vs_pyagrum" in out and "thread" in out
    assert "flow ..." in progress and "update" not in progress


def test_unknown_rows_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--only", "speed"])
    assert stopped.value.code == 2
    assert "update-barest" in capsys.readouterr().err


def test_bounds_and_none_fit_the_schema() -> None:
    row = Row("a", "b", "c", 3, 1.0, 0.0, "s", Against(1234.5, True), None, ("why",))
    about = Computer("3", "2", "here", 2, 2, None, None, None, None)
    report = Report("0", about, "j", "m", 1, 1, False, (row,))
    checked(report)
    assert "at least 1230" in report.to_text()
    assert "not installed" in report.to_text()


def test_variants_differ_and_favour_what_was_seen(bench: Bench) -> None:
    for name, seen in bench.full.asked.evidence.items():
        columns = bench.full.columns[name]
        assert columns.shape == (len(seen), 64)
        assert (columns.argmax(axis=0) == seen.argmax()).all()
        assert len(np.unique(columns.min(axis=0))) == 64


def test_threads_are_those_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "1")
    assert threads() == (1, "OMP_NUM_THREADS")
    monkeypatch.setenv("OMP_NUM_THREADS", "some")
    assert threads()[1] is None


def test_spread_is_the_interquartile_range() -> None:
    timing = timing_of([1.0, 2.0, 3.0, 4.0, 100.0])
    assert (timing.median, timing.spread, timing.repeats) == (3.0, 2.0, 5)
