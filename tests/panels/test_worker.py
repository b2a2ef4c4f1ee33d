"""The worker processes: whatever ends them, nothing hangs and nothing is left over."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest

from leakdx.panels.errands import Errand, Errands, Report
from leakdx.panels.helper import WORKER
from leakdx.panels.lane import BROKE_DOWN, NO_START
from leakdx.panels.messages import receive, send
from leakdx.panels.worker import BEHIND, GARBLED
from tests.panels.heard import FAKE, PATIENCE, ROOT, Heard, ended, gone, there
from tests.panels.posted import WET_FOOT


@pytest.fixture
def heard() -> Iterator[Heard]:
    made = Heard()
    yield made
    made.errands.close()


def test_a_killed_worker_is_told_in_words_and_the_next_errand_works(heard: Heard) -> None:
    pid = heard.worker_of("why")
    heard.ask("why", 1, "sleep")
    heard.until("running")
    os.kill(pid, signal.SIGKILL)
    report = heard.next()
    assert report.status == "failed"
    assert report.error is not None
    assert report.error["said"] == BROKE_DOWN
    assert heard.worker_of("why") != pid


def test_a_worker_killed_while_it_waits_is_started_anew_without_a_word(heard: Heard) -> None:
    for _ in range(3):
        os.kill(heard.worker_of("why"), signal.SIGKILL)
        heard.ask("why", 1)
        assert heard.ends(1) == [("why", 1, "done")]


def test_a_worker_that_breaks_down_leaves_its_last_words(heard: Heard) -> None:
    heard.ask("why", 1, "die")
    report = heard.until("failed")
    assert report.error is not None
    assert "last words" in report.error["details"]
    assert "It ended with 9." in report.error["details"]


def test_a_worker_that_cannot_be_started_is_told_in_words() -> None:
    made = Heard((str(ROOT / "no" / "such" / "program"),))
    made.ask("why")
    report = made.next()
    made.errands.close()
    assert (report.status, report.error and report.error["said"]) == ("failed", NO_START)


def test_closing_takes_no_time_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    made = Heard()
    for name in ("settle", "why"):
        made.ask(name, 1, "busy")
        made.until("running", name)
    made.ask("cure")
    pids = made.errands.pids
    start = time.monotonic()
    made.errands.close()
    assert time.monotonic() - start < 2
    assert len(pids) == 2
    assert all(gone(pid, 0.1) for pid in pids)
    assert made.errands.pids == ()
    assert list(tmp_path.iterdir()) == []
    made.ask("why", 2)
    made.errands.close()
    assert made.quiet(0.3)


def test_what_was_not_told_before_closing_is_not_told_after_it() -> None:
    told: list[str] = []
    going_on = Event()

    def slowly(report: Report) -> None:
        told.append(report.status)
        going_on.wait(PATIENCE)

    errands = Errands(slowly, FAKE)
    errands.ask(Errand("why", 1, WET_FOOT))
    errands.ask(Errand("settle", 1, WET_FOOT))
    while len(errands.pids) < 2 or not told:
        time.sleep(0.02)
    errands.stop("settle")
    time.sleep(0.5)
    start = time.monotonic()
    errands.close()
    assert time.monotonic() - start < 2
    going_on.set()
    time.sleep(0.2)
    assert told == ["running"]


def test_errands_that_nobody_closes_are_closed_when_they_are_dropped() -> None:
    made = Heard()
    pid = made.worker_of("why")
    made.ask("why", 1, "sleep")
    made.until("running")
    del made.errands
    assert gone(pid, 2)


PARENT = """
import os, sys, threading, time
from leakdx.panels.errands import Errand, Errands
from leakdx.case.read import load_job
running = threading.Event()
told = []
errands = Errands(lambda r: (told.append(r.status), running.set()), tuple(sys.argv[2:]))
loaded = load_job("tests/data/wet_foot.yaml")
errands.ask(Errand("why", 1, loaded, seal=sys.argv[1]))
assert running.wait(20)
"""
HOLDING = """
child = os.fork()
if child == 0:
    time.sleep(20)
    os._exit(0)
"""
INTERRUPTED = """
import signal
signal.signal(signal.SIGINT, lambda *_: None)
while not errands.pids:
    time.sleep(0.001)
for _ in range(40):
    os.killpg(0, signal.SIGINT)
    time.sleep(0.02)
while told[-1:] not in (["done"], ["failed"]):
    time.sleep(0.02)
print(told[-1])
"""
WAITING = "print(*errands.pids, *{started}, flush=True); time.sleep(20)\n"


def orphaned(script: str, seal: str) -> list[int]:
    """Start a program with a worker, kill it as nothing can hinder; what it had started."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    parent = subprocess.Popen(
        [sys.executable, "-c", script, seal, *FAKE],
        stdout=subprocess.PIPE,
        env=environment,
        cwd=ROOT,
        text=True,
    )
    assert parent.stdout is not None
    pids = [int(word) for word in parent.stdout.readline().split()]
    parent.kill()
    parent.wait()
    parent.stdout.close()
    return pids


@pytest.mark.parametrize("seal", ["sleep", "busy"])
def test_a_worker_ends_with_its_parent_in_the_middle_of_an_errand(seal: str) -> None:
    (worker,) = orphaned(PARENT + WAITING.format(started=[]), seal)
    assert ended(worker, 2)


def test_a_worker_ends_with_its_parent_though_another_process_holds_the_pipe() -> None:
    worker, child = orphaned(PARENT + HOLDING + WAITING.format(started="[child]"), "sleep")
    assert there(child)
    try:
        assert ended(worker, 2)
    finally:
        os.kill(child, signal.SIGKILL)


def test_a_worker_that_stands_still_ends_with_its_parent() -> None:
    # At once: it may be told to stand still and not do so yet.
    dying = "print(*errands.pids, flush=True); errands.stand_still(); os.kill(os.getpid(), 9)\n"
    (worker,) = orphaned(PARENT + dying, "busy")
    assert ended(worker, 2)


def test_a_program_that_ends_without_closing_ends_its_workers() -> None:
    script = PARENT + "print(*errands.pids, flush=True)\n"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    made = subprocess.run(
        [sys.executable, "-c", script, "sleep", *FAKE],
        capture_output=True,
        env=environment,
        cwd=ROOT,
        text=True,
        timeout=PATIENCE,
    )
    assert (made.returncode, made.stderr) == (0, "")
    assert ended(int(made.stdout), 2)


@pytest.mark.parametrize(
    "sent",
    [
        b"Hello, is anybody there?",
        b"ldx1E" + (2**40).to_bytes(8, "big"),
        b"ldx1Q" + bytes(8),
        b"ldx1E" + (4).to_bytes(8, "big") + b"junk",
        b"ldx1E" + (5).to_bytes(8, "big") + b"\x80\x04K\x01.",
    ],
)
def test_a_worker_that_is_sent_garbage_says_so_and_ends(sent: bytes) -> None:
    with _worker() as worker:
        assert worker.stdin and worker.stdout and worker.stderr
        worker.stdin.write(sent)
        worker.stdin.flush()
        # Its input stays open: it ends for what it was sent.
        try:
            assert worker.wait(PATIENCE) == GARBLED
        finally:
            worker.kill()
        assert b"not understood" in worker.stderr.read()
        assert worker.stdout.read() == b""


@pytest.mark.parametrize("sent", [b"", b"ldx1E", b"ldx1E" + (9).to_bytes(8, "big") + b"half"])
def test_a_worker_whose_input_ends_just_ends(sent: bytes) -> None:
    with _worker() as worker:
        out, err = worker.communicate(sent, PATIENCE)
    assert (worker.returncode, err, out) == (0, b"", b"")


def test_a_worker_whose_input_ends_ends_in_the_middle_of_an_errand() -> None:
    with _worker() as worker:
        assert worker.stdin and worker.stdout
        send(worker.stdin, b"E", pickle.dumps(Errand("why", 1, WET_FOOT, seal="busy")))
        assert receive(worker.stdout) is not None
        worker.stdin.close()
        try:
            assert worker.wait(2) == 0
        finally:
            worker.kill()


def _worker() -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    pipe = subprocess.PIPE
    return subprocess.Popen(FAKE, stdin=pipe, stdout=pipe, stderr=pipe, bufsize=0, env=environment)


def test_a_kernel_that_is_interrupted_does_not_interrupt_its_worker(heard: Heard) -> None:
    pid = heard.worker_of("why")
    heard.ask("why", 1, "stages")
    heard.until("answer")
    os.kill(pid, signal.SIGINT)
    heard.ask("why", 2)
    assert heard.ends(2) == [("why", 1, "stopped"), ("why", 2, "done")]
    assert heard.errands.pids == (pid,)


def test_a_worker_lets_the_page_go_first(heard: Heard) -> None:
    own, its = (os.getpriority(os.PRIO_PROCESS, pid) for pid in (0, heard.worker_of("why")))
    assert its == min(own + BEHIND, 19)


def test_a_worker_stands_still_until_it_is_to_go_on(heard: Heard) -> None:
    heard.worker_of("why")
    heard.errands.stand_still()
    heard.ask("why", 1)
    assert heard.quiet(0.5)
    heard.errands.go_on()
    assert heard.ends(1) == [("why", 1, "done")]


def test_a_worker_that_stands_still_can_be_stopped_and_closed(heard: Heard) -> None:
    pid = heard.worker_of("why")
    heard.ask("why", 1, "sleep")
    heard.until("running")
    heard.errands.stand_still()
    heard.errands.stop("why")
    assert heard.ends(1) == [("why", 1, "stopped")]
    assert gone(pid, PATIENCE)
    again = heard.worker_of("why")
    heard.errands.stand_still()
    heard.errands.close()
    assert gone(again, PATIENCE)


def test_an_interrupt_of_the_whole_group_spares_a_worker_that_only_starts() -> None:
    script = PARENT.replace("assert running.wait(20)", "") + INTERRUPTED
    made = subprocess.run(
        [sys.executable, "-c", script, "none", *FAKE],
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        cwd=ROOT,
        text=True,
        timeout=PATIENCE,
        start_new_session=True,
    )
    assert (made.stdout, made.stderr) == ("done\n", "")


def test_a_file_in_the_folder_it_is_started_in_is_no_module_of_the_worker(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "pickle.py").write_text("raise SystemExit('not this one')\n")
    monkeypatch.chdir(tmp_path)
    made = Heard(WORKER)
    made.ask("no such errand")
    report = made.next()
    made.errands.close()
    assert report.error is not None
    assert report.error["said"].startswith("There is no errand 'no such errand'.")
