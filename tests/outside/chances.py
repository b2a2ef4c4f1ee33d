"""The ranking of a job without the sets, which take most of its time and no fact asks for."""

from __future__ import annotations

from dataclasses import dataclass

from leakdx.advice.ranking import Ranked, ranked_seals
from leakdx.advice.solving import solve
from leakdx.case.read import LoadedJob
from leakdx.priors.read import shipped_priors


@dataclass(frozen=True)
class Ranking:
    """The rows of a ranking, the likeliest first."""

    rows: tuple[Ranked, ...]


def rank_job(loaded: LoadedJob) -> Ranking:
    return Ranking(ranked_seals(loaded, solve(loaded, shipped_priors())))


def chance(ranking: Ranking, seal: str) -> float:
    """Chance that a seal point leaks."""
    return next(r.leaks for r in ranking.rows if r.seal_point == seal)
