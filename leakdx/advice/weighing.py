"""How much each look is worth: information, and the fall in the cost of the repair.

First every look is weighed by the best single thing it reads: for that the network is asked
once for each seal point, as if it leaked, and gives what every zone would show then.  The most
promising are weighed again with all that they read, outcome by outcome.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from leakdx.advice.asking import Ahead
from leakdx.advice.looks import Look
from leakdx.advice.outcomes import NEVER, Array, Outlook, information, outlooks
from leakdx.advice.renewal import Labour, closure, closure_with, closure_without
from leakdx.advice.risks import risk_of
from leakdx.belief.evidence import Evidence, ImpossibleEvidence, combine

LEAKING = np.array([0.0, 1.0, 1.0, 1.0])
# Looks weighed outcome by outcome; the others by the best single thing they read.
CLOSELY = 10
# Chances of a leak at which a plan is tried that would renew that seal point too.
_MAYBE = 0.02
# Chance of a leak that is as good as known.
_SURELY = 0.95


@dataclass(frozen=True, eq=False)
class Weighed:
    """One look and what it is worth.

    bits: expected information about each seal point by itself, added up; a lower bound where
    ``whole`` is false, because then only the best single thing it reads was counted.
    fall: expected fall in the cost of the repair, minutes.  price: minutes of the look, of
    bringing the machine there, of what must come off for it, and of putting that back.  risk:
    expected minutes that joints cost which it may make leak.
    """

    look: Look
    outlook: Outlook
    whole: bool
    bits: float
    fall: float
    price: float = 0.0
    risk: float = 0.0

    @property
    def bits_per_minute(self) -> float:
        """Information for each minute it takes."""
        return self.bits / self.look.minutes

    @property
    def gain(self) -> float:
        """What it saves, its price and risk taken off; below zero it is not worth taking."""
        return self.fall - self.price - self.risk


@dataclass(frozen=True, eq=False)
class View:
    """What is known, and what every reading would be then if each seal point leaked.

    leaks: chance that each leaks, (S,).  quiet: for each look, (things, S + 1): chance that a
    thing is read dry given that each seal point leaks, and as things stand, last.
    """

    leaks: Array
    quiet: tuple[Array, ...]

    def outlook(self, look: int, thing: int) -> Outlook:
        """Dry or wet, for one thing of one look."""
        chance, after = self._outcomes(self.quiet[look][thing : thing + 1])
        return Outlook(("dry", "wet"), chance[0], after[0])

    def best(self, look: int) -> tuple[int, Outlook]:
        """The thing a look reads that tells most by itself, and its outcomes."""
        return self.bests([look])[0]

    def bests(self, looks: Sequence[int]) -> list[tuple[int, Outlook]]:
        """The same for each of several looks, far quicker together than one by one."""
        if not looks:
            return []
        chance, after = self._outcomes(np.concatenate([self.quiet[k] for k in looks]))
        bits = information(chance, after)
        found = []
        start = 0
        for k in looks:
            stop = start + len(self.quiet[k])
            n = start + int(np.argmax(bits[start:stop]))
            found.append((n - start, Outlook(("dry", "wet"), chance[n], after[n])))
            start = stop
        return found

    def _outcomes(self, quiet: Array) -> tuple[Array, Array]:
        """Of T things (T, S + 1): chance of dry and of wet, (T, 2), and leaks then, (T, 2, S)."""
        overall = quiet[:, -1:]
        joint = np.minimum(self.leaks * quiet[:, :-1], overall)
        wet = np.clip(self.leaks - joint, 0.0, 1 - overall)
        each = np.concatenate([overall, 1 - overall], axis=1)
        happens = each > NEVER
        parts = np.stack([joint, wet], axis=1) / np.where(happens, each, 1.0)[..., None]
        after = np.where(happens[..., None], parts, self.leaks)
        return each, np.clip(after, 0.0, 1.0)

    def without(self, part: View, chance: float) -> View:
        """What is left of this view where another, of that chance within it, is not so."""
        rest = 1 - chance
        leaks = np.clip((self.leaks - chance * part.leaks) / rest, 0.0, 1.0)
        scale = np.append(self.leaks, 1.0)
        inner = np.append(part.leaks, 1.0) * chance
        outer = np.append(leaks, 1.0) * rest
        quiet = tuple(
            np.clip((scale * q - inner * p) / np.maximum(outer, NEVER), 0.0, 1.0)
            for q, p in zip(self.quiet, part.quiet, strict=True)
        )
        return View(leaks, quiet)


def view_of(ahead: Ahead, more: Mapping[str, Array] | None = None) -> View:
    """What is known in a job, with further evidence.

    Exact for things that hang on one variable; where several fluids may wet a zone, they are
    taken to do so independently given each seal point.  Raises as JunctionTree.update does.
    """
    known = combine([ahead.known, Evidence(more)]) if more else ahead.known
    names = sorted({n for reads in ahead.reads for dry in reads.dry for n in dry})
    width = len(ahead.seals) + 1
    columns: dict[str, Array] = {}
    for k, seal in enumerate(ahead.seals):
        array = np.ones((len(LEAKING), width))
        array[:, k] = LEAKING
        columns[seal] = array * known[seal][:, None] if seal in known else array
    asked = [*names, *ahead.seals]
    try:
        got = ahead.tree.update(Evidence({**known, **columns}), only=asked)
    except ImpossibleEvidence as error:
        if not error.columns or width - 1 in error.columns:
            raise
        # Seal points that cannot leak any more: as if nothing were said of them.
        for k in error.columns:
            seal = ahead.seals[k]
            columns[seal][:, k] = known.get(seal, 1.0)
        got = ahead.tree.update(Evidence({**known, **columns}), only=asked)
    quiet = []
    for reads in ahead.reads:
        rows = np.ones((len(reads.things), width))
        for row, dry in zip(rows, reads.dry, strict=True):
            for name, likelihood in dry.items():
                row *= likelihood @ got[name]
        quiet.append(np.clip(rows, 0.0, 1.0))
    return View(np.array([1 - got[s][0, -1] for s in ahead.seals]), tuple(quiet))


def weigh(
    ahead: Ahead, view: View, looks: Sequence[Look], labour: Labour, ids: Sequence[str]
) -> list[Weighed]:
    """Every look, the most gain first, then the most information a minute.

    ids: of the seal points, in the order of ``ahead.seals``.
    """
    leaks = dict(zip(ids, view.leaks.tolist(), strict=True))
    plans = Plans.of(labour, leaks)

    def weighed(look: Look, outlook: Outlook, whole: bool) -> Weighed:
        fall = plans.fall(outlook, frozenset(look.steps))
        price, risk = price_of(look, labour), risk_of(look.harms, labour, leaks)
        return Weighed(look, outlook, whole, outlook.bits, fall, price, risk)

    found = []
    for k, (_, outlook) in enumerate(view.bests(range(len(looks)))):
        look = looks[k]
        whole = len(ahead.reads[k].things) == 1
        found.append(weighed(look, outlook, whole))
    order = sorted(range(len(found)), key=lambda k: -_promise(found[k]))
    closely = [k for k in order if not found[k].whole][:CLOSELY]
    again = outlooks(ahead.tree, ahead.known, [ahead.reads[k] for k in closely], ahead.seals)
    for k, outlook in zip(closely, again, strict=True):
        found[k] = weighed(looks[k], outlook, True)
    return sorted(found, key=lambda w: (-w.gain, -w.bits_per_minute, w.look.inspection.id))


def price_of(look: Look, labour: Labour) -> float:
    """Minutes of a look, of bringing the machine there, of taking off what is in its way, and of
    putting that back."""
    return look.inspection.minutes + look.ready + sum(labour.steps[k] for k in look.steps)


def _promise(w: Weighed) -> float:
    """By what the looks are picked that are weighed closely."""
    return max(w.gain, 0.0) + 100 * w.bits_per_minute


@dataclass(frozen=True, eq=False)
class Plans:
    """Sets of seal points that may be worth renewing together.

    minutes: (R,) of renewing each set.  left: (S, R) what a leak costs that is left there.
    steps: (R, K) minutes of each access step where the set needs it; names: of the steps, K.
    """

    minutes: Array
    left: Array
    steps: Array
    names: tuple[str, ...]

    @staticmethod
    def of(labour: Labour, leaks: Mapping[str, float]) -> Plans:
        """The best set as things stand, and those best if one seal point were known to leak."""
        ids = list(leaks)
        now = closure(labour, leaks)
        sets = {now, frozenset[str]()}
        for s, chance in leaks.items():
            # Renewed already, a seal point that is likelier to leak changes nothing; left as it
            # is, one that is less likely changes nothing.
            if chance > _MAYBE and s in now:
                sets.add(closure_without(labour, {**leaks, s: 0.0}, now, s))
            elif _MAYBE < chance < _SURELY:
                sets.add(closure_with(labour, {**leaks, s: _SURELY}, now, s))
        every = sorted(sets, key=sorted)
        left = [[0.0 if s in chosen else labour.left(s) for chosen in every] for s in ids]
        names = tuple(sorted(labour.steps))
        needs = [frozenset[str]().union(*(labour.needs[s] for s in chosen)) for chosen in every]
        steps = [[labour.steps[k] if k in need else 0.0 for k in names] for need in needs]
        minutes = np.array([labour.of(s) for s in every])
        return Plans(minutes, np.array(left), np.array(steps), names)

    def cost(self, leaks: Array, off: frozenset[str] = frozenset()) -> Array:
        """Expected cost of the best set after each outcome, (O,); leaks: (O, S).

        What is off already (and is to be put back in any case) costs a set nothing more.
        """
        spared = self.steps @ np.array([float(name in off) for name in self.names])
        return np.asarray((self.minutes - spared + leaks @ self.left).min(axis=1))

    def fall(self, outlook: Outlook, off: frozenset[str] = frozenset()) -> float:
        """Expected fall in the cost of the best set by knowing the outcome, minutes.

        off: what the look takes off.
        """
        now = float(self.cost(outlook.before[None, :])[0])
        return max(now - float(outlook.chance @ self.cost(outlook.leaks, off)), 0.0)
