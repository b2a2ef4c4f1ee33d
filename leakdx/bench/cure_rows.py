"""The measurement of a job with several epochs; importing this puts it into ``ROWS``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from leakdx.advice.cure import known_of, repair_of
from leakdx.advice.proving import TIGHT, Question, chances, dry_question
from leakdx.advice.ranking import Ranked, now_names, ranked_seals
from leakdx.advice.solving import Solved, solve
from leakdx.bench.problem import Bench, variants_of
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.rows import plain_row, row
from leakdx.bench.timing import timed
from leakdx.case.model import Job, SealReading, Sign, ZoneReading, ZoneState
from leakdx.case.read import LoadedJob, load_shipped_job
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors

JOB = "rear_of_engine_renewed"
READINGS = 40
VARIANTS = 16


def with_dry_zones(machine: Machine, job: Job, count: int) -> Job:
    """The job with so many readings in all: zones not read since the repair were dry."""
    readings = [e for e in job.timeline if isinstance(e, ZoneReading | SealReading | Sign)]
    last = job.timeline[repair_of(job).number + 1 :]
    seen = {e.zone for e in last if isinstance(e, ZoneReading)}
    first = {z: i.id for i in reversed(machine.inspections) for z in i.reads.zones}
    more = [
        ZoneReading(zone=z.id, state=ZoneState.DRY, inspection=first[z.id])
        for z in machine.zones
        if z.id in first and z.id not in seen and not z.hidden
    ]
    missing = max(count - len(readings), 0)
    return job.model_copy(update={"timeline": (*job.timeline, *more[:missing])})


@dataclass(frozen=True, eq=False)
class Epochs:
    """A solved job with several epochs, and its readings in variants."""

    loaded: LoadedJob
    solved: Solved
    priors: Priors

    @staticmethod
    def of(priors: Priors) -> Epochs:
        """The shipped job of an engine that was renewed, with forty readings."""
        shipped = load_shipped_job(JOB)
        job = with_dry_zones(shipped.machine, shipped.job, READINGS)
        loaded = LoadedJob(job, shipped.machine)
        return Epochs(loaded, solve(loaded, priors), priors)

    @cached_property
    def variants(self) -> tuple[Solved, ...]:
        """The job with some readings taken less seriously, each time others."""
        return variants_of(self.solved, VARIANTS)

    def once(self, number: int) -> tuple[tuple[Ranked, ...], float, tuple[float, ...]]:
        """All posteriors of a variant, its ranking, and whether it is cured.

        Last: chance that nothing leaks, and that each seal point renewed holds.
        """
        variant = self.variants[number % VARIANTS]
        solved = replace(variant, beliefs=variant.tree.update(variant.evidence))
        names = now_names(solved)
        nothing, elsewhere = dry_question(solved.asked, self.priors)
        questions: Sequence[Question] = [nothing, {names[s]: TIGHT for s in self.renewed}]
        dry, _together = chances(solved.tree, [solved.evidence], questions)[:, 0]
        holds = tuple(float(solved.beliefs[names[s]][0]) for s in self.renewed)
        return ranked_seals(self.loaded, solved), float(dry * elsewhere), holds

    @cached_property
    def renewed(self) -> tuple[str, ...]:
        """Seal points renewed in the job."""
        return repair_of(self.loaded.job).seals

    @property
    def size(self) -> str:
        """Its size in words."""
        story = self.solved.asked.story
        return f"{len(story.epochs)} epochs, {len(self.solved.asked.readings)} readings"

    @property
    def shape(self) -> str:
        """How it was compiled, in words."""
        entries = self.solved.tree.clique_entries
        count = len(self.solved.asked.network.network.variables)
        return (
            f"detail {self.solved.detail}: {count} variables, {len(entries)} cliques, "
            f"{sum(entries):,} entries, the largest {max(entries):,}"
        )


@row("epochs")
def epochs(bench: Bench) -> Row:
    """All that a change of the readings makes new in a job with several epochs."""
    ready = Epochs.of(bench.priors)
    timing = timed(ready.once, bench.repeats(30))
    course = timed(
        lambda n: known_of(ready.loaded, ready.variants[n % VARIANTS], ready.priors),
        bench.repeats(5),
    )
    what = (
        "after new readings at places that were read before, on the compiled network: all "
        "posteriors, the ranking, the chance that nothing leaks and that each renewed joint holds"
    )
    note = f"what every reading since the repair did takes another {1000 * course.median:.0f} ms"
    return plain_row("epochs", what, ready.size, "ms", timing, ready.shape, note, NOT_ASKED)
