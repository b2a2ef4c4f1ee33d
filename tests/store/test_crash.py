"""Processes that are killed, and processes that write to one job at the same time."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TextIO

import pytest

from leakdx.store.changes import Entered
from leakdx.store.places import FILE_NAME
from leakdx.store.store import CaseStore
from tests.store.filed import DRY, ROOT, begun, raw

HEAD = """
import json, sys
from pathlib import Path
from leakdx.store.changes import Entered
from leakdx.store.store import CaseStore
folder, name = Path(sys.argv[1]), sys.argv[2]
"""
# Says the key of each message once it is acknowledged; every message has two entries.
APPENDS = (
    HEAD
    + """
store = CaseStore.open(folder)
for n in range(100000):
    note = f"{name} {n}"
    entry = {"zone": "cover_side", "state": "dry", "note": note}
    store.append("wet_foot", [Entered(entry), Entered(entry)], note)
    print(note, flush=True)
"""
)
# Waits until all are ready, then adds forty entries, each as a message of its own.
TOGETHER = (
    HEAD
    + """
store = CaseStore.open(folder)
print("ready", flush=True)
sys.stdin.readline()
for n in range(40):
    note = f"{name} {n}"
    for again in range(2):
        store.append(
            "wet_foot", [Entered({"zone": "cover_side", "state": "dry", "note": note})], note
        )
print(json.dumps([store.window, [e.note for e in store.read("wet_foot").loaded.job.timeline]]))
"""
)
OPENS = HEAD + "print('ready', flush=True); sys.stdin.readline(); CaseStore.open(folder).close()"


def started(
    script: str, folder: Path, name: str, out: TextIO | int = subprocess.PIPE
) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, str(folder), name],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=out,
        stderr=subprocess.PIPE,
        text=True,
    )


def killed(folder: Path, name: str, after: float) -> list[str]:
    """What a process acknowledged until it was killed, some seconds after the first."""
    said = folder / f"{name}.txt"
    with said.open("w") as stream:
        process = started(APPENDS, folder, name, stream)
        until = time.monotonic() + 60
        while not said.read_text() and time.monotonic() < until:
            time.sleep(0.005)
        time.sleep(after)
        process.send_signal(signal.SIGKILL)
        _, err = process.communicate(timeout=30)
    assert not err
    # A line without its end was not said whole.
    return said.read_text().split("\n")[:-1]


@pytest.mark.parametrize("after", [0.02, 0.11, 0.33])
def test_nothing_acknowledged_is_lost_with_the_process(tmp_path: Path, after: float) -> None:
    with CaseStore.open(tmp_path) as store:
        begun(store)
    # The second finds what the first left behind.
    acknowledged = killed(tmp_path, "first", after) + killed(tmp_path, "second", after)
    assert {line.split()[0] for line in acknowledged} == {"first", "second"}
    # What was not yet moved from the log to the file is still there to be recovered.
    assert (tmp_path / f"{FILE_NAME}-wal").stat().st_size > 0
    with CaseStore.open(tmp_path) as store:
        notes = [entry.note for entry in store.read("wet_foot").loaded.job.timeline[9:]]
        store.append("wet_foot", [Entered(DRY)], "afterwards")
    connection = raw(tmp_path)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()
    # Each message whole and once; one that was written and not yet acknowledged may be there.
    assert notes[::2] == notes[1::2]
    assert len(set(notes)) == len(notes) // 2
    assert set(acknowledged) <= set(notes)
    assert len(set(notes)) <= len(acknowledged) + 2


def test_two_windows_lose_nothing_and_agree_on_the_order(tmp_path: Path) -> None:
    with CaseStore.open(tmp_path) as store:
        begun(store)
    processes = [started(TOGETHER, tmp_path, name) for name in ("one", "two")]
    for process in processes:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    outs = []
    for process in processes:
        out, err = process.communicate(timeout=60)
        assert process.returncode == 0, err
        outs.append(json.loads(out))
    with CaseStore.open(tmp_path) as store:
        notes = [entry.note for entry in store.read("wet_foot").loaded.job.timeline]
        filings = store.since("wet_foot", 0)
    for _, seen in outs:
        # Whoever was done first saw a beginning of the whole.
        assert seen == notes[: len(seen)]
    assert max(len(seen) for _, seen in outs) == len(notes) == 9 + 80
    for name, (window, _) in zip(("one", "two"), outs, strict=True):
        wanted = [f"{name} {n}" for n in range(40)]
        assert [note for note in notes if note.startswith(name)] == wanted
        assert [f.key for f in filings if f.window == window] == wanted


def test_many_may_make_a_new_store_at_the_same_moment(tmp_path: Path) -> None:
    folder = tmp_path / "cases"
    processes = [started(OPENS, folder, str(n)) for n in range(4)]
    for process in processes:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    for process in processes:
        _, err = process.communicate(timeout=60)
        assert process.returncode == 0, err
    with CaseStore.open(folder) as store:
        assert begun(store) == "wet_foot"
