"""Errands: what is told of them, and that nothing hangs and nothing is left over."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Event
from typing import Any, cast

import pytest

from leakdx.panels.errands import Errand, Errands, Report
from leakdx.panels.helper import WORKER
from leakdx.panels.lane import BROKE_DOWN, NO_START
from leakdx.panels.messages import ENDS, Dropped, receive, send
from leakdx.panels.shapes import FirmAnswer, NextAnswer, RankingAnswer
from leakdx.panels.trouble import INSIDE
from leakdx.panels.worker import GARBLED
from tests.panels.posted import WET_FOOT, Posted, on_stand
from tests.panels.shaped import misshapen

FAKE = (sys.executable, str(Path(__file__).parent / "fake_worker.py"))
ROOT = Path(__file__).parent.parent.parent
# Seconds after which what should have come will not; the machine may be busy.
PATIENCE = 20.0


class Heard:
    """Errands, and the reports as they come."""

    def __init__(self, worker: tuple[str, ...] = FAKE) -> None:
        self.reports: SimpleQueue[Report] = SimpleQueue()
        self.errands = Errands(self.reports.put, worker)

    def ask(self, name: str, head: int = 1, seal: str | None = None, **more: Any) -> None:
        self.errands.ask(Errand(name, head, WET_FOOT, seal=seal, **more))

    def next(self) -> Report:
        return self.reports.get(timeout=PATIENCE)

    def until(self, status: str, name: str | None = None) -> Report:
        """The next report of that status; fails where an errand ends otherwise before."""
        while True:
            report = self.next()
            if report.status == status and name in (None, report.name):
                return report

    def ends(self, count: int) -> list[tuple[str, int, str]]:
        """The ends of so many errands, as they come."""
        found: list[tuple[str, int, str]] = []
        while len(found) < count:
            report = self.next()
            if report.status in ENDS:
                found.append((report.name, report.head, report.status))
        return found

    def quiet(self, seconds: float) -> bool:
        """Whether nothing more is told for so long."""
        try:
            self.reports.get(timeout=seconds)
        except Empty:
            return True
        return False

    def worker_of(self, name: str) -> int:
        """Number of the process that an errand of that name is done in."""
        self.ask(name, head=0)
        answer = cast("list[int]", self.until("answer", name).answer)
        self.until("done", name)
        return answer[2]


@pytest.fixture
def heard() -> Iterator[Heard]:
    made = Heard()
    yield made
    made.errands.close()


def gone(pid: int, within: float) -> bool:
    """Whether a process is gone for good, not even a zombie, within so many seconds."""
    end = time.monotonic() + within
    while time.monotonic() < end:
        if not there(pid):
            return True
        time.sleep(0.02)
    return not there(pid)


def there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def ended(pid: int, within: float) -> bool:
    """Whether a process runs no more within so many seconds.

    One whose parent was killed is left to the first process of the system, which may take its
    time to note the end of it.
    """
    state = Path("/proc") / str(pid) / "stat"
    end = time.monotonic() + within
    while time.monotonic() < end and there(pid):
        with suppress(OSError):
            if state.read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        time.sleep(0.02)
    return not there(pid)


def test_an_errand_is_told_stage_by_stage_with_its_head(heard: Heard) -> None:
    heard.ask("why", 4)
    first, second, last = heard.next(), heard.next(), heard.next()
    assert (first.status, first.said, first.done, first.of) == ("running", "beginning", 0, 3)
    assert (second.status, second.part) == ("answer", "whole")
    assert last.status == "done"
    assert {(r.name, r.head, r.job) for r in (first, second, last)} == {("why", 4, "wet_foot")}


def test_a_stray_print_and_a_stray_input_do_no_harm(heard: Heard) -> None:
    heard.ask("why", 1, "print")
    assert heard.until("answer").answer == ""
    assert heard.until("answer").part == "whole"
    assert heard.next().status == "done"


def test_each_lane_has_a_process_of_its_own_and_keeps_it(heard: Heard) -> None:
    assert heard.errands.pids == ()
    slow, quick = heard.worker_of("why"), heard.worker_of("settle")
    assert slow != quick
    assert (heard.worker_of("cure"), heard.worker_of("ready")) == (slow, quick)
    assert set(heard.errands.pids) == {slow, quick}


def test_a_newer_errand_takes_the_place_of_one_that_waits(heard: Heard) -> None:
    heard.ask("cure", 1, "stages")
    heard.until("answer")
    for head in (1, 2, 3):
        heard.ask("why", head)
    heard.ask("sheet", 3)
    heard.errands.stop("cure")
    assert heard.ends(5) == [
        ("why", 1, "stopped"),
        ("why", 2, "stopped"),
        ("cure", 1, "stopped"),
        ("why", 3, "done"),
        ("sheet", 3, "done"),
    ]


def test_one_under_way_tells_its_next_part_and_ends_for_a_newer_one(heard: Heard) -> None:
    heard.ask("settle", 1, "stages")
    heard.until("running")
    pid = heard.errands.pids
    heard.ask("settle", 2)
    assert heard.until("answer").head == 1
    assert heard.ends(2) == [("settle", 1, "stopped"), ("settle", 2, "done")]
    # It was not killed for that: what the process has at hand stays there.
    assert heard.errands.pids == pid


def test_another_question_under_the_same_head_is_told_as_if_it_were_the_first(
    heard: Heard,
) -> None:
    heard.ask("sheet", 1, "stages", which="job")
    heard.until("answer")
    heard.ask("sheet", 1, which="customer")
    told = [heard.next()]
    while told[-1].status not in ENDS:
        told.append(heard.next())
    assert told[-1].status == "done"
    assert [cast("list[Any]", r.answer)[3] for r in told if r.part == "whole"] == ["customer"]
    assert heard.quiet(0.3)


def test_what_is_under_way_already_is_not_asked_twice(heard: Heard) -> None:
    heard.ask("why", 1, "sleep")
    heard.until("running")
    heard.ask("why", 1, "sleep")
    heard.errands.stop("why")
    assert heard.ends(1) == [("why", 1, "stopped")]
    assert heard.quiet(0.3)


def test_the_same_question_of_another_job_is_another_question(heard: Heard) -> None:
    heard.ask("settle", 1, "stages")
    heard.until("answer")
    # It has as many changes as the other.
    heard.errands.ask(Errand("settle", 1, on_stand(), seal="stages"))
    assert heard.until("answer").job == "asked"
    heard.errands.stop("settle")
    report = heard.until("stopped")
    assert (report.head, report.job) == (1, "asked")


def test_to_be_ready_comes_before_whatever_waits(heard: Heard) -> None:
    heard.ask("ready", 1, "stages")
    heard.until("answer")
    heard.ask("settle", 2)
    heard.ask("ready", 2)
    assert heard.ends(3) == [("ready", 1, "stopped"), ("ready", 2, "done"), ("settle", 2, "done")]


def test_stopping_ends_the_process_and_the_next_errand_starts_another(heard: Heard) -> None:
    pid = heard.worker_of("why")
    heard.ask("why", 1, "busy")
    heard.until("running")
    heard.ask("cure", 1)
    start = time.monotonic()
    heard.errands.stop("why")
    assert time.monotonic() - start < 1
    assert heard.ends(2) == [("why", 1, "stopped"), ("cure", 1, "done")]
    assert gone(pid, 2)
    assert heard.worker_of("why") != pid


def test_stopping_what_waits_leaves_the_rest(heard: Heard) -> None:
    heard.ask("why", 1, "stages")
    heard.until("answer")
    heard.ask("cure", 1)
    heard.ask("sheet", 1)
    heard.errands.stop("cure")
    heard.errands.stop("ahead")
    heard.ask("why", 2)
    assert heard.ends(4) == [
        ("cure", 1, "stopped"),
        ("why", 1, "stopped"),
        ("sheet", 1, "done"),
        ("why", 2, "done"),
    ]


def test_stopping_at_once_after_asking_hangs_nothing(heard: Heard) -> None:
    for head in range(5):
        heard.ask("why", head, "sleep")
        heard.errands.stop("why")
    assert [status for _, _, status in heard.ends(5)] == ["stopped"] * 5
    heard.ask("why", 9)
    assert heard.until("done").head == 9


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


def test_a_fault_is_told_in_plain_words_and_anything_else_with_its_traceback(
    heard: Heard,
) -> None:
    heard.ask("why", 1, "faulty")
    assert heard.until("failed").error == {"said": "Zones is empty. Add a zone.", "details": ""}
    for seal, what in (("bad", "ValueError: no such luck"), ("unpicklable", "cannot pickle")):
        heard.ask("why", 1, seal)
        error = heard.until("failed").error
        assert error is not None
        assert error["said"] == INSIDE
        assert what in error["details"]
    assert heard.worker_of("why")


def test_whoever_is_told_may_fail(capsys: pytest.CaptureFixture[str]) -> None:
    reports: SimpleQueue[Report] = SimpleQueue()

    def told(report: Report) -> None:
        reports.put(report)
        raise RuntimeError("not listening")

    errands = Errands(told, FAKE)
    errands.ask(Errand("why", 1, WET_FOOT))
    assert [reports.get(timeout=PATIENCE).status for _ in range(3)] == ["running", "answer", "done"]
    errands.close()
    assert "not listening" in capsys.readouterr().err


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


@pytest.fixture(scope="module")
def settled() -> list[Report]:
    """All that the real worker tells when a small job is settled."""
    made = Heard(WORKER)
    made.errands.warm()
    made.ask("settle", 5)
    told = [made.next()]
    while told[-1].status not in ENDS:
        told.append(made.next())
    made.errands.close()
    return told


def test_settling_tells_ranking_next_look_and_firmness_in_this_order(
    settled: list[Report],
) -> None:
    assert settled[-1].status == "done"
    assert {r.head for r in settled} == {5}
    answers = [r for r in settled if r.status == "answer"]
    assert [r.part for r in answers] == ["ranking", "ranking", "next", "firm"]
    shapes = (RankingAnswer, RankingAnswer, NextAnswer, FirmAnswer)
    for report, shape in zip(answers, shapes, strict=True):
        assert misshapen(report.answer, shape) == []


def test_settling_goes_on_stage_by_stage(settled: list[Report]) -> None:
    running = [r for r in settled if r.status == "running"]
    assert [r.said for r in running[:4]] == [
        "following the fluid",
        "listing what leaks together",
        "making ready for each look",
        "weighing them",
    ]
    assert {r.said for r in running[4:]} == {"drawing the numbers anew"}
    done = [r.done for r in running]
    assert done == list(range(running[0].of))


def test_a_stage_that_nobody_waits_for_is_not_done() -> None:
    from leakdx.panels.doing import do
    from leakdx.panels.latest import Latest

    post = Posted(drops="making ready for each look")
    with pytest.raises(Dropped):
        do(Latest(), Errand("settle", 1, on_stand()), post)
    assert [part for part, _ in post.answers] == ["ranking", "ranking"]
