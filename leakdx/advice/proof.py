"""How long to run and what to look at, to be sure that a repair has cured it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from leakdx.advice.asking import SIGNS_AHEAD
from leakdx.advice.counting import independent_runs, missed
from leakdx.advice.proving import (
    MINUTES,
    SURE,
    USUAL,
    Curve,
    Outlook,
    Prospect,
    Round,
    Trial,
    round_of,
)
from leakdx.advice.solving import TooLarge
from leakdx.case.history import as_it_counts
from leakdx.case.model import Job, Sign
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Machine, Method
from leakdx.network.setting import Use
from leakdx.priors.model import Priors

_USES = (Use.DRIVEN, Use.IDLED)
_CLOSE = frozenset({Method.EYES, Method.MIRROR, Method.BORESCOPE, Method.WIPE})
# Zones beside those of what was renewed, where all are too many.
FEWER = (20, 8, 0)
# Seal points left over that a closer look is tried at, beside those renewed.
CLOSER = 4


@dataclass(frozen=True)
class Needed:
    """Minutes of run in some use to be so sure; None where even the longest does not do.

    holds: for what was renewed to be tight; dry: for nothing at all to leak.
    """

    use: str
    sure: float
    holds: float | None
    dry: float | None


@dataclass(frozen=True)
class Point:
    """A run in some use after which all that is looked at is dry, and how sure it is then."""

    use: str
    minutes: int
    holds: float
    dry: float


@dataclass(frozen=True)
class Help:
    """Something beside the longest driven run, and how sure it is if all is dry, as in Point."""

    what: str
    inspections: tuple[str, ...]
    holds: float
    dry: float


@dataclass(frozen=True)
class Proof:
    """Washing, running and looking from here on, if all that is looked at is dry then.

    round: what is looked at.  helps: with the longest driven run, where that does not do.  left:
    seal points that may leak all the same after it, the likeliest first.  shows: chance that a
    driven run of an hour shows a leak of what was renewed.  looks_needed: such runs in a row for
    each of ``SURE``, were they alike and independent and nothing known before (success-run
    theorem).  partly: only some of the zones that could be looked at are counted, those of what
    was renewed and of what likeliest leaks; left_out: signs read that are not counted; each to
    keep the sums exact.  detail: of the flow, as in Solved; now: holds and dry before the trial,
    by the network it is worked out with.
    """

    round: Round
    detail: int
    now: tuple[float, float]
    partly: bool
    left_out: tuple[str, ...]
    points: tuple[Point, ...]
    needed: tuple[Needed, ...]
    helps: tuple[Help, ...]
    left: tuple[tuple[str, float], ...]
    shows: float
    looks_needed: tuple[int, ...]


@dataclass
class _Runs:
    """Runs in one use, each worked out once."""

    ahead: Prospect
    use: Use
    renewed: Sequence[str]
    known: dict[int, Outlook] = field(default_factory=dict)

    def at(self, minutes: int) -> Outlook:
        if minutes not in self.known:
            self.known[minutes] = self.ahead.outlook(Trial(self.use, minutes), self.renewed)
        return self.known[minutes]

    def needed(self) -> list[Needed]:
        holds = Curve(lambda minutes: self.at(minutes).holds[1])
        dry = Curve(lambda minutes: self.at(minutes).dry[1])
        now = self.at(USUAL)
        return [
            Needed(
                self.use.value,
                sure,
                0.0 if now.holds[0] >= sure else holds.minutes(sure),
                0.0 if now.dry[0] >= sure else dry.minutes(sure),
            )
            for sure in SURE
        ]

    def points(self) -> list[Point]:
        return [
            Point(self.use.value, minutes, found.holds[1], found.dry[1])
            for minutes, found in sorted(self.known.items())
        ]


def prospect_of(
    loaded: LoadedJob, priors: Priors, renewed: Sequence[str], leaks: Mapping[str, float]
) -> tuple[Prospect, bool, tuple[str, ...]]:
    """A driven hour with as much looked at after it as can be worked out exactly.

    leaks: chance of each seal point to leak now.  Where all zones and all signs are too much,
    first the signs that hang on everything are left out, then zones of what hardly leaks.
    Second: whether zones were left out; third: the signs that were.  Raises TooLarge where not
    even the zones of what was renewed will do.
    """
    narrow, left_out = _without_wide_signs(loaded.job)
    less = LoadedJob(narrow, loaded.machine)
    everything = round_of(loaded, priors)
    tries: list[tuple[LoadedJob, Round, bool, tuple[str, ...]]] = []
    if left_out:
        tries.append((loaded, everything, False, ()))
    tries.append((less, everything, False, left_out))
    order = _by_worth(loaded.machine, renewed, leaks)
    for others in FEWER:
        some = frozenset(order[: _near(loaded.machine, renewed) + others])
        looked = round_of(less, priors, some)
        if looked.zones and len(looked.zones) < len(everything.zones):
            tries.append((less, looked, True, left_out))
    for n, (job, looked, partly, out) in enumerate(tries):
        try:
            return Prospect.of(job, priors, looked, Trial(Use.DRIVEN, USUAL)), partly, out
        except TooLarge:
            if n == len(tries) - 1:
                raise
    raise AssertionError("there is always something to try")


def _without_wide_signs(job: Job) -> tuple[Job, tuple[str, ...]]:
    """The job without the signs that hang on everything, and their names."""
    counts = as_it_counts(job)
    wide = [e for e in counts.timeline if isinstance(e, Sign) and e.sign not in SIGNS_AHEAD]
    kept = tuple(e for e in counts.timeline if e not in wide)
    names = tuple(dict.fromkeys(e.sign.value for e in wide))
    return counts.model_copy(update={"timeline": kept}), names


def _near(machine: Machine, renewed: Sequence[str]) -> int:
    return len({z for s in machine.seal_points if s.id in set(renewed) for z in s.zones})


def _by_worth(machine: Machine, renewed: Sequence[str], leaks: Mapping[str, float]) -> list[str]:
    """Zones of what was renewed, then those where what likeliest leaks shows."""
    worth = dict.fromkeys((z.id for z in machine.zones), 0.0)
    for seal in machine.seal_points:
        for zone in seal.zones:
            worth[zone] += leaks.get(seal.id, 0.0) + (len(leaks) if seal.id in renewed else 0)
    return sorted(worth, key=lambda z: -round(worth[z], 9))


def proof_of(
    loaded: LoadedJob,
    priors: Priors,
    renewed: Sequence[str],
    leaks: Mapping[str, float],
    step: Callable[[], None],
) -> Proof:
    """What washing, running and looking from here on would make sure of.

    leaks: chance of each seal point to leak now.  Raises TooLarge where a run to come makes the
    network too wide.
    """
    runs: list[_Runs] = []
    needed: list[Needed] = []
    for use in _USES:
        step()
        if not runs:
            ahead, partly, left_out = prospect_of(loaded, priors, renewed, leaks)
        else:
            ahead = runs[0].ahead.also(Trial(use, USUAL))
        runs.append(_Runs(ahead, use, renewed))
        step()
        for minutes in (MINUTES[0], USUAL, MINUTES[-1]):
            runs[-1].at(minutes)
        needed += runs[-1].needed()
    step()
    driven = runs[0]
    shows = 1 - missed(driven.at(USUAL).holds)
    left = sorted(driven.at(MINUTES[-1]).leaks.items(), key=lambda found: -found[1])[:CLOSER]
    wanting = any(n.dry is None or n.holds is None for n in needed)
    return Proof(
        round=driven.ahead.round,
        detail=driven.ahead.detail,
        now=(driven.at(USUAL).holds[0], driven.at(USUAL).dry[0]),
        partly=partly,
        left_out=left_out,
        points=tuple(point for each in runs for point in each.points()),
        needed=tuple(needed),
        helps=helps_of(driven.ahead, renewed, [s for s, _ in left]) if wanting else (),
        left=tuple(left),
        shows=shows,
        looks_needed=tuple(independent_runs(s, min(max(shows, 1e-6), 1 - 1e-9)) for s in SURE),
    )


def helps_of(ahead: Prospect, renewed: Sequence[str], left: Sequence[str]) -> tuple[Help, ...]:
    """What goes beyond the longest driven run: what helps most first.

    A close look at each joint that was renewed; dye and lamp there and where it may leak still;
    a night parked before all is looked at; and all of these.
    """
    machine = ahead.loaded.machine
    near = close_looks(machine, renewed, dye=False)
    dye = close_looks(machine, (*renewed, *left), dye=True)
    pairs = tuple(dict.fromkeys((*near, *dye)))
    whole = Trial(Use.DRIVEN, MINUTES[-1], close=pairs)
    closer = ahead.also(whole) if pairs else ahead
    by_near, by_dye = (tuple(dict.fromkeys(i for _, i in found)) for found in (near, dye))
    nights = Trial(Use.DRIVEN, MINUTES[-1], night=True)
    asks = [frozenset(by_dye), frozenset(by_near)]
    with_near, with_dye = closer.sure_without(whole, renewed, asks)
    (night,) = ahead.sure_without(nights, renewed, [frozenset()])
    (together,) = closer.sure_without(replace(whole, night=True), renewed, [frozenset()])
    found = [Help("a night parked before it is looked at", (), *night)]
    if near:
        found.append(Help("a close look at each joint that was renewed", by_near, *with_near))
    if dye:
        found.append(Help("dye and lamp where it may leak still", by_dye, *with_dye))
    if len(found) > 1:
        found.append(Help("all of these", tuple(dict.fromkeys((*by_near, *by_dye))), *together))
    return tuple(sorted(found, key=lambda h: -h.dry))


def close_looks(
    machine: Machine, seals: Sequence[str], *, dye: bool
) -> tuple[tuple[str, str], ...]:
    """Seal points with the inspection that looks at each closely and misses least.

    Of those that miss as little, the shorter.  With dye and lamp, or else by eye, mirror,
    borescope or wiping: other looks need a joint opened or pressure put on.
    """
    methods = {Method.DYE_LAMP} if dye else _CLOSE
    found = []
    for seal in dict.fromkeys(seals):
        reading = [
            i for i in machine.inspections if seal in i.reads.seal_points and i.method in methods
        ]
        if reading:
            best = min(reading, key=lambda i: (1.0 if i.miss is None else i.miss, i.minutes))
            found.append((seal, best.id))
    return tuple(found)
