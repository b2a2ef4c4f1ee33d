"""From what is there to what a technician says: likelihoods of readings.

How a zone looks follows from the flow through it and from old grime; how it is called
follows from how it looks and how good the look was.  An age ("fresh", "aged") speaks
for a present leak or for old residue, it does not settle the matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leakdx.flow.carry import Scale, normal_points
from leakdx.flow.film import drops_to_ml_h
from leakdx.network.noisymax import combine
from leakdx.network.tables import Array
from leakdx.priors.model import Priors

LOOKS = ("dry", "film", "running", "dripping")
POINTS = normal_points(15)


@dataclass(frozen=True)
class Sight:
    """How good a look is: chance of a miss (film called dry) and of a false call."""

    miss: float
    false_call: float


@dataclass(frozen=True)
class Grime:
    """Chance that old residue shows on a zone as a film or as runs, whatever leaks now."""

    film: float
    runs: float

    @property
    def looks(self) -> Array:
        """Distribution over LOOKS of the old residue alone, shape (4,); draws last, if any."""
        return stacked([1 - self.film - self.runs, self.film, self.runs, 0.0])


def stacked(numbers: Sequence[float | Array]) -> Array:
    """The numbers along a new first axis; where some are arrays of draws, all become such."""
    return np.stack(np.broadcast_arrays(*numbers))


def sight(method: str, sureness: str, priors: Priors) -> Sight:
    """The errors of a method, in a poor, normal or good view."""
    factor = priors[f"detection.sure.{sureness}"] if sureness != "normal" else 1.0
    return Sight(
        *(
            np.minimum(0.5, factor * priors[f"detection.{method}.{error}"])
            for error in ("miss", "false_call")
        )
    )


def looks_of_flow(scale: Scale, priors: Priors) -> Array:
    """P(look | level of flow), shape (4, levels): when a flow is seen, runs, or drips."""
    factor = np.exp(np.log(priors["flow.look_factor"]) * POINTS)
    visible = (priors["flow.visible_ml"] / scale.hours[:, None] * factor).ravel()
    runs = priors["flow.run_ml_h"] * factor
    drips = priors["flow.drip_ml_h"] * factor
    table = np.zeros((len(LOOKS), scale.levels))
    table[0, 0] = 1.0
    for level in range(1, scale.levels):
        flows = scale.within(level)
        seen = float(np.mean(flows[:, None] >= visible))
        running = float(np.mean(flows[:, None] >= runs))
        dripping = float(np.mean(flows[:, None] >= drips))
        at_least = np.minimum.accumulate([1.0, seen, running, dripping])
        table[:, level] = at_least - np.append(at_least[1:], 0.0)
    return table


def calls(view: Sight, priors: Priors) -> Array:
    """P(called | looks), shape (4, 4): what is said of a surface of each look."""
    step = priors["detection.step_off"]
    run_miss = view.miss * priors["detection.run_missed"]
    false = view.false_call
    film, run = 1 - view.miss, 1 - run_miss
    return _table(
        [
            [1 - false, view.miss, run_miss, run_miss / 2],
            [false * 0.85, film * (1 - step), run * step, 0.0],
            [false * 0.12, film * step * 0.9, run * (1 - 2 * step), (1 - run_miss / 2) * step],
            [false * 0.03, film * step * 0.1, run * step, (1 - run_miss / 2) * (1 - step)],
        ]
    )


def _table(rows: Sequence[Sequence[float | Array]]) -> Array:
    """Rows of numbers as a table, draws last, if any."""
    flat = stacked([number for row in rows for number in row])
    return flat.reshape(len(rows), len(rows[0]), *flat.shape[1:])


def fresh_chances(priors: Priors) -> Array:
    """Chance that residue of each look, fed by a present leak, looks fresh, shape (4,)."""
    return stacked([0.5, *(priors[f"detection.fresh.{look}"] for look in LOOKS[1:])])


def zone_likelihood(
    called: str, age: str | None, flow_looks: Array, grime: Grime, table: Array, priors: Priors
) -> Array:
    """P(reading | level of flow), shape (levels,), or (levels, B) from priors of B draws.

    called: a state of LOOKS, or "wet" for any but dry.  flow_looks: P(look | level),
    table: P(called | looks).  Where old residue hides the flow's own look, the age
    speaks of the old residue.
    """
    said = table[1:].sum(axis=0) if called == "wet" else table[LOOKS.index(called)]
    if age is None or called == "dry":
        old = grime.looks
        shown = combine(flow_looks.reshape(*flow_looks.shape, *[1] * (old.ndim - 1)), old[:, None])
        return np.asarray(np.einsum("c...,cl...->l...", said, shown))
    from_flow, from_old = fresh_chances(priors), priors["detection.fresh.grime"]
    likelihood: Array | float = 0.0
    for look, chance in enumerate(grime.looks):
        for own in range(len(LOOKS)):
            fresh = from_flow[own] if own >= look else from_old
            weight = chance * said[max(own, look)] * _aged(age, fresh, priors)
            likelihood = likelihood + np.multiply.outer(flow_looks[own], weight)
    return np.asarray(likelihood)


def _aged(age: str, fresh: float, priors: Priors) -> float:
    baked = priors["detection.baked.of_old"]
    return {"fresh": fresh, "aged": (1 - fresh) * (1 - baked), "baked": (1 - fresh) * baked}[age]


def drops_likelihood(drops_per_minute: float, scale: Scale, priors: Priors) -> Array:
    """P(count of drops | level of flow), a density over its logarithm, shape (levels,).

    The count gives a flow (drops per mL: a convention, see film.py), right within a
    factor.  Where nothing flows the drops are no leak's, and any count is as likely.
    """
    flow = float(drops_to_ml_h(drops_per_minute, priors["leak_rates.drops_per_ml"]))
    spread = np.log(priors["detection.count_factor"])
    stray = 1 / np.log(scale.edges[-1] / scale.edges[0])
    densities = [stray]
    for level in range(1, scale.levels):
        off = np.divide.outer(np.log(flow) - np.log(scale.within(level)), spread)
        bell = np.exp(-0.5 * off**2) / (spread * np.sqrt(2 * np.pi))
        densities.append(np.mean(bell, axis=0) + 0.01 * stray)
    return stacked(densities)


def seal_calls(view: Sight, priors: Priors) -> Array:
    """P(called | looks) for a seal point looked at closely, shape (4, 4).

    States: tight, weeping, drops forming, dripping.
    """
    step = priors["detection.seal.step_off"]
    miss = view.miss
    false = view.false_call
    return _table(
        [
            [1 - false, miss, miss / 4, miss / 8],
            [false * 0.85, (1 - miss) * (1 - step), (1 - miss / 4) * step, 0.0],
            [
                false * 0.12,
                (1 - miss) * step,
                (1 - miss / 4) * (1 - 2 * step),
                (1 - miss / 8) * step,
            ],
            [false * 0.03, 0.0, (1 - miss / 4) * step, (1 - miss / 8) * (1 - step)],
        ]
    )
