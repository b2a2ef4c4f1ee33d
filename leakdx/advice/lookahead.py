"""Two looks ahead: what a first look is worth when the best second look after it is counted.

A first look is told apart into dry and wet by the thing it reads that tells most.  After each
of the two every other look is weighed again, also by its best single thing, and the best is
taken where it saves more than its minutes.  So what is said here is never too much: with all
that the looks read, and with a third, more may be saved.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from math import exp

import numpy as np

from leakdx.advice.asking import Ahead
from leakdx.advice.looks import Look, spoilt_by
from leakdx.advice.outcomes import NEVER, Array, Outlook
from leakdx.advice.renewal import Labour, closure
from leakdx.advice.risks import risk_of
from leakdx.advice.weighing import View, Weighed, price_of, view_of
from leakdx.belief.evidence import Evidence, combine
from leakdx.files.schema import Schema, closed

# First looks that are followed; each takes an update of the network with many columns.
FIRSTS = 6
# Minutes that a second look must save at least: less is rounding.
_ROUNDING = 1e-6


@dataclass(frozen=True)
class TwoLooks:
    """A first look, by the thing it reads that tells most, and the best look after it.

    dry, wet: inspection to make after that outcome, None where it is best to stop looking.
    gain: minutes saved on average, those of both looks and of putting back taken off; never
    less than what the first look saves by itself.
    """

    first: str
    thing: str
    dry: str | None
    wet: str | None
    gain: float


@dataclass(frozen=True, eq=False)
class Bared:
    """What the repair costs while some access steps are off.

    labour: what is off is paid for and needed by no seal point.  left: (S,) what a leak costs
    that is left at each seal point, to be renewed when all is closed up again.
    """

    labour: Labour
    left: Array
    ids: tuple[str, ...]

    @cached_property
    def _pays(self) -> tuple[Array, Array]:
        """Minutes that each seal point takes, (S,): laid bare, and with all in front of it."""
        bare = np.array([self.labour.renew[s] for s in self.ids])
        return bare, np.array([self.labour.of([s]) for s in self.ids])

    def cost(self, leaks: Array) -> float:
        """Least expected cost where seal points leak with these chances, (S,)."""
        # The cut reckons a leak that is left by what is in front of it now.
        here = np.maximum(self.labour.comeback + self._pays[1], NEVER)
        chance = dict(zip(self.ids, (leaks * self.left / here).tolist(), strict=True))
        best = closure(self.labour, chance)
        stays = np.array([s not in best for s in self.ids])
        return self.labour.of(best) + float((leaks * self.left)[stays].sum())

    def cost_after(self, outlook: Outlook) -> float:
        """Least expected cost once an outcome is known, on average."""
        happens = zip(outlook.chance.tolist(), outlook.leaks, strict=True)
        return sum((chance * self.cost(leaks) for chance, leaks in happens if chance > 0), 0.0)

    def most(self, outlook: Outlook, leaks: Array) -> float:
        """What knowing the outcome can lower the cost by at most; leaks: before it, (S,).

        Along the line from the chances now to those after an outcome, what renewing saves
        grows for each seal point with what its leak costs if left, but only where it is
        renewed: never where the leak is worth less than its own renewing, always where it is
        worth that and all that lies in front.
        """
        never, always = self._pays
        now, then = leaks * self.left, outlook.leaks * self.left
        rises = np.maximum(then - np.maximum(now, never), 0.0)
        falls = np.maximum(now - np.maximum(then, always), 0.0)
        return float(outlook.chance @ (rises - falls).sum(axis=1))


@dataclass(frozen=True, eq=False)
class Prospect:
    """What is needed to look ahead in a job.

    looks: in the order of ``ahead.reads``.  ids: of the seal points, in the order of
    ``ahead.seals``.
    """

    ahead: Ahead
    looks: tuple[Look, ...]
    labour: Labour
    ids: tuple[str, ...]

    @cached_property
    def _left(self) -> Array:
        return np.array([self.labour.left(s) for s in self.ids])

    def bared(self, *looks: Look) -> Bared:
        """What the repair costs where all is off that these looks needed off."""
        off = frozenset[str]().union(*(look.steps for look in looks))
        needs = {s: steps - off for s, steps in self.labour.needs.items()}
        return Bared(replace(self.labour, needs=needs), self._left, self.ids)

    def price_after(self, first: Look, look: Look) -> float:
        """Minutes of a look where what the first needed off is off already."""
        left = set(look.steps) - set(first.steps)
        steps = sum(self.labour.steps[s] for s in left)
        return look.inspection.minutes + look.ready + steps

    def risk(self, view: View, look: Look) -> float:
        """Expected minutes that joints cost which a look may make leak."""
        return risk_of(look.harms, self.labour, dict(zip(self.ids, view.leaks, strict=True)))

    def seconds(self, first: Look) -> tuple[int, ...]:
        """The looks that can still be taken as they are after the first."""
        gone = {first.inspection.id, *spoilt_by(first, self.looks)}
        return tuple(k for k, look in enumerate(self.looks) if look.inspection.id not in gone)


def two_ahead(
    prospect: Prospect,
    view: View,
    weighed: Sequence[Weighed],
    step: Callable[[], None] = lambda: None,
) -> tuple[TwoLooks, ...]:
    """The most promising first looks with the best look after each outcome, the best first.

    view: what is known now.  weighed: the looks by themselves, the best first, as ``weigh``
    gives them.  ``step`` is called before each first look.
    """
    place = {look.inspection.id: k for k, look in enumerate(prospect.looks)}
    now = prospect.bared().cost(view.leaks)
    found = []
    for w in weighed[:FIRSTS]:
        step()
        two = _followed(prospect, view, place[w.look.inspection.id])
        # By itself the first look may have been weighed with all it reads, which can be worth
        # more than its best single thing and another look.
        found.append(replace(two, gain=max(now + two.gain, w.gain)))
    return tuple(sorted(found, key=lambda two: -round(two.gain, 2)))


def _followed(prospect: Prospect, view: View, first: int) -> TwoLooks:
    """The best look after each outcome; the gain is less what the repair costs as things stand."""
    look, reads = prospect.looks[first], prospect.ahead.reads[first]
    thing, _ = view.best(first)
    chance, dry, wet = _outcomes(prospect.ahead, view, reads.dry[thing])
    cost = price_of(look, prospect.labour) + prospect.risk(view, look)
    then: list[str | None] = []
    for weight, after in ((chance, dry), (1 - chance, wet)):
        name, minutes = _second(prospect, after, look) if weight > 0 else (None, 0.0)
        cost += weight * minutes
        then.append(name)
    return TwoLooks(look.inspection.id, reads.things[thing], then[0], then[1], -cost)


def _outcomes(ahead: Ahead, view: View, dry: Mapping[str, Array]) -> tuple[float, View, View]:
    """Chance that a thing is read dry, and what is known after dry and after wet."""
    # What cannot be read dry where it leaks would leave nothing to weigh given that leak.
    dry = {name: np.maximum(array, NEVER * array.max()) for name, array in dry.items()}
    more = combine([ahead.known, Evidence(dry)])
    both = float(ahead.tree.log_evidence(more)) - float(ahead.tree.log_evidence(ahead.known))
    chance = min(exp(both), 1.0)
    if chance < NEVER:
        return 0.0, view, view
    if chance > 1 - NEVER:
        return 1.0, view, view
    after = view_of(ahead, dry)
    return chance, after, view.without(after, chance)


def _second(prospect: Prospect, view: View, first: Look) -> tuple[str | None, float]:
    """The best look after the first, or None, and the expected cost with its minutes."""
    bared = prospect.bared(first)
    outlooks = {k: view.best(k)[1] for k in prospect.seconds(first)}
    # What a look takes off saves the repair at most the minutes that it took for it.
    hopes = {
        k: bared.most(outlook, view.leaks) - prospect.looks[k].inspection.minutes
        for k, outlook in outlooks.items()
    }
    stop = bared.cost(view.leaks)
    best: str | None = None
    least = stop - _ROUNDING
    for k in sorted(hopes, key=lambda k: -hopes[k]):
        if stop - hopes[k] >= least:
            # Neither this one nor those after it can be better.
            break
        look = prospect.looks[k]
        cost = prospect.bared(first, look).cost_after(outlooks[k])
        cost += prospect.price_after(first, look) + prospect.risk(view, look)
        if cost < least:
            best, least = look.inspection.id, cost
    return best, stop if best is None else least


def sentence_of(found: Sequence[TwoLooks], names: Mapping[str, str]) -> str:
    """The best of them in plain words; names: of the inspections, by id."""
    if not found or found[0].gain <= 0:
        return "Two looks ahead: no look is worth its minutes, not even with another after it."
    best = found[0]

    def named(inspection: str | None) -> str:
        if inspection is None:
            return "stop looking"
        name = names[inspection]
        return name[0].lower() + name[1:]

    if best.dry == best.wet:
        # Its outcome then only tells what to renew.
        then = "and no other" if best.dry is None else f"then {named(best.dry)}, wet or dry"
        after = f"{named(best.first)} first, {then}"
    else:
        at = best.thing.replace("_", " ")
        after = (
            f"{named(best.first)} first; if wet (at {at}) then {named(best.wet)}, "
            f"if dry then {named(best.dry)}"
        )
    return f"Two looks ahead: {after}. That saves about {best.gain:.0f} minutes on average."


def to_json_list(found: Sequence[TwoLooks]) -> list[dict[str, object]]:
    """Plain data in the shape that ``json_schema`` describes."""
    return [asdict(two) for two in found]


def json_schema() -> Schema:
    """The schema of ``two_ahead`` in what ``leakdx next --json`` prints."""
    text: Schema = {"type": "string"}
    then: Schema = {"type": ["string", "null"]}
    return {
        "type": "array",
        "description": "first looks with the best look after each, the best first; with --ahead",
        "items": closed(
            {
                "first": text | {"description": "inspection to make first"},
                "thing": text | {"description": "what it reads that tells most"},
                "dry": then | {"description": "inspection to make if dry, null: stop looking"},
                "wet": then | {"description": "inspection to make if wet, null: stop looking"},
                "gain": {
                    "type": "number",
                    "description": "minutes saved on average, those of both looks taken off",
                },
            }
        ),
    }
