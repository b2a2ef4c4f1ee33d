"""A quick ranking as a change from the last full one.

The full ranking follows more ways of the flow, and is off from a quick one of the same readings
by much the same factor before and after one more reading.  So the quick one says how much a
reading changes, and the last full one from where.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from leakdx.advice.ranking import Ranked, Ranking
from leakdx.case.read import LoadedJob
from leakdx.network.odds import decibans
from leakdx.network.tables import Array

# Beyond such a factor the quick ranking missed something that may be told by now.
MOST = 30.0


@dataclass(frozen=True, eq=False)
class Full:
    """A full ranking, and the job it is of."""

    loaded: LoadedJob
    ranking: Ranking


def leaning(now: Ranking, then: Ranking, full: Ranking) -> Ranking:
    """The quick ranking ``now``, put right as far as ``then`` was off from ``full``.

    then: quick, of the same readings as full; all three of one machine.  Chances of each seal
    point's classes and of all else that is ranked; the sentences are those of ``now``.
    """
    before = {r.seal_point: _classes(r) for r in then.rows}
    known = {r.seal_point: _classes(r) for r in full.rows}
    rows = [
        _row(r, _moved(_classes(r), before[r.seal_point], known[r.seal_point])) for r in now.rows
    ]
    none, not_listed, nothing = (
        float(
            _moved(
                *(np.array([1 - getattr(r, name), getattr(r, name)]) for r in (now, then, full))
            )[1]
        )
        for name in ("none_leaks", "not_listed", "nothing_leaks")
    )
    return replace(
        now,
        rows=tuple(sorted(rows, key=lambda r: (-r.leaks, r.seal_point))),
        none_leaks=none,
        not_listed=not_listed,
        # Nothing leaks only where no listed seal does and no other origin.
        nothing_leaks=min(nothing, none, 1 - not_listed),
        log_evidence=min(now.log_evidence + full.log_evidence - then.log_evidence, 0.0),
    )


def _classes(row: Ranked) -> Array:
    return np.array([1 - row.leaks, row.seeping, row.drops, row.dripping])


def _moved(now: Array, then: Array, full: Array) -> Array:
    """A distribution times full over then, made one again; what cannot be stays so."""
    there = (then > 0) & (full > 0)
    factor = np.where(there, full / np.where(there, then, 1.0), 1.0)
    found = now * np.clip(factor, 1 / MOST, MOST)
    whole = found.sum()
    return np.asarray(found / whole if whole > 0 else now)


def _row(row: Ranked, classes: Array) -> Ranked:
    seeping, drops, dripping = (float(c) for c in classes[1:])
    leaks = seeping + drops + dripping
    return replace(
        row,
        leaks=leaks,
        decibans=decibans(leaks),
        seeping=seeping,
        drops=drops,
        dripping=dripping,
    )
