"""The next inspection: what to look at now, what each outcome would mean, when to stop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from leakdx.advice.asking import Ahead, ahead_of, weighable
from leakdx.advice.chances import dry_but, leaks_of
from leakdx.advice.costs import labour_of, money, whole_gaskets
from leakdx.advice.lookahead import Prospect, TwoLooks, two_ahead
from leakdx.advice.lookahead import to_json_list as two_list
from leakdx.advice.looks import Look, Looks, looks_of
from leakdx.advice.next_schema import FORMAT
from leakdx.advice.ordering import Order
from leakdx.advice.proposal import Outcome, Proposal, proposal_dict
from leakdx.advice.renewal import Labour, best_renewal
from leakdx.advice.risks import told
from leakdx.advice.separating import Separation, separations
from leakdx.advice.solving import Solved, solve
from leakdx.advice.weighing import View, Weighed, view_of, weigh
from leakdx.advice.words import BEGINNING, percent
from leakdx.belief.evidence import ImpossibleEvidence
from leakdx.case.read import LoadedJob
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors

# Surer than this there is nothing left to find out.
DECIDED = 0.98
# Why no look is proposed for a job that has only been begun.
NOTHING_SEEN = "nothing that was seen has been entered yet"
# Ids of two seal points.
Pair = tuple[str, str]


@dataclass(frozen=True)
class Telling:
    """The look that tells two seal points apart best, and what it would say, decibans."""

    first: str
    second: str
    inspection: str
    thing: str
    wet: float
    dry: float
    per_minute: float


@dataclass(frozen=True)
class Plan:
    """Seal points to renew together, and the chance that nothing else leaks then."""

    seals: tuple[str, ...]
    minutes: float
    said: str
    dry: float


@dataclass(frozen=True)
class NextLook:
    """What to do next in a job.

    stop: why no look is worth taking, None where one is.  closed: looks that cannot or need
    not be taken, with the reason.  left_out: signs that were read and are not counted here.
    two_ahead: empty where that was not asked for.
    """

    job: str
    machine: str
    sentence: str
    stop: str | None
    proposals: tuple[Proposal, ...]
    telling: Telling | None
    plan: Plan
    closed: tuple[tuple[str, str], ...]
    detail: int
    left_out: tuple[str, ...]
    two_ahead: tuple[TwoLooks, ...] = ()

    @property
    def table(self) -> pd.DataFrame:
        """One row a look, the best first."""
        columns = ["inspection", "name", "minutes", "bits", "bits_per_minute", "fall", "gain"]
        values = [[getattr(p, c) for c in columns] for p in self.proposals]
        return pd.DataFrame(values, columns=columns)

    def to_json_dict(self) -> dict[str, Any]:
        """Plain data in the shape that ``leakdx schema next`` describes."""
        telling = self.telling
        return {
            "format": FORMAT,
            "job": self.job,
            "machine": self.machine,
            "sentence": self.sentence,
            "stop": self.stop,
            "looks": [proposal_dict(p) for p in self.proposals],
            "telling_apart": None
            if telling is None
            else {f: getattr(telling, f) for f in Telling.__dataclass_fields__},
            "renew": {
                "seal_points": list(self.plan.seals),
                "minutes": self.plan.minutes,
                "dry_then": self.plan.dry,
            },
            "closed": [{"inspection": i, "why": why} for i, why in self.closed],
            "detail": self.detail,
            "left_out": list(self.left_out),
            "two_ahead": two_list(self.two_ahead),
        }


@dataclass(frozen=True, eq=False)
class Weigher:
    """A job with the network of its open looks compiled, ready to be weighed."""

    loaded: LoadedJob
    priors: Priors
    looks: Looks
    open: tuple[Look, ...]
    ahead: Ahead
    labour: Labour

    @staticmethod
    def of(loaded: LoadedJob, priors: Priors) -> Weigher:
        """Raises TooLarge for a machine too large to look ahead on."""
        looks = looks_of(loaded.machine, loaded.job, priors)
        chosen = tuple(look for look in looks.open if weighable(look.inspection))
        ahead = ahead_of(loaded.machine, loaded.job, chosen, priors)
        labour = labour_of(loaded.machine, looks.off, loaded.job, priors)
        whole = whole_gaskets(loaded.machine, labour)
        return Weigher(loaded, priors, looks, chosen, ahead, whole)

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids of the seal points, in the machine's order."""
        return tuple(s.id for s in self.loaded.machine.seal_points)

    def weighed(self, view: View) -> list[Weighed]:
        """Every look and what it is worth."""
        return weigh(self.ahead, view, self.open, self.labour, self.ids)

    @property
    def prospect(self) -> Prospect:
        """What is needed to look two looks ahead."""
        return Prospect(self.ahead, self.open, self.labour, self.ids)


def next_look(
    loaded: LoadedJob, priors: Priors | None = None, pair: Pair | None = None
) -> NextLook:
    """What to look at next in a job, or what to renew where no look is worth its minutes.

    pair: two seal points to be told apart (without: the two likeliest).

    Raises ContradictoryReadings where the readings cannot hold together, TooLarge for a
    machine too large to work out exactly, FaultyInput for a pair that is none of its machine.
    """
    numbers = priors or shipped_priors()
    check_pair(loaded.machine, pair)
    return next_of(Weigher.of(loaded, numbers), solve(loaded, numbers), pair=pair)


def check_pair(machine: Machine, pair: Pair | None) -> None:
    """Raises FaultyInput unless it is two seal points of the machine, or None."""
    if pair is None:
        return
    ids = [s.id for s in machine.seal_points]
    unknown = dict.fromkeys(s for s in pair if s not in ids)
    faults = [
        Fault(
            "",
            None,
            "--between",
            f"there is no seal point {seal} on machine {machine.id}",
            choose(seal, ids, what="seal point"),
        )
        for seal in unknown
    ]
    if pair[0] == pair[1]:
        problem = f"{pair[0]} cannot be told apart from itself"
        faults.append(Fault("", None, "--between", problem, "Name two seal points."))
    if faults:
        raise FaultyInput(faults)


def next_of(
    weigher: Weigher,
    solved: Solved,
    further: Callable[[], None] | None = None,
    pair: Pair | None = None,
) -> NextLook:
    """The same for a job that has been solved and made ready.

    further: looks two looks ahead too, and is called before each first look is followed.
    """
    machine, job = weigher.loaded.machine, weigher.loaded.job
    view = view_of(weigher.ahead)
    weighed = weigher.weighed(view)
    proposals = tuple(sorted(_proposals(weigher, view, weighed), key=_worth))
    leaks = leaks_of(solved)
    renewal = best_renewal(weigher.labour, leaks)
    said, dry = money(renewal.minutes, job), dry_but(solved, renewal.seals)
    plan = Plan(renewal.seals, renewal.minutes, said, dry)
    stop = _stop(proposals, leaks, len(solved.asked.readings))
    return NextLook(
        job=job.id,
        machine=machine.id,
        sentence=_sentence(machine, proposals, plan, stop, leaks),
        stop=stop,
        proposals=proposals,
        telling=_telling(weigher, _two(weigher, leaks, pair)),
        plan=plan,
        closed=_closed(weigher),
        detail=weigher.ahead.detail,
        left_out=weigher.ahead.left_out,
        two_ahead=two_ahead(weigher.prospect, view, weighed, further) if further else (),
    )


def _worth(proposal: Proposal) -> tuple[float, float, str]:
    """The most gain first.  Rounded, so that the last digit decides nothing."""
    gain, bits = round(proposal.gain, 6), round(proposal.bits_per_minute, 9)
    return -gain, -bits, proposal.inspection


def _proposals(weigher: Weigher, view: View, weighed: Sequence[Weighed]) -> list[Proposal]:
    machine = weigher.loaded.machine
    gains = {w.look.inspection.id: w.gain for w in weighed}
    order = Order(machine, weigher.looks.standing, weigher.priors, gains)
    looks = [w.look for w in weighed]
    leaks = dict(zip(weigher.ids, view.leaks.tolist(), strict=True))
    found = []
    for w in weighed:
        # What could have been learnt by a look that this one spoils is its loss.
        after = order.after(w.look, looks)
        inspection = w.look.inspection
        found.append(
            Proposal(
                inspection=inspection.id,
                name=inspection.name or inspection.id.replace("_", " "),
                minutes=w.look.minutes,
                steps=w.look.steps,
                bits=w.bits,
                bits_per_minute=w.bits_per_minute,
                fall=w.fall,
                gain=w.gain - after.loss,
                whole=w.whole,
                spoils=after.spoils,
                outcomes=tuple(_outcomes(w, weigher.ids)),
                state=tuple(s.value for s in inspection.state if s.value != "any"),
                cautions=w.look.cautions,
                ready=w.look.ready,
                waits=w.look.waits,
                delays=after.delays,
                risk=w.risk,
                risks=told(w.look.harms, weigher.labour, leaks, _names(machine)),
            )
        )
    return found


def _outcomes(w: Weighed, ids: Sequence[str]) -> list[Outcome]:
    found = []
    for label, chance, leaks in zip(
        w.outlook.labels, w.outlook.chance, w.outlook.leaks, strict=True
    ):
        order = sorted(range(len(ids)), key=lambda k: (-leaks[k], k))[:3]
        first = tuple((ids[k], float(leaks[k])) for k in order)
        found.append(Outcome(label, float(chance), first))
    return found


def _stop(proposals: Sequence[Proposal], leaks: dict[str, float], readings: int) -> str | None:
    if all(p > DECIDED or p < 1 - DECIDED for p in leaks.values()):
        return "it is decided already: every seal point is either nearly sure to leak or not to"
    if not proposals:
        return "no inspection is left that could be made now"
    if proposals[0].gain <= 0:
        # Before it is told where fluid was seen, a look at random seldom pays.
        return "no look is worth its minutes any more" if readings else NOTHING_SEEN
    return None


def _two(weigher: Weigher, leaks: dict[str, float], pair: Pair | None) -> list[int]:
    """Places of the two seal points to be told apart: those asked for, or the likeliest."""
    ids = weigher.ids
    if pair is not None:
        return [ids.index(seal) for seal in pair]
    return sorted(range(len(ids)), key=lambda k: (-leaks[ids[k]], k))[:2]


def _telling(weigher: Weigher, two: Sequence[int]) -> Telling | None:
    ids = weigher.ids
    if len(two) < 2:
        return None
    first, second = two
    try:
        every: list[Separation] = separations(weigher.ahead, weigher.open, first, second)
    except ImpossibleEvidence:
        return None
    if not every:
        return None
    best = every[0]
    return Telling(
        ids[first],
        ids[second],
        best.look.inspection.id,
        best.thing,
        best.wet,
        best.dry,
        best.per_minute,
    )


def _closed(weigher: Weigher) -> tuple[tuple[str, str], ...]:
    weighed = {look.inspection.id for look in weigher.open}
    found = dict(weigher.looks.closed)
    for look in weigher.looks.open:
        if look.inspection.id not in weighed:
            found[look.inspection.id] = "reads only signs that cannot be weighed beforehand"
    return tuple(found.items())


def _sentence(
    machine: Machine,
    proposals: Sequence[Proposal],
    plan: Plan,
    stop: str | None,
    leaks: dict[str, float],
) -> str:
    names = _names(machine)
    if stop == NOTHING_SEEN:
        return f"{stop.capitalize()}: {BEGINNING}"
    if stop is not None:
        renew = ", ".join(names[s] for s in plan.seals)
        if not plan.seals:
            return (
                f"Stop looking: {stop}. Nothing is worth renewing yet: wash it, run it, look again."
            )
        return (
            f"Stop looking: {stop}. Renew {renew} ({plan.said}); with that all is dry with a "
            f"chance of {percent(plan.dry)}, so wash and run it afterwards."
        )
    best = proposals[0]
    rises, label, chance = _most_raised(best, leaks)
    dry = next((o for o in best.outcomes if o.label in ("dry", "all dry")), best.outcomes[0])
    name = best.name[0].lower() + best.name[1:]
    return (
        f"Next: {name}, about {best.minutes:.0f} minutes; if {spoken(label)}, "
        f"{names[rises]} rises to {percent(chance)}; if {dry.label}, "
        f"{names[dry.first[0][0]]} leads with {percent(dry.first[0][1])}."
    )


def _names(machine: Machine) -> dict[str, str]:
    return {s.id: s.name or s.id.replace("_", " ") for s in machine.seal_points}


def spoken(name: str) -> str:
    """An id, or words with ids in them, as people say it."""
    return name.replace("_", " ")


def _most_raised(best: Proposal, leaks: dict[str, float]) -> tuple[str, str, float]:
    """The seal point, outcome and chance that stands out most against what is known."""
    options = [
        (chance - leaks[s], s, o.label, chance)
        for o in best.outcomes
        if o.chance > 0.01 and o.label not in ("dry", "all dry")
        for s, chance in o.first
    ]
    if not options:
        only = best.outcomes[0]
        return only.first[0][0], only.label, only.first[0][1]
    _, seal, label, chance = max(options)
    return seal, label, chance
