"""What is measured on: a job, its network, its readings, each worked out when first needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from leakdx.advice.solving import Solved, solve
from leakdx.belief.evidence import Evidence
from leakdx.belief.tree import JunctionTree, compile_network
from leakdx.case.evidence import Asked, asked_of
from leakdx.case.read import LoadedJob, load_job, load_shipped_job, shipped_jobs
from leakdx.flow.courses import DETAILS
from leakdx.network.setting import seal_name
from leakdx.network.tables import Array
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors

REFERENCE_JOB = "rear_of_engine_wet"
BATCH = 64


def variants_of(solved: Solved, count: int) -> tuple[Solved, ...]:
    """A solved job in variants: some readings taken less seriously, each time others."""
    readings = solved.asked.readings
    keep = np.random.default_rng(0).uniform(0.5, 1.0, (count, len(readings)))
    found = []
    for shares in keep:
        less = {
            label: Evidence({n: a * k + a.max() * (1 - k) for n, a in e.items()}, e.log_scale)
            for k, (label, e) in zip(shares, readings.items(), strict=True)
        }
        asked = replace(solved.asked, readings=less)
        found.append(replace(solved, asked=asked, evidence=asked.evidence))
    return tuple(found)


def job_named(name: str) -> LoadedJob:
    """The job of that id that comes with leakdx, or in the file of that name."""
    if name in shipped_jobs() and not Path(name).exists():
        return load_shipped_job(name)
    return load_job(name)


@dataclass(frozen=True, eq=False)
class Problem:
    """A job's network, compiled, with its readings."""

    asked: Asked
    tree: JunctionTree
    detail: int

    @cached_property
    def columns(self) -> dict[str, Array]:
        """The readings in 64 variants, some taken less seriously: (size, 64) by variable.

        A repeat of a measurement takes another variant, so that nobody answers from memory.
        """
        keep = np.random.default_rng(0).uniform(0.5, 1.0, (len(self.asked.evidence), BATCH))
        return {
            name: likelihood[:, None] * k + likelihood.max() * (1 - k)
            for k, (name, likelihood) in zip(keep, self.asked.evidence.items(), strict=True)
        }

    def variant(self, number: int) -> Evidence:
        """One of the variants of the readings."""
        return Evidence({n: a[:, number % BATCH] for n, a in self.columns.items()})

    @property
    def seals(self) -> tuple[str, ...]:
        """Variable of each seal point as it is now."""
        generations = self.asked.story.generations
        return tuple(
            seal_name(s.id, generations.get(s.id, 1) - 1)
            for s in self.asked.network.setting.machine.seal_points
        )

    @property
    def size(self) -> str:
        """Its size in words."""
        variables = len(self.asked.network.network.variables)
        return f"{variables} variables, {len(self.asked.readings)} readings"

    @property
    def shape(self) -> str:
        """How it was compiled, in words."""
        entries = self.tree.clique_entries
        return (
            f"detail {self.detail} of 0 to {len(DETAILS) - 1}: {len(entries)} cliques, "
            f"{sum(entries):,} entries, the largest {max(entries):,}"
        )


@dataclass(frozen=True, eq=False)
class Bench:
    """A run: the job, how often to repeat, and whether referees are asked.

    job: id of a job that comes with leakdx, or path of a job file.
    """

    job: str = REFERENCE_JOB
    quick: bool = False
    referees: bool = True

    def repeats(self, full: int) -> int:
        """How often to repeat what a full run repeats ``full`` times."""
        return max(full // 5, 3) if self.quick else full

    @cached_property
    def loaded(self) -> LoadedJob:
        """The job and its machine."""
        return job_named(self.job)

    @cached_property
    def priors(self) -> Priors:
        """The numbers that come with leakdx."""
        return shipped_priors()

    @cached_property
    def solved(self) -> Solved:
        """The job solved as ``leakdx rank`` does it."""
        return solve(self.loaded, self.priors)

    @cached_property
    def full(self) -> Problem:
        """The network that ``leakdx rank`` works with."""
        return Problem(self.solved.asked, self.solved.tree, self.solved.detail)

    @cached_property
    def barest(self) -> Problem:
        """The network with the fewest courses of the flow, small enough for the referees."""
        last = len(DETAILS) - 1
        asked = asked_of(self.loaded.machine, self.loaded.job, self.priors, last)
        return Problem(asked, compile_network(asked.network.network), last)

    @cached_property
    def faulty(self) -> Mapping[str, tuple[int, ...]]:
        """The states of each seal point's variable in which it leaks."""
        return dict.fromkeys(self.full.seals, (1, 2, 3))
