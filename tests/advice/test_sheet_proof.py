"""How long to run after the repair of a sheet: as 'leakdx cure' tells it, and in which words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import jsonschema
import pytest

from leakdx.advice import sheet_proof
from leakdx.advice.cure import cure
from leakdx.advice.proof import Help, Needed, Point, Proof
from leakdx.advice.proving import Prospect, Round, Trial
from leakdx.advice.sheet import WASH_AND_RUN, Sheet, sheet_of
from leakdx.advice.sheet_proof import PROOF_STAGES, TOO_LARGE, after_repair, aim_of, with_proof
from leakdx.advice.sheet_safety import RUN_CAUTIONS
from leakdx.advice.sheet_schema import document_of, json_schema
from leakdx.advice.sheet_text import sheet_text
from leakdx.advice.solving import Solved, TooLarge, solve
from leakdx.case.read import LoadedJob
from leakdx.network.setting import Use
from leakdx.priors.model import Priors
from leakdx.report.pages import job_sheet_page
from tests.advice.repaired import PRIORS, WASH, WET, Entry, job, run_for

Worded = Callable[[Proof], str]
CHECKED: Entry = {"renew": "cover_gasket", "checks": ["mirror", "wiped", "torque"]}
FORMER: Entry = {"renew": "water_union"}


def general(*timeline: Entry, renew: tuple[str, ...] = ("cover_gasket",)) -> Sheet:
    loaded = job(*timeline)
    return sheet_of(loaded, solve(loaded, PRIORS), PRIORS, renew)


@cache
def worked_out() -> tuple[Sheet, int]:
    heard: list[int] = []
    made = with_proof(general(WET), job(WET), PRIORS, lambda: heard.append(1))
    return made, len(heard)


def said(sheet: Sheet) -> str:
    return " ".join(sheet.wash_and_run)


# Figures.


def test_the_job_after_the_repair_is_the_one_the_sheet_asks_to_write() -> None:
    # The oracle is a job file with the events of the sheet written into it.
    before = job(WET)
    assert after_repair(before, ["cover_gasket"]).job == job(WET, CHECKED).job
    assert len(before.job.timeline) == 1


def test_times_are_those_that_cure_tells_of_the_job_with_the_repair_written_in() -> None:
    made, heard = worked_out()
    proof = cure(job(WET, CHECKED), PRIORS).proof
    assert made.proof is not None and proof is not None
    assert made.proof.needed == proof.needed
    assert made.proof.round == proof.round
    assert made.proof.points == proof.points
    assert heard == len(PROOF_STAGES)


def test_it_is_about_the_machine_after_the_repair_not_before() -> None:
    # The old gasket likely leaks; the new one hardly.
    made, _ = worked_out()
    assert made.proof is not None
    gasket = next(c for c in made.renew if c.seal_point == "cover_gasket")
    assert gasket.leaks > 0.3
    assert made.proof.now[0] > 1 - gasket.leaks + 0.2


def test_what_leaks_after_the_repair_says_which_zones_come_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    heard: list[dict[str, float]] = []

    def listen(*given: Any) -> Proof:
        heard.append(given[3])
        return proof((9.0, 77.0, None))

    monkeypatch.setattr(sheet_proof, "proof_of", listen)
    with_proof(general(WET), job(WET), PRIORS)
    after = job(WET, CHECKED)
    solved = solve(after, PRIORS)
    assert heard[0]["cover_gasket"] == pytest.approx(
        1 - solved.beliefs["seal__cover_gasket__1"][0], rel=1e-9
    )


def test_checks_before_closing_up_count() -> None:
    # A repair with no check made is less sure before it is run.
    unchecked = cure(job(WET, {"renew": "cover_gasket"}), PRIORS).proof
    made, _ = worked_out()
    assert made.proof is not None and unchecked is not None
    assert made.proof.now[0] > unchecked.now[0] + 0.005


def test_the_time_on_the_sheet_makes_it_as_sure_as_it_says() -> None:
    made, _ = worked_out()
    assert made.proof is not None
    aim = aim_of(made.proof)
    assert aim is not None
    trial = Trial(Use.DRIVEN, aim.minutes)
    ahead = Prospect.of(job(WET, CHECKED), PRIORS, made.proof.round, trial)
    holds = ahead.outlook(trial, ["cover_gasket"]).holds[1]
    # Between two lengths it is interpolated.
    assert holds == pytest.approx(aim.sure, abs=0.01)
    assert f"what was renewed holds with {100 * aim.sure:.0f} %" in said(made)
    assert "cover side" in said(made) or "cover_side" in said(made)


def test_what_was_renewed_before_in_the_job_counts_as_cure_counts_it() -> None:
    timeline = (FORMER, WASH, run_for(60), WET)
    made = with_proof(general(*timeline), job(*timeline), PRIORS)
    proof = cure(job(*timeline, CHECKED), PRIORS).proof
    assert made.proof is not None and proof is not None
    assert made.proof.needed == proof.needed
    assert "now and before in this job" in said(made)
    assert "before in this job" not in said(worked_out()[0])


# Where there is nothing to work out.


def test_nothing_to_renew_stays_as_it_is() -> None:
    dry: Entry = {"zone": "cover_side", "state": "dry"}
    made = general(dry, renew=())
    assert made.renew == ()

    def step() -> None:
        raise AssertionError("nothing is to be worked out")

    assert with_proof(made, job(dry), PRIORS, step) is made


def too_large(*_: object) -> Solved:
    raise TooLarge("pump_stand", 2**30)


def solve_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_proof, "solve", too_large)


def runs_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Prospect, "of", staticmethod(too_large))


@pytest.mark.parametrize("fail", [solve_too_large, runs_too_large])
def test_what_is_too_large_leaves_the_general_words_and_says_why(
    fail: Callable[[pytest.MonkeyPatch], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = general(WET)
    fail(monkeypatch)
    found = with_proof(made, job(WET), PRIORS)
    assert found.proof is None
    assert found.wash_and_run == (*WASH_AND_RUN, TOO_LARGE)
    assert "too large" in sheet_text(found, 200)
    assert document_of(found, None)["proof"] is None


def test_other_faults_are_not_hidden() -> None:
    with pytest.raises(Exception, match="number"):
        with_proof(general(WET), job(WET), Priors({}))


# Words.


def rows(driven: tuple[float | None, ...], idled: tuple[float | None, ...]) -> tuple[Needed, ...]:
    found = []
    for use, times in (("driven", driven), ("idled", idled)):
        found += [
            Needed(use, sure, holds, None)
            for sure, holds in zip((0.9, 0.95, 0.99), times, strict=True)
        ]
    return tuple(found)


def proof(
    driven: tuple[float | None, ...],
    idled: tuple[float | None, ...] = (None, None, None),
    **more: object,
) -> Proof:
    """A proof made by hand."""
    plain = Proof(
        round=Round(
            ("look_at_cover",),
            (("cover_top", "look_at_cover"), ("cover_side", "look_at_cover")),
            2.0,
        ),
        detail=0,
        now=(0.8, 0.5),
        partly=False,
        left_out=(),
        points=(Point("driven", 60, 0.9, 0.6), Point("driven", 240, 0.93, 0.7)),
        needed=rows(driven, idled),
        helps=(),
        left=(),
        shows=0.5,
        looks_needed=(2, 3, 5),
    )
    return replace(plain, **more)  # type: ignore[arg-type]


@pytest.fixture
def worded(monkeypatch: pytest.MonkeyPatch) -> Worded:
    """A sheet whose proof is the one given."""
    made = general(WET)

    def of(given: Proof) -> str:
        def known(*_: object) -> Proof:
            return given

        monkeypatch.setattr(sheet_proof, "proof_of", known)
        return said(with_proof(made, job(WET), PRIORS))

    return of


@pytest.mark.parametrize(
    ("driven", "idled", "sure", "minutes", "instead"),
    [
        # The surest within two hours.
        ((10.0, 77.0, 200.0), (20.0, 156.0, None), 0.95, 77.0, 156.0),
        ((0.0, 30.0, 120.0), (0.0, 60.0, None), 0.99, 120.0, None),
        # Nothing within two hours: the shortest.
        ((0.0, 130.0, 200.0), (0.0, 0.0, 220.0), 0.95, 130.0, None),
        # Never so sure: the longest there is, and what it comes to.
        ((None, None, None), (None, None, None), 0.93, 240, None),
        ((0.0, None, None), (0.0, None, None), 0.93, 240, None),
    ],
)
def test_which_run_is_told(
    driven: tuple[float | None, ...],
    idled: tuple[float | None, ...],
    sure: float,
    minutes: float,
    instead: float | None,
) -> None:
    aim = aim_of(proof(driven, idled))
    assert aim is not None
    assert (aim.sure, aim.minutes, aim.idled) == (sure, minutes, instead)


def test_run_and_chance_in_words(worded: Worded) -> None:
    words = worded(proof((9.2, 76.4, None), (17.0, 155.5, None)))
    assert "drive it 77 minutes at working temperature (or idle it 156 minutes)" in words
    assert "{run_minutes: 77, use: driven}" in words
    assert "where what was renewed shows: cover side." in words
    assert "If all of that is dry, what was renewed holds with 95 %." in words
    assert "90 % takes 10 minutes driven or 17 minutes idled." in words
    assert "do not make it 99 %: after 240 minutes of driving with all dry it is 93 %." in words
    assert "nothing else leaks either is less sure: 70 % after 240 minutes" in words
    assert "Not counted" not in words
    # Washed first, looked at last.
    order = [words.index(w) for w in ("wash: whole", "run_minutes", "look from", "leakdx cure")]
    assert order == sorted(order)


def test_each_zone_is_told_once(worded: Worded) -> None:
    zones = (("cover_top", None), ("cover_side", None))
    words = worded(proof((9.0, 77.0, None), round=Round((), zones, 2.0)))
    assert "strip-down: cover top. About 2 minutes" in words
    assert words.count("cover side") == words.count("cover top") == 1


def test_what_else_helps_is_told_where_it_does(worded: Worded) -> None:
    helps = (
        Help("all of these", ("one", "two"), 0.995, 0.9),
        Help("dye and lamp where it may leak still", ("one",), 0.994, 0.9),
        Help("a night parked before it is looked at", (), 0.98, 0.8),
    )
    words = worded(proof((9.0, 77.0, None), helps=helps))
    assert "93 %, and with dye and lamp where it may leak still besides 99 %." in words


def test_what_is_sure_without_a_run_is_run_and_looked_at_all_the_same(worded: Worded) -> None:
    assert aim_of(proof((0.0, 0.0, 0.0))) is None
    words = worded(proof((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)))
    assert "holds with 99 % even before it is run. Look all the same." in words
    assert "wash: whole" in words and "run it warm" in words and "minutes driven" not in words


def test_what_is_not_counted_is_told(worded: Worded) -> None:
    words = worded(proof((9.0, 77.0, None), partly=True, left_out=("ground_wet",)))
    assert "Not counted in these figures, to keep the sums exact: ground wet." in words
    assert "the rest that is counted in the figures" in words
    assert "without strip-down" not in words


@pytest.mark.parametrize(
    ("dry", "told"),
    [
        (80.0, "takes 80 minutes of driving, with all dry, to be 90 % sure."),
        (0.0, "is 90 % sure even before it is run."),
    ],
)
def test_how_long_until_nothing_leaks_at_all(worded: Worded, dry: float, told: str) -> None:
    given = proof((9.0, 77.0, None))
    needed = tuple(
        replace(n, dry=dry) if (n.use, n.sure) == ("driven", 0.9) else n for n in given.needed
    )
    assert f"That nothing else leaks either {told}" in worded(replace(given, needed=needed))


def test_cautions_for_running_stay_and_those_of_a_drive_are_added() -> None:
    made, _ = worked_out()
    assert made.run_cautions[: len(RUN_CAUTIONS)] == RUN_CAUTIONS
    more = " ".join(made.run_cautions[len(RUN_CAUTIONS) :])
    assert "trial drive" in more and "rated stands" in more
    # The stand has gear oil and water only: nothing under high pressure.
    assert "through skin" not in more
    assert len(set(made.run_cautions)) == len(made.run_cautions)


def test_page_text_and_json_tell_it() -> None:
    made, _ = worked_out()
    page, text = job_sheet_page(made), " ".join(sheet_text(made, 100).split())
    # What a page escapes is left out.
    for line in made.wash_and_run:
        assert line in text
    assert "at working temperature" in page
    document = document_of(made, None)
    jsonschema.Draft202012Validator(json_schema()).validate(document)
    assert made.proof is not None
    assert [n["holds"] for n in document["proof"]["needed"]] == [n.holds for n in made.proof.needed]
    assert set(document["proof"]["zones"]) == {z for z, _ in made.proof.round.zones}


def test_a_loaded_job_is_not_changed() -> None:
    loaded = job(WET)
    whole = LoadedJob(loaded.job.model_copy(deep=True), loaded.machine)
    with_proof(general(WET), loaded, PRIORS)
    assert loaded == whole
