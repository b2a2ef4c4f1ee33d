"""Looking before acting, in general: hypotheses, looks that cost, acts that cost, the best plan.

Costs may be minutes or money; they are added and the least is sought.  Looks are taken to be
independent of one another given the hypothesis, and each is taken once at most.

Sources: Raiffa, "Decision Analysis", 1968, for the value of a look; de Kleer & Williams,
"Diagnosing multiple faults", Artificial Intelligence 32, 1987, for choosing by information;
Heckerman, Breese & Rommelse, Communications of the ACM 38, 1995, for looking and renewing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# Outcomes rarer than this are taken not to happen.
NEVER = 1e-12


class DecisionError(ValueError):
    """A decision that cannot be worked out; the message says which part is wrong."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A look: what it costs, and P(outcome | hypothesis), shape (O, H)."""

    name: str
    cost: float
    chances: Array


@dataclass(frozen=True, eq=False)
class Decision:
    """prior: P(hypothesis), (H,).  acts: cost of each act under each hypothesis, (A, H)."""

    prior: Array
    acts: Array
    trials: tuple[Trial, ...]

    def __post_init__(self) -> None:
        faults = list(_faults(self))
        if faults:
            raise DecisionError("; ".join(faults))


def _faults(d: Decision) -> Iterator[str]:
    size = d.prior.shape[0]
    if d.prior.min() < 0 or abs(float(d.prior.sum()) - 1) > 1e-9:
        yield "the prior is no distribution"
    if d.acts.ndim != 2 or d.acts.shape[1] != size or not len(d.acts):
        yield "every act needs a cost under every hypothesis"
    for trial in d.trials:
        if not np.isfinite(trial.cost) or trial.cost <= 0:
            yield f"the look '{trial.name}' must cost more than nothing, costs {trial.cost:g}"
        if trial.chances.ndim != 2 or trial.chances.shape[1] != size:
            yield f"the look '{trial.name}' needs chances under every hypothesis"
        elif trial.chances.min() < 0 or np.abs(trial.chances.sum(axis=0) - 1).max() > 1e-9:
            yield f"the chances of the outcomes of '{trial.name}' do not add up to one"


@dataclass(frozen=True, eq=False)
class Step:
    """What to do: take a look and go on by its outcome, or act and be done.

    look: index of a trial, or None to act.  act: index of the act if one acts now.
    cost: expected cost from here on.  following: by outcome; None where it cannot happen.
    """

    look: int | None
    act: int
    cost: float
    following: tuple[Step | None, ...] = ()

    def cost_under(self, d: Decision, hypothesis: int) -> float:
        """Expected cost of going by this plan if that hypothesis holds."""
        if self.look is None:
            return float(d.acts[self.act, hypothesis])
        trial = d.trials[self.look]
        chances = trial.chances[:, hypothesis]
        return trial.cost + sum(
            float(c) * step.cost_under(d, hypothesis)
            for c, step in zip(chances, self.following, strict=True)
            if step is not None and c > 0
        )


def acting_now(d: Decision, belief: Array) -> tuple[int, float]:
    """The best act under a belief (H,), and its expected cost."""
    costs = d.acts @ belief
    best = int(np.argmin(costs))
    return best, float(costs[best])


def outcomes(trial: Trial, belief: Array) -> tuple[Array, Array]:
    """Chance of each outcome (O,), and the belief after it, (O, H); zero where it cannot be."""
    joint = trial.chances * belief
    chance = joint.sum(axis=1)
    after = np.divide(joint, chance[:, None], out=np.zeros_like(joint), where=chance[:, None] > 0)
    return chance, after


def bits(belief: Array) -> float:
    """Entropy of a belief, bits."""
    some = belief[belief > 0]
    return float(-(some * np.log2(some)).sum())


def information(trial: Trial, belief: Array) -> float:
    """Expected information of a look about the hypothesis, bits."""
    chance, after = outcomes(trial, belief)
    return bits(belief) - float(sum(c * bits(a) for c, a in zip(chance, after, strict=True)))


def gain(d: Decision, trial: Trial, belief: Array) -> float:
    """Expected fall in the cost of the best act if the look were free."""
    chance, after = outcomes(trial, belief)
    later = sum(c * acting_now(d, a)[1] for c, a in zip(chance, after, strict=True) if c > NEVER)
    return acting_now(d, belief)[1] - float(later)


def perfect(d: Decision) -> float:
    """Expected value of knowing the hypothesis before acting."""
    return acting_now(d, d.prior)[1] - float(d.acts.min(axis=0) @ d.prior)


def best_plan(d: Decision) -> Step:
    """The plan of least expected cost, by going through every sequence of looks.

    Work grows as (looks times outcomes) to the number of looks: for a handful of looks.
    """
    return _deep(d, d.prior, tuple(range(len(d.trials))), len(d.trials), {}, ())


def lookahead(d: Decision, depth: int) -> Step:
    """The plan that at each point looks ``depth`` looks ahead as if one had to act then.

    Depth 1 is greedy.
    """
    return _stepwise(d, d.prior, tuple(range(len(d.trials))), depth)


Seen = tuple[tuple[int, int], ...]


def _deep(
    d: Decision,
    belief: Array,
    left: tuple[int, ...],
    depth: int,
    known: dict[Seen, Step],
    seen: Seen,
) -> Step:
    """Best of acting now and of every look followed by the best, at most ``depth`` looks."""
    key = tuple(sorted(seen))
    if key in known:
        return known[key]
    act, cost = acting_now(d, belief)
    best = Step(None, act, cost)
    following: list[Step | None]
    for look in left if depth else ():
        trial = d.trials[look]
        # Nobody can do better later than by knowing everything.
        if trial.cost + float(d.acts.min(axis=0) @ belief) >= best.cost:
            continue
        rest = tuple(k for k in left if k != look)
        total, following = trial.cost, []
        for outcome, (c, after) in enumerate(zip(*outcomes(trial, belief), strict=True)):
            if c <= NEVER:
                following.append(None)
                continue
            step = _deep(d, after, rest, depth - 1, known, (*seen, (look, outcome)))
            total += c * step.cost
            following.append(step)
        if total < best.cost:
            best = Step(look, act, float(total), tuple(following))
    known[key] = best
    return best


def _stepwise(d: Decision, belief: Array, left: tuple[int, ...], depth: int) -> Step:
    first = _deep(d, belief, left, min(depth, len(left)), {}, ())
    if first.look is None:
        return first
    trial = d.trials[first.look]
    rest = tuple(k for k in left if k != first.look)
    following = [
        _stepwise(d, after, rest, depth) if c > NEVER else None
        for c, after in zip(*outcomes(trial, belief), strict=True)
    ]
    chance, _ = outcomes(trial, belief)
    cost = trial.cost + sum(
        float(c) * s.cost for c, s in zip(chance, following, strict=True) if s is not None
    )
    return Step(first.look, first.act, cost, tuple(following))
