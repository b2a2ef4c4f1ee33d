"""Minutes until the origin is found: this program's next look against three rules of the trade.

    python -m leakdx.bench.race inline_five_diesel rear_axle --jobs 500

Jobs are made up from the network itself: which seal points leak, how far the fluid got, what a
look would show.  So the race says how well looks are chosen by one who knows the chances, not
whether the chances are right.  Each job begins with one wet place that can be seen; it ends
when a look shows a seal point itself wet, when no look is left, or when the time is up.

"knows already" is no rule but the bound: one who is told which seal points leak and has only to
lay the nearest of them bare.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from leakdx.advice.looks import Look, look_at
from leakdx.advice.next_look import Weigher
from leakdx.advice.outcomes import Array, Reads
from leakdx.advice.weighing import LEAKING, Weighed, view_of, weigh
from leakdx.belief.evidence import Evidence, combine
from leakdx.case.read import job_from
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Machine, Method, SealPoint
from leakdx.network.odds import base_odds
from leakdx.network.tables import Maximum, Network, Table
from leakdx.priors.read import shipped_priors

BUDGET_MIN = 240.0
MOST_LOOKS = 30
RULES = ("leakdx", "highest wet point", "most common", "cheapest look", "knows already")


@dataclass(frozen=True, eq=False)
class Truth:
    """One made-up job: the state of every variable, and what each look would show.

    dry: for each look, whether each thing it reads would be read dry.
    """

    states: dict[str, int]
    dry: tuple[tuple[bool, ...], ...]
    start: tuple[int, int]


@dataclass(frozen=True)
class Finish:
    """How one job ended: minutes, looks, and whether a leak was found."""

    minutes: float
    looks: int
    found: bool


@dataclass(frozen=True, eq=False)
class Bench:
    """A machine made ready: its weigher and the looks that take part."""

    machine: Machine
    weigher: Weigher
    looks: tuple[Look, ...]
    reads: tuple[Reads, ...]

    @staticmethod
    def of(name: str) -> Bench:
        machine = load_shipped(name)
        data = {
            "format": "leakdx-job/1",
            "id": "race",
            "machine": {"id": machine.id, "version": machine.version},
            "conditions": {"hours": 100, "airflow_m_s": 0},
        }
        weigher = Weigher.of(job_from(data, machine), shipped_priors())
        chosen = [
            k
            for k, look in enumerate(weigher.open)
            if look.inspection.method is not Method.WASH_AND_RUN
            and (look.inspection.reads.zones or look.inspection.reads.seal_points)
        ]
        return Bench(
            machine,
            weigher,
            # Each look finds the machine in the state it asks for, for every rule.
            tuple(look_at(machine, weigher.open[k].inspection, frozenset()) for k in chosen),
            tuple(weigher.ahead.reads[k] for k in chosen),
        )

    def seal_of(self, look: int, thing: int) -> SealPoint | None:
        """The seal point that a thing is, or None for a zone."""
        name = self.reads[look].things[thing]
        return next((s for s in self.machine.seal_points if s.id == name), None)


def sampled(network: Network, rng: np.random.Generator) -> dict[str, int]:
    """One state for every variable, drawn from the top of the network down."""
    tables: dict[str, Table | Maximum] = {t.child: t for t in network.tables}
    tables |= {m.child: m for m in network.maxima}
    states: dict[str, int] = {}
    for variable in network.variables:
        made = tables[variable.name]
        if isinstance(made, Table):
            place: tuple[Any, ...] = (slice(None), *(states[p] for p in made.parents))
            states[variable.name] = _drawn(made.values[place], rng)
            continue
        state = _drawn(made.background, rng)
        for influence in made.influences:
            if states[influence.parent]:
                state = max(state, _drawn(influence.table[:, states[influence.parent]], rng))
        states[variable.name] = state
    return states


def _drawn(column: Array, rng: np.random.Generator) -> int:
    at, total = float(rng.random()), 0.0
    for state, chance in enumerate(column.tolist()):
        total += chance
        if at < total:
            return state
    return len(column) - 1


def made_up(bench: Bench, rng: np.random.Generator) -> Truth:
    """A job with a leak that some look can confirm, and a wet place that is seen at once."""
    network = bench.weigher.ahead.asked.network.network
    seals = dict(zip(bench.weigher.ids, bench.weigher.ahead.seals, strict=True))
    readable = {t for r in bench.reads for t in r.things}
    zones = {z.id for z in bench.machine.zones}
    while True:
        states = sampled(network, rng)
        if not any(states[n] and s in readable for s, n in seals.items()):
            continue
        dry = tuple(
            tuple(bool(rng.random() < _chance(d, states)) for d in r.dry) for r in bench.reads
        )
        wet = [
            (bench.looks[k].minutes, k, t)
            for k, reads in enumerate(bench.reads)
            for t, thing in enumerate(reads.things)
            if not dry[k][t] and thing in zones
        ]
        if wet:
            # What brought the machine in is seen without taking much off.
            easy = sorted(wet)[:4]
            _, k, t = easy[int(rng.integers(len(easy)))]
            return Truth(states, dry, (k, t))


def _chance(dry: Any, states: dict[str, int]) -> float:
    return float(np.prod([likelihood[states[name]] for name, likelihood in dry.items()]))


@dataclass
class Run:
    """One job as it goes; never leaves this module."""

    bench: Bench
    truth: Truth
    known: list[Evidence]
    off: frozenset[str]
    done: set[int]
    wet: set[str]
    minutes: float = 0.0

    def note(self, look: int, thing: int) -> bool:
        """Take down what one thing shows; whether it was dry."""
        reads, dry = self.bench.reads[look], self.truth.dry[look][thing]
        if dry:
            self.known.append(Evidence(reads.dry[thing]))
            return True
        self.wet.add(reads.things[thing])
        # Wet of the fluid that runs there most.
        name = max(reads.dry[thing], key=lambda n: (self.truth.states[n], n))
        self.known.append(Evidence({name: 1 - np.minimum(reads.dry[thing][name], 1 - 1e-9)}))
        return False

    def take(self, look: int) -> str | None:
        """Take a look; gives the seal point that was seen wet, if one was."""
        now = look_at(self.bench.machine, self.bench.looks[look].inspection, self.off)
        self.minutes += now.minutes
        self.off |= set(now.steps)
        self.done.add(look)
        seen = None
        for thing in range(len(self.bench.reads[look].things)):
            seal = self.bench.seal_of(look, thing)
            if not self.note(look, thing) and seal is not None and seen is None:
                seen = seal.id
        return seen


Chooser = Callable[[Run], int | None]


def by_leakdx(run: Run) -> int | None:
    """The look with the most gain; where none gains, the likeliest to confirm for its minutes."""
    bench, weigher = run.bench, run.bench.weigher
    left = [k for k in range(len(bench.looks)) if k not in run.done]
    if not left:
        return None
    looks = [look_at(bench.machine, bench.looks[k].inspection, run.off) for k in left]
    ahead = replace(
        weigher.ahead,
        known=combine(run.known) if run.known else Evidence({}),
        reads=tuple(bench.reads[k] for k in left),
    )
    labour = replace(
        weigher.labour, needs={s: n - run.off for s, n in weigher.labour.needs.items()}
    )
    view = view_of(ahead)
    leaks = dict(zip(weigher.ids, view.leaks.tolist(), strict=True))
    weighed = weigh(ahead, view, looks, labour, weigher.ids)
    best = weighed[0]
    if best.gain <= 0:
        # Nothing is left to learn that pays; what is left is to confirm it: by chance over cost.
        best = max(weighed, key=lambda w: (_confirms(run, w, leaks), w.bits_per_minute))
    return left[[look.inspection.id for look in looks].index(best.look.inspection.id)]


def _confirms(run: Run, w: Weighed, leaks: dict[str, float]) -> float:
    """Chance a minute that a look shows a leaking seal point itself."""
    direct = w.look.inspection.reads.seal_points
    sound = 1.0
    for seal in direct:
        sound *= 1 - leaks[seal]
    return (1 - sound) / w.look.minutes


def by_height(run: Run) -> int | None:
    """The nearest thing above or at the highest wet place: trace it up."""
    bench = run.bench
    zones = {z.id: np.array(z.centroid_mm) for z in bench.machine.zones}
    seals = {s.id: np.array(s.position_mm) for s in bench.machine.seal_points if s.position_mm}
    tops = [zones[t] for t in run.wet if t in zones]
    top = max(tops, key=lambda p: float(p[2]))
    options = []
    for k in range(len(bench.looks)):
        if k in run.done:
            continue
        for thing in bench.reads[k].things:
            place = seals.get(thing, zones.get(thing))
            if place is not None and thing not in run.wet:
                below = max(0.0, float(top[2] - place[2]) - 30)
                options.append((float(np.linalg.norm(place - top)) + 3 * below, k))
    return min(options)[1] if options else None


def by_habit(run: Run) -> int | None:
    """The look at the seal point that leaks most often and was not read yet."""
    bench, priors = run.bench, run.bench.weigher.priors
    fluids = {f.id: f for f in bench.machine.fluids}
    often = {s.id: base_odds(s, fluids[s.fluid], priors) for s in bench.machine.seal_points}
    options = [
        (-often[t], bench.looks[k].minutes, k)
        for k in range(len(bench.looks))
        if k not in run.done
        for t in bench.reads[k].things
        if t in often
    ]
    return min(options)[2] if options else None


def by_minutes(run: Run) -> int | None:
    """The look that costs the fewest minutes now."""
    bench = run.bench
    options = [
        (look_at(bench.machine, bench.looks[k].inspection, run.off).minutes, k)
        for k in range(len(bench.looks))
        if k not in run.done
    ]
    return min(options)[1] if options else None


def by_knowing(run: Run) -> int | None:
    """The look that takes the fewest minutes to a seal point that truly leaks."""
    bench = run.bench
    seals = dict(zip(bench.weigher.ids, bench.weigher.ahead.seals, strict=True))
    options = [
        (look_at(bench.machine, bench.looks[k].inspection, run.off).minutes, k)
        for k in range(len(bench.looks))
        if k not in run.done
        for t in bench.reads[k].things
        if t in seals and LEAKING[run.truth.states[seals[t]]]
    ]
    return min(options)[1] if options else None


CHOOSERS: dict[str, Chooser] = dict(
    zip(RULES, (by_leakdx, by_height, by_habit, by_minutes, by_knowing), strict=True)
)


def raced(bench: Bench, truth: Truth, rule: str) -> Finish:
    """One job by one rule."""
    run = Run(bench, truth, [], frozenset(), set(), set())
    run.note(*truth.start)
    seals = dict(zip(bench.weigher.ids, bench.weigher.ahead.seals, strict=True))
    while run.minutes < BUDGET_MIN and len(run.done) < MOST_LOOKS:
        look = CHOOSERS[rule](run)
        if look is None:
            break
        seen = run.take(look)
        if seen is not None and (rule != RULES[0] or believed(run, seals[seen])):
            leaks = bool(LEAKING[truth.states[seals[seen]]])
            return Finish(min(run.minutes, BUDGET_MIN), len(run.done), leaks)
    # Whoever gives up has spent what was looked, not the whole day.
    return Finish(min(run.minutes, BUDGET_MIN), len(run.done), False)


def believed(run: Run, seal: str) -> bool:
    """Whether a seal point that was seen wet is likelier to leak than not, or than any other.

    The rules of the trade take the first wet joint for the origin.
    """
    ahead = run.bench.weigher.ahead
    got = ahead.tree.update(combine(run.known), only=list(ahead.seals))
    chances = {name: 1 - float(got[name][0]) for name in ahead.seals}
    return chances[seal] > 0.5 or chances[seal] == max(chances.values())


def _share(args: tuple[str, int, int, tuple[str, ...]]) -> list[dict[str, Finish]]:
    name, jobs, seed, rules = args
    bench = Bench.of(name)
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(jobs):
        truth = made_up(bench, rng)
        found.append({rule: raced(bench, truth, rule) for rule in rules})
    return found


def summary(finishes: Sequence[Finish]) -> dict[str, float]:
    """Mean and median minutes, hit rate, minutes for each leak found, mean number of looks."""
    minutes = np.array([f.minutes for f in finishes])
    return {
        "minutes_mean": float(minutes.mean()),
        "minutes_median": float(np.median(minutes)),
        "hit_rate": float(np.mean([f.found for f in finishes])),
        "minutes_a_find": float(minutes.sum() / max(sum(f.found for f in finishes), 1)),
        "looks": float(np.mean([f.looks for f in finishes])),
    }


def main(argv: Sequence[str] | None = None) -> int:
    """Race on each machine named and print one JSON document."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("machines", nargs="+")
    parser.add_argument("--jobs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    args = parser.parse_args(argv)
    result: dict[str, Any] = {}
    for name in args.machines:
        n = args.processes
        parts = [(name, args.jobs // n, args.seed * 1000 + k, RULES) for k in range(n)]
        if n == 1:
            every = _share(parts[0])
        else:
            with ProcessPoolExecutor(n) as pool:
                every = [one for part in pool.map(_share, parts) for one in part]
        result[name] = {r: summary([one[r] for one in every]) for r in RULES}
        print(name, json.dumps(result[name]), file=sys.stderr, flush=True)
    print(json.dumps({"format": "leakdx-race/1", "jobs": args.jobs, "machines": result}, indent=2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
