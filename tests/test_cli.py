"""The command: files checked, schemas printed, faults told; no traceback, nothing written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from shutil import copy
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leakdx import cli
from leakdx.files.places import priors_folder, shipped_ids

ROOT = Path(__file__).parent.parent
DATA = ROOT / "tests" / "data"
STAND = (DATA / "pump_stand.yaml").read_text()
JOB = (DATA / "wet_foot.yaml").read_text()
LIBRARY = ROOT / "leakdx" / "library"
KINDS = ("machines", "layouts", "parts", "jobs")
SHIPPED = [
    *(LIBRARY / kind / f"{name}.yaml" for kind in KINDS for name in shipped_ids(kind)),
    *(Path(str(p)) for p in priors_folder().iterdir() if p.name.endswith(".yaml")),
]


def process(*args: str, folder: Path = ROOT, **more: Any) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-W", "error::DeprecationWarning", "-m", "leakdx.cli", *args],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        **more,
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy(DATA / "pump_stand.yaml", tmp_path)
    copy(DATA / "wet_foot.yaml", tmp_path)
    return tmp_path


# --- check ------------------------------------------------------------------------------------


def test_check_says_what_each_file_is(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    assert cli.main(["check", "pump_stand.yaml", "wet_foot.yaml"]) == 0
    out, err = capsys.readouterr()
    assert out.splitlines() == [
        "pump_stand.yaml: machine 'pump_stand' version 1.2, no faults (fluids: 2, zones: 4, "
        "seal points: 3, causes: 1, access steps: 2, inspections: 2)",
        "wet_foot.yaml: job 'wet_foot', no faults (timeline: 9, seal histories: 1)",
    ]
    assert err == ""


def test_check_as_json_follows_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["schema", "check"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert cli.main(["check", "--json", *map(str, SHIPPED)]) == 0
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(found)
    assert found["format"] == "leakdx-check/1"
    assert [entry["file"] for entry in found["files"]] == [str(path) for path in SHIPPED]


def test_check_tells_good_files_and_bad_ones(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = folder / "bad.yaml"
    bad.write_text("format: leakdx-machin/1\n")
    assert cli.main(["check", str(folder / "pump_stand.yaml"), str(bad), "none.yaml"]) == 2
    out, err = capsys.readouterr()
    assert "machine 'pump_stand'" in out
    assert err.splitlines() == [
        f"{bad}:1  format  is 'leakdx-machin/1', which is no known format. "
        "Did you mean 'leakdx-machine/1'?",
        "none.yaml  is not there. Check the name and the folder.",
    ]


# --- every bad input --------------------------------------------------------------------------

BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nd: [*c, *c]\n"
BAD: dict[str, tuple[str | bytes, str, str]] = {
    # name: (content, where, what is said)
    "empty": ("", "", "is empty"),
    "binary": (b"\x7fELF\x02\x01\x01\x00\x00", ":1", "is not a text file"),
    "latin": (b"name: \xe9\n", ":1", "is not UTF-8 text"),
    "bomb": (BOMB, ":1", "anchor or alias"),
    "tag": ("format: !!python/object/apply:os.system ['touch bad']\n", ":1", "has the tag"),
    "merge": ("a: {<<: {b: 1}}\n", ":1", "is a merge key"),
    "twice": (STAND.replace("id: pump_stand\n", "id: a\nid: b\n"), ":4", "on line 3 and on line 4"),
    "two documents": (STAND + "---\na: 1\n", ":72", "starts a second document"),
    "deep": ("a: " + "[" * 40 + "]" * 40, ":1", "is nested more than 30 deep"),
    "tab": ("a:\n\tb: 1\n", ":2", "has a tab"),
    "not a number": (STAND.replace("9000", ".nan"), ":17", "zones.cover_top.area_mm2  is '.nan'"),
    "negative": (
        STAND.replace("area_mm2: 9000", "area_mm2: -3"),
        ":17",
        "zones.cover_top.area_mm2  must be above 0, is -3. Give the area in mm2.",
    ),
    "unknown zone": (
        STAND.replace("zones: [cover_side]", "zones: [cover_sid]"),
        ":43",
        "zones[0]  names the zone 'cover_sid', which the machine does not have. "
        "Did you mean 'cover_side'?",
    ),
    "repeated id": (
        STAND.replace(
            "  - {id: open_gate,", "  - {id: open_gate, minutes: 3}\n  - {id: open_gate,"
        ),
        ":61",
        "is the id of two access steps",
    ),
    "cycle of steps": (
        STAND.replace("minutes: 1}", "minutes: 1, after: [take_off_guard]}"),
        ":61",
        "closes a cycle, open_gate -> take_off_guard -> open_gate",
    ),
    "cycle of paths": (
        STAND.replace("share: 0.8}", "share: 0.8}\n  - {source: drip_tray, target: foot_left}"),
        ":40",
        "closes a cycle, foot_left -> drip_tray -> foot_left",
    ),
    "seal without a zone": (
        STAND.replace("    zones: [cover_side]\n", ""),
        ":41",
        "seal_points.cover_gasket.zones  is missing",
    ),
    "seal with no zone": (
        STAND.replace("zones: [cover_side]", "zones: []"),
        ":43",
        "seal_points.cover_gasket.zones  must have at least 1 in it, has 0",
    ),
    "chance above 1": (STAND.replace("miss: 0.1", "miss: 1.5"), ":71", "must be at most 1, is 1.5"),
    "chance below 0": (STAND.replace("miss: 0.1", "miss: -1"), ":71", "must be at least 0, is -1"),
    "other version": (
        JOB.replace('version: "1.2"', 'version: "2.0"'),
        ":3",
        "machine.version  is '2.0', but 'pump_stand' in pump_stand.yaml has version '1.2'. Use",
    ),
    "no format": ("id: x\n", ":1", "format  is missing"),
}


def write(folder: Path, content: str | bytes) -> Path:
    path = folder / "bad.yaml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gives_one_clear_error(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    content, where, said = BAD[name]
    path = write(folder, content)
    monkeypatch.chdir(folder)
    before = sorted(folder.iterdir())
    assert cli.main(["check", "bad.yaml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert err.startswith(f"bad.yaml{where}  ")
    assert said in err
    assert "Traceback" not in err
    assert sorted(folder.iterdir()) == before
    assert path.read_bytes() == (content if isinstance(content, bytes) else content.encode())

    assert cli.main(["check", "--json", "bad.yaml"]) == 2
    out, err = capsys.readouterr()
    (fault,) = json.loads(out)["faults"]
    assert err == ""
    assert fault["file"] == "bad.yaml"
    assert fault["line"] == (int(where[1:]) if where else None)
    assert fault["remedy"]


def test_a_large_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = folder / "large.yaml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    assert cli.main(["check", str(path)]) == 2
    assert "is too large: 50.0 MB, at most 5 MB is read" in capsys.readouterr().err
    assert cli.main(["rank", str(path)]) == 2
    assert "is too large" in capsys.readouterr().err


def test_rank_tells_faults_before_anything_else(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(folder, JOB.replace("{zone: foot_left", "{zone: foot_lift"))
    assert cli.main(["rank", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"{path}:10  timeline[0].zone  names the zone 'foot_lift', which the machine does not "
        "have. Did you mean 'foot_left'?\n"
    )
    assert cli.main(["rank", "--json", "no_such_job"]) == 2
    assert json.loads(capsys.readouterr().out)["faults"][0]["problem"] == "is not there"


def test_faults_as_json_follow_their_schema(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["schema", "faults"]) == 0
    schema = json.loads(capsys.readouterr().out)
    path = write(folder, STAND.replace("9000", "-1").replace("miss: 0.1", "miss: 7"))
    assert cli.main(["check", "--json", str(path), str(folder / "none.yaml")]) == 2
    found = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(found)
    assert found["format"] == "leakdx-faults/1"
    assert [fault["line"] for fault in found["faults"]] == [17, 71, None]


def test_no_traceback_from_a_process_of_its_own(folder: Path) -> None:
    write(folder, BAD["binary"][0])
    done = process("check", "bad.yaml", ".", "none.yaml", folder=folder)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.splitlines() == [
        "bad.yaml:1  is not a text file. Give a YAML file, saved as UTF-8 text.",
        ".  is a folder. Give the file itself.",
        "none.yaml  is not there. Check the name and the folder.",
    ]


def test_letters_the_terminal_cannot_show(folder: Path) -> None:
    write(folder, "format: schön☃\n")
    done = subprocess.run(
        [sys.executable, "-m", "leakdx.cli", "check", "bad.yaml"],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 2
    assert b"sch\\xf6n\\u2603" in done.stderr


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    text=st.sampled_from([STAND, JOB]),
    cuts=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), st.text(max_size=6)), max_size=4),
)
def test_a_mutated_file_ends_in_0_or_2(
    text: str, cuts: list[tuple[float, int, str]], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for share, length, put in cuts:
        at = int(share * len(text))
        text = text[:at] + put + text[at + length :]
    path = folder / "mutated.yaml"
    path.write_bytes(text.encode("utf-8", "replace"))
    code = cli.main(["check", str(path)])
    out, err = capsys.readouterr()
    assert (code, bool(out), bool(err)) in {(0, True, False), (2, False, True)}


# --- schemas ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        *("machine", "layout", "part", "build", "job", "prior"),
        *("check", "faults", "machines", "new", "show", "rank", "bench"),
    ],
)
def test_a_schema_is_one_of_2020_12(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["schema", name]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"leakdx:{name}/1"
    assert schema["title"]
    assert schema["description"]
    jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("path", [*SHIPPED, DATA / "pump_stand.yaml", DATA / "wet_foot.yaml"])
def test_files_follow_their_schema(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from leakdx.files.yaml_lines import read_document

    data = json.loads(json.dumps(read_document(path).data))
    assert cli.main(["schema", data["format"].split("-")[1].split("/")[0]]) == 0
    schema = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(data)


def test_a_schema_gives_units(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["schema", "machine"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$defs"]["Zone"]["properties"]["area_mm2"]["description"] == "area in mm2"


# --- the process ------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["import leakdx", "import leakdx.cli", "HELP"])
def test_help_and_import_load_nothing_heavy(code: str) -> None:
    if code == "HELP":
        code = (
            "import contextlib, io\nfrom leakdx.cli import main\n"
            "with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()):\n"
            "    main(['--help'])"
        )
    code += (
        "\nimport sys"
        "\nprint([m for m in ('numpy', 'pandas', 'pgmpy', 'pydantic', 'yaml') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == "[]\n"


def test_nobody_reads() -> None:
    read, write_end = os.pipe()
    os.close(read)
    with os.fdopen(write_end, "wb") as closed:
        done = subprocess.run(
            [sys.executable, "-m", "leakdx.cli", "schema", "machine"],
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdout=closed,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert (done.returncode, done.stderr) == (128 + signal.SIGPIPE, b"")


def test_stopped_by_the_user(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(_args: object) -> int:
        raise KeyboardInterrupt

    stopping: Callable[[object], int] = stop
    monkeypatch.setattr(cli, "_check", stopping)
    assert cli.main(["check", "x"]) == 128 + signal.SIGINT
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize("args", [[], ["chek"], ["schema", "x"], ["check"]])
def test_a_wrong_command_line(args: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        cli.main(args)
    assert caught.value.code == 2
    assert capsys.readouterr().err.startswith("usage: leakdx")
