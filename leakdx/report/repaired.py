"""What the owner is told after a repair: what was renewed, what was checked, how sure it is dry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.advice.cure import Again, Cure
from leakdx.advice.cure_text import in_minutes
from leakdx.advice.sheet_proof import aim_of
from leakdx.case.history import effective
from leakdx.case.model import Job, Renewal, Run, Wash
from leakdx.case.read import LoadedJob
from leakdx.network.refit import Check, How
from leakdx.report.chances import about, in_words
from leakdx.report.found import Found, Place, found_of

_CHECKS = {
    Check.MIRROR: "seen all round before it was tightened",
    Check.WIPED: "faces clean and dry",
    Check.TORQUE: "tightened in order to the stated figure",
}
_HOWS = {
    How.NEW_PART: "new part",
    How.SHORTENED: "end cut back and refitted",
    How.REFITTED: "the same part put back",
}
# Told of: wet places, joints that were renewed, and of all worked on the least sure.
WET, RENEWED, LEAST = 8, 8, 6


@dataclass(frozen=True)
class Held:
    """A joint that was renewed or worked on, and the chance that it is tight now."""

    name: str
    chance: float

    @property
    def said(self) -> str:
        """How sure: "about 9 in 10"."""
        return about(self.chance)


@dataclass(frozen=True)
class Repaired:
    """A repair and what was seen since.

    renewed: each joint, what went in and what was checked before it was closed.  since: what was
    done and seen after it, in sentences; found: the same as places.  held: how sure each joint is
    tight.  dry: chance that nothing at all leaks now.  surer: what would make it surer.
    """

    seal_points: tuple[str, ...]
    renewed: tuple[Place, ...]
    since: tuple[str, ...]
    found: Found
    held: tuple[Held, ...]
    dry: float
    sure: tuple[str, ...]
    surer: tuple[str, ...]
    in_short: tuple[str, ...]

    @property
    def wet(self) -> tuple[Place, ...]:
        """The wet places that are told of."""
        return self.found.wet[:WET]

    @property
    def shown(self) -> tuple[Place, ...]:
        """The renewed joints that are told of one by one."""
        return self.renewed[:RENEWED]

    @property
    def also(self) -> str | None:
        """The other renewed joints, in a sentence."""
        rest = [p.name for p in self.renewed[RENEWED:]]
        return f"And: {'; '.join(rest)}." if rest else None

    @property
    def least(self) -> tuple[Held, ...]:
        """The joints that are least surely tight, the least sure first."""
        return tuple(sorted(self.held, key=lambda h: h.chance)[:LEAST])


def last_renewal(job: Job) -> int | None:
    """Place in the timeline, from 0, of the last renewal that counts; None without any."""
    return max((n for n, e in effective(job) if isinstance(e, Renewal)), default=None)


def repaired_of(loaded: LoadedJob, cure: Cure) -> Repaired:
    """What is told of the repair of a job.  Raises ValueError where nothing was renewed."""
    entries, last = effective(loaded.job), last_renewal(loaded.job)
    if last is None:
        raise ValueError(f"the job '{loaded.job.id}' tells of no renewal")
    after = [e for n, e in entries if n > last]
    found = found_of(loaded.machine, after)
    renewals: dict[str, Renewal] = {e.renew: e for _, e in entries if isinstance(e, Renewal)}
    # Its chances are of all that was apart.
    more = set(cure.renewed) - set(renewals)
    what = "what was renewed or worked on" if more else "what was renewed"
    return Repaired(
        seal_points=tuple(renewals),
        renewed=tuple(_renewed(loaded, renewals)),
        since=tuple(_since(after, found)),
        found=found,
        held=tuple(Held(_capital(j.name), j.now) for j in cure.joints),
        dry=cure.dry,
        sure=tuple(_sure(cure, what)),
        surer=tuple(_surer(cure, what)),
        in_short=tuple(_short(cure, found, what)),
    )


def _renewed(loaded: LoadedJob, renewals: dict[str, Renewal]) -> Iterator[Place]:
    """Each joint once; a gasket of several stretches with what was checked at all of them."""
    seals = {s.id: s for s in loaded.machine.seal_points}
    joints: dict[str, list[str]] = {}
    for seal in renewals:
        joints.setdefault(seals[seal].part_of or f"{seal} alone", []).append(seal)
    for joint, stretches in joints.items():
        only = seals[stretches[0]]
        name = only.name or only.id.replace("_", " ")
        name = name if len(stretches) == 1 else _capital(joint.replace("_", " "))
        hows = dict.fromkeys(_HOWS[renewals[s].how] for s in stretches)
        checks = [c for c in Check if all(c in renewals[s].checks for s in stretches)]
        checked = "; ".join(_CHECKS[c] for c in checks) or "no checks are noted"
        yield Place(name, f"{', '.join(hows)}; {checked}")


def _since(after: Sequence[object], found: Found) -> Iterator[str]:
    washed = any(isinstance(e, Wash) and e.wash for e in after)
    minutes = sum(e.run_minutes for e in after if isinstance(e, Run))
    yield "It was washed." if washed else "It has not been washed, so old fluid may still show."
    yield f"It was run for {minutes:.0f} minutes." if minutes else "No run is noted."
    if not found.wet and not found.dry:
        yield "Nothing has been looked at since."
        return
    wet = len([p for p in found.wet if not p.washed])
    yield f"Looked at and dry: {len(found.dry)}. Wet: {wet or 'none'}."


def _sure(cure: Cure, what: str) -> Iterator[str]:
    yield f"That nothing at all leaks now: {in_words(cure.dry)}."
    if len(cure.joints) > 1 and cure.holds is not None:
        yield f"That all of {what} is tight: {in_words(cure.holds)}."


def _surer(cure: Cure, what: str) -> Iterator[str]:
    if cure.proof is None:
        return
    aim = aim_of(cure.proof)
    if aim is not None:
        yield (
            f"Once it is washed, run warm for {in_minutes(aim.minutes)} and looked at in "
            f"{len(cure.proof.round.zones)} places, and all of that is dry, {what} is tight: "
            f"{in_words(aim.sure)}."
        )
    elif cure.washed:
        yield f"{_capital(what)} needs no further run. It is looked at once more after some days."
    else:
        yield "It is washed and looked at once more after some days of use."


def _short(cure: Cure, found: Found, what: str) -> Iterator[str]:
    if cure.again is not None:
        yield _wet_again(cure, cure.again, what)
    elif any(not p.washed for p in found.wet):
        yield (
            "It was repaired and is wet now, but it was not washed in between: what is wet may be "
            "from before. It has to be washed and run before the repair can be judged."
        )
    elif cure.holds is not None:
        yield f"It was repaired. {_capital(what)} is tight: {in_words(cure.holds)}."
    yield f"That nothing at all leaks now: {in_words(cure.dry)}."


def _wet_again(cure: Cure, again: Again, what: str) -> str:
    if cure.dry >= max(again.same, again.another):
        return (
            "It was repaired and something is wet again, and yet most likely nothing leaks: it is "
            "then spilled, or left over from the wash."
        )
    renewed = set(cure.renewed)
    if again.same >= again.another:
        likely = next(r for r in again.ranking if r.seal_point in renewed)
        return (
            f"It was repaired and is wet again. Most likely it is {what}: "
            f"{in_words(again.same)}; first of all {likely.name}."
        )
    likely = next((r for r in again.ranking if r.seal_point not in renewed), again.ranking[0])
    name = likely.name
    if likely.leaks < again.not_listed:
        name = "a place that is not on our list"
    return (
        f"It was repaired and is wet again. Most likely another place leaks: "
        f"{in_words(again.another)}; first of all {name}. {_capital(what)} is then tight."
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
