"""The measurements of the page in a real browser; asked for by ``--browser``."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from leakdx.bench.page_taps import browser, opening_time, taps_of
from leakdx.bench.problem import Bench
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.rows import Measure, plain_row
from leakdx.bench.timed import timing_of


def tap(bench: Bench) -> Row:
    """From a tap on the page to the new ranking on screen."""
    with tempfile.TemporaryDirectory() as folder, browser() as window:
        found = taps_of(bench.loaded, Path(folder), window, bench.repeats(60))
    times = (*found.at_once, *found.busy)
    what = (
        "from the tap that says what was seen at a zone to the frame with the new ranking, in "
        "headless Chromium; every second tap while the ranking before is worked out in full"
    )
    readings = len(bench.loaded.job.timeline)
    size = f"{len(times)} taps on a job of {readings} entries, {_seals(bench)}"
    notes = (
        f"95 of 100 within {_ms(np.percentile(times, 95))}, the longest {_ms(max(times))}",
        f"median of taps that follow at once {_ms(np.median(found.at_once))}, "
        f"with the background at work {_ms(np.median(found.busy))}",
        NOT_ASKED,
    )
    return plain_row("tap", what, size, "ms", timing_of(times), *notes)


def opened(bench: Bench) -> Row:
    """From starting ``leakdx open --page`` to a page that can be used."""
    times = []
    with browser() as window:
        for _ in range(bench.repeats(5)):
            with tempfile.TemporaryDirectory() as folder:
                times.append(opening_time(bench.loaded, Path(folder), window))
    what = (
        "from starting leakdx open --page, nothing running before it but the browser, until a "
        "zone can be chosen and what was seen there can be said"
    )
    note = f"the longest {max(times):.1f} s"
    return plain_row("open", what, _seals(bench), "s", timing_of(times), note, NOT_ASKED)


def _seals(bench: Bench) -> str:
    machine = bench.loaded.machine
    return f"{len(machine.zones)} zones, {len(machine.seal_points)} seal points"


def _ms(seconds: float | np.floating) -> str:
    return f"{1000 * float(seconds):.0f} ms"


BROWSER_ROWS: dict[str, Measure] = {"tap": tap, "open": opened}
