"""The rows of the ranking at once: what is measured.  No times are tested."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdx.advice.ranking import ranked_seals
from leakdx.advice.solving import solve
from leakdx.bench.problem import Bench
from leakdx.bench.rows import ROWS
from leakdx.bench.swift_rows import TAPS, Tapping

JOB = str(Path(__file__).parents[1] / "data" / "wet_foot.yaml")


@pytest.fixture(scope="module")
def ready() -> Tapping:
    return Tapping.of(Bench(JOB, quick=True, referees=False))


def test_the_rows_are_there() -> None:
    assert set(ROWS) >= {"swift", "swift-build"}


def test_each_tap_is_one_reading_more_and_fits(ready: Tapping) -> None:
    assert len(ready.taps) == TAPS
    for tap in ready.taps:
        assert tap.job.timeline[:-1] == ready.loaded.job.timeline
        assert ready.swift.fits(tap)
    assert {t.job.timeline[-1].state for t in ready.taps} == {"wet", "dry", "film"}


def test_what_is_timed_is_the_ranking_of_the_tap(ready: Tapping) -> None:
    bench = Bench(JOB, quick=True, referees=False)
    for tap in ready.taps[:3]:
        rows = ranked_seals(tap, solve(tap, bench.priors))
        quick = ready.swift.ranking(tap)
        assert {r.seal_point: r.leaks for r in quick.rows} == pytest.approx(
            {r.seal_point: r.leaks for r in rows}, abs=1e-9
        )
