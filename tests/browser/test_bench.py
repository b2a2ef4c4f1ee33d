"""The measurement of taps on a small machine, in a real browser.  No times are tested."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from leakdx.bench.page_taps import taps_of
from leakdx.case.read import load_job
from tests.browser.ways import entries_of, jobs_of

JOB = Path(__file__).parents[1] / "data" / "wet_foot.yaml"


@pytest.mark.browser
def test_each_tap_is_kept_and_timed(browser: Browser, tmp_path: Path) -> None:
    loaded = load_job(JOB)
    store = tmp_path / "store"
    taps = taps_of(loaded, store, browser, 4)
    assert len(taps.at_once) == len(taps.busy) == 2
    assert all(0 < taken < 60 for taken in (*taps.at_once, *taps.busy))
    (job,) = jobs_of(store)
    kept = entries_of(store, job)[len(loaded.job.timeline) :]
    zones = [zone.id for zone in loaded.machine.zones]
    assert [(e.zone, e.state.value) for e in kept] == list(
        zip(zones, ("dry", "film", "dry", "running"), strict=True)
    )
