"""What is in the way is told at once and in words, and nothing is begun."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from shutil import copy

import pytest

from leakdx import cli
from leakdx.files.faults import FaultyInput
from leakdx.opening import asked as asked_for
from leakdx.opening.asked import Asked, bound, made_ready
from leakdx.store.store import CaseStore
from tests.opening.served import ROOT

JOB = ROOT / "leakdx" / "library" / "jobs" / "rear_of_engine_wet.yaml"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the store; the working folder is another one."""
    (tmp_path / "work").mkdir()
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv("LEAKDX_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def taken() -> Iterator[int]:
    """A port that another program listens on."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_all_that_is_in_the_way_is_told_at_once(
    home: Path, taken: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["open", "rear_of_engine_wett", "--page", "--port", str(taken)]) == 2
    said = capsys.readouterr().err
    assert f"port {taken} is taken by another program. Name another port, or leave --port" in said
    assert "no job 'rear_of_engine_wett': none you have begun, no file, and no example" in said
    assert "Did you mean 'rear_of_engine_wet'?" in said


def test_with_a_port_taken_the_command_ends_before_anything_is_begun(
    tmp_path: Path, taken: int
) -> None:
    (tmp_path / "temporary").mkdir()
    env = os.environ | {
        "LEAKDX_HOME": str(tmp_path / "home"),
        "TMPDIR": str(tmp_path / "temporary"),
        "PYTHONPATH": str(ROOT),
    }
    command = [sys.executable, "-m", "leakdx.cli", "open", str(JOB), "--no-browser"]
    done = subprocess.run(
        [*command, "--json", "--port", str(taken)],
        env=env, cwd=tmp_path, capture_output=True, text=True, timeout=90,
    )  # fmt: skip
    assert done.returncode == 2
    [fault] = json.loads(done.stdout)["faults"]
    assert fault["path"] == "--port"
    assert not list((tmp_path / "temporary").iterdir())
    with CaseStore.open(tmp_path / "home") as store:
        assert store.jobs() == ()


def test_what_is_not_installed_is_named_with_the_command_for_it(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asked_for, "find_spec", lambda name: None if name == "voila" else name)
    with pytest.raises(FaultyInput) as raised:
        made_ready(Asked(page=True))
    [fault] = raised.value.faults
    assert fault.problem == "voila is not installed"
    assert "pip install 'leakdx[page]'" in fault.remedy
    # JupyterLab does without it.
    made_ready(Asked(page=False)).sock.close()


def test_a_store_that_cannot_be_made_is_told(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (home.parent / "file").write_text("not a folder")
    # Put back what --store changes.
    monkeypatch.setenv("LEAKDX_HOME", str(home))
    assert cli.main(["open", "--page", "--store", str(home.parent / "file" / "inner")]) == 2
    assert "cannot be made or written" in capsys.readouterr().err


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_a_number_that_is_no_port_is_told(port: int) -> None:
    with pytest.raises(FaultyInput) as raised:
        bound(port)
    assert raised.value.faults[0].problem == f"{port} is no port"


def test_the_socket_is_on_loopback_and_takes_connections_at_once() -> None:
    with bound(None) as sock:
        assert sock.getsockname()[0] == "127.0.0.1"
        # A browser that is quicker than the server waits here.
        with socket.create_connection(sock.getsockname(), timeout=5):
            pass


def test_nothing_is_taken_where_something_is_in_the_way(home: Path) -> None:
    with bound(None) as free:
        port = free.getsockname()[1]
    with pytest.raises(FaultyInput):
        made_ready(Asked(page=True, job="no_such_job", port=port))
    bound(port).close()


def test_a_job_is_an_id_in_the_store_a_file_or_an_example(home: Path) -> None:
    def opened(name: str | None) -> str | None:
        ready = made_ready(Asked(page=True, job=name))
        ready.sock.close()
        return ready.job_id

    assert opened(None) is None
    assert opened("rear_of_engine_wet") == "rear_of_engine_wet"
    # The second time it is that of the store, and no second one is begun.
    assert opened("rear_of_engine_wet") == "rear_of_engine_wet"
    copy(JOB, "mine.yaml")
    assert opened("mine.yaml") == "rear_of_engine_wet_2"
    # The same file again is the same job.
    assert opened("mine.yaml") == "rear_of_engine_wet_2"
    with CaseStore.open() as store:
        assert len(store.jobs()) == 2


def test_a_faulty_job_file_is_told_with_its_faults(home: Path) -> None:
    Path("mine.yaml").write_text("format: leakdx-job/1\nid: x\n")
    with pytest.raises(FaultyInput) as raised:
        made_ready(Asked(page=True, job="mine.yaml"))
    assert any("machine" in fault.path for fault in raised.value.faults)
    with CaseStore.open() as store:
        assert store.jobs() == ()


def test_the_command_is_listed_with_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["schema", "open"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert set(schema["properties"]) == {"format", "address", "job", "folder"}
