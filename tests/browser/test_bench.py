"""The measurement of taps on a small machine, in a real browser.  No times are tested."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from leakdx.bench.page_taps import taps_of
from leakdx.case.model import ZoneReading, ZoneState
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
    added = entries_of(store, job)[len(loaded.job.timeline) :]
    kept = [event for event in added if isinstance(event, ZoneReading)]
    assert len(kept) == len(added) == 4
    assert [e.zone for e in kept] == [zone.id for zone in loaded.machine.zones[:4]]
    # Each said something new: what is said already brings no new ranking.
    said = {e.zone: e.state for e in loaded.job.timeline if isinstance(e, ZoneReading)}
    assert said["cover_top"] is ZoneState.DRY
    assert all(e.state is not said.get(e.zone) for e in kept)
