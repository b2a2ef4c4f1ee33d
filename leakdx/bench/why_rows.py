"""The measurements of reasons and of firmness; importing this puts them into ``ROWS``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from leakdx.advice.solving import Solved, solve
from leakdx.bench.asking import Reply
from leakdx.bench.look_asking import Call, ask_looks, listening
from leakdx.bench.problem import Bench, variants_of
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.rows import beside, plain_row, row
from leakdx.bench.timing import timed
from leakdx.case.model import Job, SealReading, ZoneReading, ZoneState
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Machine
from leakdx.reasons.against import against
from leakdx.reasons.conflict import job_conflict
from leakdx.reasons.firmness import firmness
from leakdx.reasons.weights import job_weights

READINGS = 20
DRAWS = 500
VARIANTS = 16


def with_readings(machine: Machine, job: Job, count: int) -> Job:
    """The job with as many readings in all, or what it has: further zones were read dry."""
    there = [e for e in job.timeline if isinstance(e, ZoneReading | SealReading)]
    read = {e.zone for e in there if isinstance(e, ZoneReading)}
    others = [(i.id, z) for i in machine.inspections for z in i.reads.zones if z not in read]
    # The first inspection that reads a zone; a zone is read once.
    first = {z: i for i, z in reversed(others)}
    silent = [e for e in there if e.state.value == "not_looked"]
    missing = count - (len(job.timeline) - len(silent))
    more = tuple(
        ZoneReading(zone=z, state=ZoneState.DRY, inspection=i)
        for z, i in list(first.items())[: max(missing, 0)]
    )
    return job.model_copy(update={"timeline": (*job.timeline, *more)})


@dataclass(frozen=True, eq=False)
class Reasoning:
    """A solved job, with its readings in variants."""

    solved: Solved

    @staticmethod
    def of(bench: Bench) -> Reasoning:
        """The bench's job with twenty readings."""
        machine = bench.loaded.machine
        job = with_readings(machine, bench.loaded.job, READINGS)
        return Reasoning(solve(LoadedJob(job=job, machine=machine), bench.priors))

    @cached_property
    def variants(self) -> tuple[Solved, ...]:
        """The job with some readings taken less seriously, each time others."""
        return variants_of(self.solved, VARIANTS)

    def once(self, number: int) -> None:
        """The reasons of a variant: three weights, each reading as a mistake, the conflict."""
        solved = self.variants[number % VARIANTS]
        against(solved, job_weights(solved))
        job_conflict(solved)

    @property
    def calls(self) -> list[Call]:
        """What the weights of variant 0 ask of the network, and the answers."""
        tree = listening(self.solved.tree)
        job_weights(replace(self.variants[0], tree=tree))
        return tree.heard

    @property
    def size(self) -> str:
        """Its size in words."""
        seals = len(self.solved.asked.network.setting.machine.seal_points)
        return f"{len(self.solved.asked.readings)} readings, {seals} seal points"


@row("reasons")
def reasons(bench: Bench) -> Row:
    """What speaks for and against: weights three ways, single mistakes, conflict."""
    ready = Reasoning.of(bench)
    timing = timed(ready.once, bench.repeats(30))
    what = (
        "the weight of every reading for every seal point in three ways, every reading tried as "
        "a mistake, and the conflict of all, each and every two"
    )
    note = "the referees are asked for the posteriors that the three weights need, no more"
    if not bench.referees:
        return plain_row("reasons", what, ready.size, "ms", timing, NOT_ASKED)
    calls = ready.calls
    pyagrum, pgmpy = (_ask(name, ready, calls) for name in ("pyagrum", "pgmpy"))
    made = plain_row("reasons", what, ready.size, "ms", timing, note)
    return beside(made, timing, pyagrum, pgmpy)


def _ask(referee: str, ready: Reasoning, calls: list[Call]) -> Reply:
    return ask_looks(referee, ready.solved.asked.network.network, calls)


@row("firmness")
def firm(bench: Bench) -> Row:
    """All numbers drawn anew 500 times."""
    solved = bench.solved
    found = firmness(bench.loaded, solved, bench.priors, DRAWS)
    timing = timed(
        lambda n: firmness(bench.loaded, solved, bench.priors, DRAWS, n), bench.repeats(10)
    )
    what = (
        "all numbers of the prior files drawn from their distributions, and the chance of every "
        "seal point with each draw"
    )
    size = f"{found.draws} draws, {found.flow_draws} of the flow, {len(found.seals)} seal points"
    return plain_row("firmness", what, size, "s", timing, NOT_ASKED)
