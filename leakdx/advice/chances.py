"""Chances of a solved job that several kinds of advice ask for."""

from __future__ import annotations

from collections.abc import Collection
from math import exp

from leakdx.advice.ranking import now_names
from leakdx.advice.solving import Solved
from leakdx.belief.evidence import Evidence, combine

TIGHT = (1.0, 0.0, 0.0, 0.0)


def leaks_of(solved: Solved) -> dict[str, float]:
    """Chance that each seal point leaks now, by id, in the machine's order."""
    return {seal: 1 - float(solved.beliefs[name][0]) for seal, name in now_names(solved).items()}


def dry_but(solved: Solved, renewed: Collection[str]) -> float:
    """Chance that every seal point but those that are renewed is tight."""
    tight = {n: TIGHT for seal, n in now_names(solved).items() if seal not in renewed}
    together = float(solved.tree.log_evidence(combine([solved.evidence, Evidence(tight)])))
    return min(1.0, exp(together - float(solved.beliefs.log_evidence)))
