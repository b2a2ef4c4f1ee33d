"""The measurements: one function each, found by name in ``ROWS``."""

from __future__ import annotations

from collections.abc import Callable

from leakdx.advice.ranking import SETS
from leakdx.advice.solving import LARGEST, solve
from leakdx.belief.evidence import Evidence
from leakdx.belief.sets import SetList, most_probable_sets
from leakdx.belief.tree import compile_network
from leakdx.bench.asking import Reply, ask
from leakdx.bench.problem import BATCH, Bench, Problem
from leakdx.bench.report import NOT_ASKED, Row
from leakdx.bench.timed import Timing, timing_of
from leakdx.bench.timing import python, timed
from leakdx.case.evidence import asked_of
from leakdx.flow.courses import flow_map

Measure = Callable[[Bench], Row]
ROWS: dict[str, Measure] = {}


def row(name: str) -> Callable[[Measure], Measure]:
    """Puts a measurement into ROWS."""

    def put(measure: Measure) -> Measure:
        ROWS[name] = measure
        return measure

    return put


def plain_row(name: str, what: str, size: str, unit: str, timing: Timing, *notes: str) -> Row:
    """A row without referees; seconds become the unit."""
    shown = timing.times(1000.0) if unit == "ms" else timing
    return Row(name, what, size, shown.repeats, shown.median, shown.spread, unit, None, None, notes)


def _update(name: str, what: str, bench: Bench, problem: Problem) -> Row:
    tree = problem.tree
    variants = [problem.variant(n) for n in range(BATCH)]
    timing = timed(lambda n: tree.update(variants[n % BATCH]), bench.repeats(50))
    if not bench.referees:
        return plain_row(name, what, problem.size, "ms", timing, problem.shape, NOT_ASKED)
    ours = tree.update(variants[0])
    pyagrum, pgmpy = (ask(r, problem, ours) for r in ("pyagrum", "pgmpy"))
    return beside(
        plain_row(name, what, problem.size, "ms", timing, problem.shape), timing, pyagrum, pgmpy
    )


def beside(made: Row, ours: Timing, pyagrum: Reply, pgmpy: Reply) -> Row:
    """The row with two replies put beside it."""
    return Row(
        made.name,
        made.what,
        made.size,
        made.repeats,
        made.median,
        made.spread,
        made.unit,
        pyagrum.against(ours.median),
        pgmpy.against(ours.median),
        (*made.notes, *pyagrum.notes, *pgmpy.notes),
    )


@row("update")
def update(bench: Bench) -> Row:
    """All posteriors after new readings, on the compiled network."""
    what = "all posteriors of the network that 'leakdx rank' works with, compiled"
    return _update("update", what, bench, bench.full)


@row("update-barest")
def update_barest(bench: Bench) -> Row:
    """The same on the network with the fewest courses, which the referees can manage."""
    what = "the same on the network with the fewest courses of the flow"
    return _update("update-barest", what, bench, bench.barest)


@row("log_evidence")
def log_evidence(bench: Bench) -> Row:
    """Probability of the readings."""
    problem = bench.full
    variants = [problem.variant(n) for n in range(BATCH)]
    timing = timed(lambda n: problem.tree.log_evidence(variants[n % BATCH]), bench.repeats(50))
    what = "log probability of the readings"
    return plain_row("log_evidence", what, problem.size, "ms", timing, NOT_ASKED)


@row("batch-64")
def batch(bench: Bench) -> Row:
    """Probability of 64 variants of the readings at once."""
    problem = bench.full
    columns = Evidence(problem.columns)
    timing = timed(lambda _: problem.tree.log_evidence(columns), bench.repeats(15))
    what = f"log probability of {BATCH} variants of the readings, for all of them"
    return plain_row("batch-64", what, problem.size, "ms", timing, NOT_ASKED)


@row("update-64")
def update_batch(bench: Bench) -> Row:
    """All posteriors for 64 variants of the readings at once."""
    problem = bench.full
    columns = Evidence(problem.columns)
    timing = timed(lambda _: problem.tree.update(columns), bench.repeats(15))
    what = f"all posteriors for {BATCH} variants of the readings, for all of them"
    return plain_row("update-64", what, problem.size, "ms", timing, NOT_ASKED)


@row("sets")
def sets(bench: Bench) -> Row:
    """The most probable sets of leaking seal points."""
    problem = bench.full
    variants = [problem.variant(n) for n in range(BATCH)]
    found: list[SetList] = []

    def once(number: int) -> None:
        variant = variants[number % BATCH]
        found.append(most_probable_sets(problem.tree, variant, bench.faulty, SETS))

    timing = timed(once, bench.repeats(15))
    # Variant 0, answered first, stands for them all.
    first = found[0]
    note = f"{first.evaluations} probabilities worked out, proven: {first.proven}"
    what = f"the {SETS} most probable sets of leaking seal points"
    size = f"{len(bench.faulty)} seal points"
    return plain_row("sets", what, size, "ms", timing, note, NOT_ASKED)


@row("flow")
def flow(bench: Bench) -> Row:
    """Where fluid goes from each zone."""
    machine = bench.loaded.machine
    epoch = bench.full.asked.story.epochs[0]
    wind = epoch.wind
    timing = timed(lambda _: flow_map(machine, wind, bench.priors), bench.repeats(15))
    found = flow_map(machine, wind, bench.priors)
    size = f"{len(machine.zones)} zones, {len(found.courses)} courses"
    return plain_row("flow", "the flow map with all courses", size, "ms", timing, NOT_ASKED)


@row("build")
def build(bench: Bench) -> Row:
    """From machine and job to a network."""
    loaded, detail = bench.loaded, bench.full.detail
    timing = timed(
        lambda _: asked_of(loaded.machine, loaded.job, bench.priors, detail), bench.repeats(15)
    )
    what = "from a loaded job to its network and evidence"
    return plain_row("build", what, bench.full.size, "s", timing, f"detail {detail}", NOT_ASKED)


@row("compile")
def compile_(bench: Bench) -> Row:
    """Build and compile at the detail that fits."""
    loaded, detail = bench.loaded, bench.full.detail

    def once(_: int) -> None:
        asked = asked_of(loaded.machine, loaded.job, bench.priors, detail)
        compile_network(asked.network.network, LARGEST)

    timing = timed(once, bench.repeats(10))
    note = f"{bench.full.shape}; attempts at a lower detail number are not counted here"
    what = "build, then triangulate and work out the tables"
    return plain_row("compile", what, bench.full.size, "s", timing, note, NOT_ASKED)


@row("solve")
def solve_all(bench: Bench) -> Row:
    """From a loaded job to posteriors, attempts that turn out too wide included."""
    timing = timed(lambda _: solve(bench.loaded, bench.priors), bench.repeats(7))
    what = "from a loaded job to posteriors, with attempts that turn out too wide"
    return plain_row("solve", what, bench.full.size, "s", timing, bench.full.shape, NOT_ASKED)


@row("memory")
def memory(bench: Bench) -> Row:
    """Peak resident set of a process that loads, compiles and updates."""
    peaks = [float(python("-m", "leakdx.bench.peak", bench.job)) for _ in range(bench.repeats(3))]
    what = "peak resident set of a fresh process that loads, compiles and updates once"
    return plain_row("memory", what, _machine_size(bench), "MB", timing_of(peaks), NOT_ASKED)


@row("import")
def import_(bench: Bench) -> Row:
    """``import leakdx`` in a fresh process."""
    code = "from time import perf_counter as t; start = t(); import leakdx; print(t() - start)"
    python("-c", code)
    values = [float(python("-c", code)) for _ in range(bench.repeats(15))]
    what = "'import leakdx' in a fresh process, without the start of Python"
    return plain_row("import", what, "", "s", timing_of(values), NOT_ASKED)


@row("rank")
def rank(bench: Bench) -> Row:
    """The whole command in a fresh process."""
    timing = timed(lambda _: python("-m", "leakdx.cli", "rank", bench.job), bench.repeats(7))
    what = "the command 'leakdx rank' from start to end, in a fresh process"
    return plain_row("rank", what, _machine_size(bench), "s", timing, NOT_ASKED)


def _machine_size(bench: Bench) -> str:
    machine = bench.loaded.machine
    return f"{len(machine.zones)} zones, {len(machine.seal_points)} seal points"
