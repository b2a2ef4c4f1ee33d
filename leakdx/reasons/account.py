"""Why a ranking is as it is: what speaks for and against, what disagrees, how firm it is.

Everything is worked out on the network the ranking was worked out on; nothing is told here that
the numbers do not say.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pandas as pd

from leakdx.advice.ranking import leak_sets, ranked_seals
from leakdx.advice.solving import Solved, solve
from leakdx.case.read import LoadedJob
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors
from leakdx.reasons.against import (
    Against,
    Change,
    against,
    change_sentence,
    doubt_sentence,
    smallest_change,
)
from leakdx.reasons.conflict import JobConflict, job_conflict
from leakdx.reasons.firmness import Firmness, firmness
from leakdx.reasons.rivals import Rivals, rivals_of
from leakdx.reasons.route import Route, routes_of
from leakdx.reasons.route import sentence_of as route_sentence
from leakdx.reasons.swings import Swing, swings
from leakdx.reasons.together import Together, together_of
from leakdx.reasons.weights import Weights, job_weights, job_words, sentence_of

# Candidates that are told of one by one, and draws of the numbers.
CANDIDATES = 3
DRAWS = 500
# What ``why`` does one after another, as it is told on a progress bar.
STAGES = (
    "following the fluid",
    "weighing the readings",
    "trying each reading as a mistake",
    "looking for readings that disagree",
    "looking for shared causes",
    "following the likeliest route",
    "drawing the numbers anew",
    "trying each number by itself",
)


@dataclass(frozen=True)
class Candidate:
    """One of the likeliest seal points, or the one asked for.  leaks: its chance."""

    seal_point: str
    name: str
    leaks: float
    sentence: str


@dataclass(frozen=True, eq=False)
class Account:
    """The reasons for the ranking of a job.

    solved: the job as it was solved.  candidates: the one asked for first, then the likeliest.
    words: how each reading is called, by its label.  change: None where at least three readings
    would have to be wrong.
    """

    job: str
    machine: str
    title: str
    solved: Solved
    candidates: tuple[Candidate, ...]
    weights: Weights
    words: Mapping[str, str]
    against: Against
    change: Change | None
    doubts: tuple[str, ...]
    conflict: JobConflict
    rivals: Rivals
    together: Together
    routes: tuple[tuple[Route, str], ...]
    firmness: Firmness
    swings: tuple[Swing, ...]

    def table(self, seal_point: str | None = None) -> pd.DataFrame:
        """The readings and what each says for one seal point (the first candidate), decibans.

        Raises KeyError for a seal point that the machine does not have.
        """
        seal = seal_point or self.candidates[0].seal_point
        if seal not in self.weights.claims:
            raise KeyError(seal)
        column = self.weights.claims.index(seal)
        return pd.DataFrame(
            {
                "reading": self.weights.readings,
                "in_order": self.weights.in_order[:, column],
                "alone": self.weights.alone[:, column],
                "left_out": self.weights.left_out[:, column],
            }
        )


def why(
    loaded: LoadedJob,
    priors: Priors | None = None,
    seal_point: str | None = None,
    draws: int = DRAWS,
    step: Callable[[], object] = lambda: None,
) -> Account:
    """The reasons for the ranking of a job.

    seal_point: told of first (without: the likeliest).  step: called before each of ``STAGES``.

    Raises ContradictoryReadings and TooLarge as ``rank_job`` does, FaultyInput where the machine
    has no such seal point.
    """
    numbers = priors or shipped_priors()
    _check(loaded, seal_point)
    step()
    return account_of(loaded, solve(loaded, numbers), numbers, seal_point, draws, step)


def account_of(
    loaded: LoadedJob,
    solved: Solved,
    priors: Priors,
    seal_point: str | None = None,
    draws: int = DRAWS,
    step: Callable[[], object] = lambda: None,
) -> Account:
    """The same for a job that has been solved."""
    machine, job = loaded.machine, loaded.job
    ranked = ranked_seals(loaded, solved)
    names = {s.id: s.name or s.id.replace("_", " ") for s in machine.seal_points}
    names |= {z.id: z.name or z.id.replace("_", " ") for z in machine.zones}
    step()
    weights, words = job_weights(solved), job_words(solved)
    asked = [r for r in ranked if r.seal_point == seal_point]
    first = [*asked, *(r for r in ranked if r.seal_point != seal_point)][:CANDIDATES]
    candidates = tuple(
        Candidate(r.seal_point, r.name, r.leaks, sentence_of(weights, r.seal_point, r.name, words))
        for r in first
    )
    step()
    doubted, change = against(solved, weights, priors), smallest_change(solved, weights)
    said = {**names, **words}
    doubts = (doubt_sentence(doubted, weights, said), change_sentence(change, weights, said))
    step()
    conflict, rivals = job_conflict(solved), rivals_of(solved, priors)
    step()
    together = together_of(solved, leak_sets(solved)[0])
    step()
    routes = routes_of(solved, candidates[0].seal_point)
    step()
    firm = firmness(loaded, solved, priors, draws)
    step()
    return Account(
        job=job.id,
        machine=machine.id,
        title=job.name or job.id,
        solved=solved,
        candidates=candidates,
        weights=weights,
        words=words,
        against=doubted,
        change=change,
        doubts=doubts,
        conflict=conflict,
        rivals=rivals,
        together=together,
        routes=tuple((r, route_sentence(r, names)) for r in routes),
        firmness=firm,
        swings=swings(loaded, solved, priors, candidates[0].seal_point),
    )


def _check(loaded: LoadedJob, seal_point: str | None) -> None:
    known = [s.id for s in loaded.machine.seal_points]
    if seal_point is not None and seal_point not in known:
        problem = f"there is no seal point {seal_point} on machine {loaded.machine.id}"
        remedy = choose(seal_point, known, what="seal point")
        raise FaultyInput([Fault("", None, "--seal", problem, remedy)])
