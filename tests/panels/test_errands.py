"""Errands: in which order they are done, and what is told of them."""

from __future__ import annotations

import time
from collections.abc import Iterator
from queue import SimpleQueue
from typing import Any, cast

import pytest

from leakdx.advice.leaning import Full
from leakdx.panels.errands import Errand, Errands, Report
from leakdx.panels.helper import WORKER
from leakdx.panels.messages import ENDS, Dropped
from leakdx.panels.shapes import FirmAnswer, NextAnswer, RankingAnswer
from leakdx.panels.trouble import INSIDE
from tests.panels.heard import FAKE, PATIENCE, Heard, gone
from tests.panels.posted import WET_FOOT, Posted, on_stand
from tests.panels.shaped import misshapen


@pytest.fixture
def heard() -> Iterator[Heard]:
    made = Heard()
    yield made
    made.errands.close()


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
    parts = ["ranking", "full", "ranking", "next", "firm"]
    assert [r.part for r in answers] == parts
    # The full ranking is for the desk, which keeps it; the page is told all else.
    shapes = (RankingAnswer, None, RankingAnswer, NextAnswer, FirmAnswer)
    for report, shape in zip(answers, shapes, strict=True):
        if shape is None:
            assert isinstance(report.answer, Full)
        else:
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
    assert [part for part, _ in post.answers] == ["ranking", "full", "ranking"]
