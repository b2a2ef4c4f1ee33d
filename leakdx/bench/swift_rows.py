"""The measurement of the ranking at once; importing this puts its rows into ``ROWS``."""

from __future__ import annotations

import pickle
from dataclasses import dataclass

from leakdx.advice.leaning import Full
from leakdx.advice.ranking import ranking_of
from leakdx.advice.swift import Swift
from leakdx.bench.problem import Bench
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.rows import plain_row, row
from leakdx.bench.timing import timed
from leakdx.case.model import ZoneReading, ZoneState
from leakdx.case.read import LoadedJob

TAPS = 24


@dataclass(frozen=True, eq=False)
class Tapping:
    """The bench's job with a Swift, and what may be tapped next: a job for each."""

    loaded: LoadedJob
    swift: Swift
    taps: tuple[LoadedJob, ...]

    @staticmethod
    def of(bench: Bench) -> Tapping:
        """Zones that were not read, one more in each job: wet with no fluid named, dry, ..."""
        machine, job = bench.loaded.machine, bench.loaded.job
        read = {e.zone for e in job.timeline if isinstance(e, ZoneReading)}
        zones = [z.id for z in machine.zones]
        unread = [z for z in zones if z not in read] or zones
        said = (
            (ZoneState.WET, None),
            (ZoneState.DRY, None),
            (ZoneState.FILM, machine.fluids[0].id),
        )
        taps = []
        for n in range(TAPS):
            state, fluid = said[n % len(said)]
            tap = ZoneReading(zone=unread[n % len(unread)], state=state, fluid=fluid)
            taps.append(job.model_copy(update={"timeline": (*job.timeline, tap)}))
        jobs = tuple(LoadedJob(job=j, machine=machine) for j in taps)
        return Tapping(bench.loaded, Swift.of(bench.loaded, bench.priors), jobs)


@row("swift")
def swift(bench: Bench) -> Row:
    """The ranking at once after one more reading."""
    ready = Tapping.of(bench)
    last = Full(bench.loaded, ranking_of(bench.loaded, bench.solved, bench.priors))
    size = len(pickle.dumps(ready.swift)) / 1e6
    timing = timed(lambda n: ready.swift.ranking(ready.taps[n % TAPS], last), bench.repeats(TAPS))
    entries = ready.swift.tree.clique_entries
    note = (
        f"detail {ready.swift.detail}: {len(entries)} cliques, {sum(entries):,} entries; "
        f"pickled {size:.1f} MB"
    )
    what = "the whole ranking, but for sets, after one more reading, leaning on the last full one"
    return plain_row("swift", what, f"{TAPS} readings by turns", "ms", timing, note, NOT_ASKED)


@row("swift-build")
def swift_build(bench: Bench) -> Row:
    """The network that is ready for any reading."""
    timing = timed(lambda _: Swift.of(bench.loaded, bench.priors), bench.repeats(5))
    ready = Swift.of(bench.loaded, bench.priors)
    again = timed(lambda _: Swift.of(bench.loaded, bench.priors, ready), bench.repeats(5))
    note = f"where only numbers changed {again.median:.2f} s, from the one before"
    what = "build and compile the network that takes any further reading"
    return plain_row("swift-build", what, "", "s", timing, note, NOT_ASKED)
