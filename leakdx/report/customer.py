"""What the machine's owner is told: what was found, what is proposed, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.advice.cure import Cure
from leakdx.advice.ranking import Ranked, Ranking
from leakdx.advice.sheet import Sheet
from leakdx.case.history import effective
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.priors.model import Priors
from leakdx.report.chances import about, in_words
from leakdx.report.found import Found, Place, found_of
from leakdx.report.proposing import Proposal, proposal_of
from leakdx.report.repaired import WET, Repaired, last_renewal, repaired_of
from leakdx.report.watching import watching

ESTIMATE = (
    "This is an estimate from what could be seen, not a certainty. The maker's procedure and local "
    "rules come first."
)
INVENTED = "This machine and all its figures are invented: it comes with leakdx as an example."
UNLISTED = "Some other place, which is not on our list of this machine's joints"
SEVERAL = "More than one place may leak at once, so these chances do not add up to 100 %."
# Suspects told of: those from this chance on, at least one and at most so many.
WORTH, MOST = 0.1, 4
# Other suspects told of.
OTHERS = 3


@dataclass(frozen=True)
class Suspect:
    """A place that may leak, and its chance, a probability, in words."""

    name: str
    chance: float

    @property
    def said(self) -> str:
        """How likely: "about 2 in 3"."""
        return about(self.chance)


@dataclass(frozen=True)
class CustomerSheet:
    """The sheet for the owner; lists are empty and texts None where there is nothing to say.

    in_short: the whole in a sentence or two.  found: what was seen, before the repair where there
    was one.  suspects: where it most likely comes from now, the
    likeliest first, after a repair perhaps none; behind: what
    most likely lies behind it.  others: what else may leak.  unknown: what is not known.
    done: the repair, None before any.  proposal: what is to be renewed, None where nothing is.
    """

    job: str
    title: str
    machine: str
    invented: bool
    in_short: tuple[str, ...]
    found: Found
    looked: str
    done: Repaired | None
    suspects: tuple[Suspect, ...]
    behind: tuple[str, ...]
    proposal: Proposal | None
    others: tuple[Suspect, ...]
    unknown: tuple[str, ...]
    watch: tuple[str, ...]

    @property
    def wet(self) -> tuple[Place, ...]:
        """The wet places that are told of."""
        return self.found.wet[:WET]


def customer_sheet(
    loaded: LoadedJob, ranking: Ranking, sheet: Sheet, priors: Priors, cure: Cure | None = None
) -> CustomerSheet:
    """What the owner of a job's machine is told.

    sheet: of what is to be renewed now; with its proof where that is known.  cure: of the job;
    it is needed once something was renewed.  Raises ValueError where it is missing then,
    UnknownNumber if a prior number is missing.
    """
    machine, job = loaded.machine, loaded.job
    entries = effective(job)
    last = last_renewal(job)
    if last is not None and cure is None:
        raise ValueError(f"the job '{job.id}' tells of a renewal: its cure is needed")
    found = found_of(machine, [e for n, e in entries if last is None or n < last])
    everything = found_of(machine, [e for _, e in entries])
    done = None if last is None or cure is None else repaired_of(loaded, cure)
    proposal = proposal_of(loaded, sheet, priors) if sheet.joints else None
    suspects = _suspects(ranking, repaired=done is not None)
    chosen = {c.seal_point for c in sheet.renew} | {r.seal_point for r in suspects}
    others = [r for r in ranking.rows if r.seal_point not in chosen][:OTHERS]
    told = _Short(ranking, sheet, everything, done)
    fluids = {s.id: s.fluid for s in machine.seal_points}
    about_these = [*chosen, *(done.seal_points if done else ())]
    return CustomerSheet(
        job=job.id,
        title=ranking.title,
        machine=machine.name,
        invented=sheet.invented,
        in_short=tuple(told.lines()),
        found=found,
        looked=_looked(found),
        done=done,
        suspects=tuple(Suspect(r.name, r.leaks) for r in suspects),
        behind=ranking.why,
        proposal=proposal,
        others=(*(Suspect(r.name, r.leaks) for r in others), Suspect(UNLISTED, ranking.not_listed)),
        unknown=tuple(_unknown(loaded, everything)),
        watch=watching(machine, [fluids[s] for s in about_these]),
    )


def was_repaired(job: Job) -> bool:
    """Whether something was renewed, so that the owner is told of the repair."""
    return last_renewal(job) is not None


def _suspects(ranking: Ranking, *, repaired: bool) -> Sequence[Ranked]:
    """The likeliest; after a repair there may be none worth the name."""
    likely = [r for r in ranking.rows if r.leaks >= WORTH]
    return likely[:MOST] if likely or repaired else ranking.rows[:1]


def _looked(found: Found) -> str:
    count = len(found.dry)
    if not found.zones and not count:
        return "Nothing was looked at and entered."
    said = _places(count, "place", "places")
    return f"{said[:1].upper()}{said[1:]} found dry." if count else "No place was found dry."


def _places(count: int, one: str, many: str) -> str:
    return f"one {one} was" if count == 1 else f"{count} {many} were"


@dataclass(frozen=True)
class _Short:
    """What the whole comes to."""

    ranking: Ranking
    sheet: Sheet
    found: Found
    done: Repaired | None

    def lines(self) -> Iterator[str]:
        if self.done is not None:
            yield from self.done.in_short
        else:
            yield self._origin()
        joints = len(self.sheet.joints)
        if joints:
            what = "one joint" if joints == 1 else f"{joints} joints in one visit"
            yield f"We propose to renew {what}, then to wash it, run it and look again."
        elif self.done is None:
            yield (
                "We do not propose to renew anything now: it would cost more than the leaks that "
                "may be left. We propose to look further first."
            )

    def _origin(self) -> str:
        ranking, wet = self.ranking, len(self.found.wet)
        if not ranking.readings:
            return (
                "Nothing has been looked at yet, so this says only what is usual for such a "
                "machine, nothing of this one."
            )
        start = f"{_places(wet, 'place', 'places')} found wet." if wet else "No place is wet."
        start = start[:1].upper() + start[1:]
        if ranking.nothing_leaks > 0.5:
            return (
                f"{start} Most likely nothing leaks now: {in_words(ranking.nothing_leaks)}; what "
                "is seen is then spilled or old."
            )
        likeliest = ranking.rows[0]
        if ranking.not_listed > likeliest.leaks:
            return (
                f"{start} The likeliest origin is one that is not on our list: "
                f"{in_words(ranking.not_listed)}."
            )
        return f"{start} Likeliest origin: {likeliest.name}; {in_words(likeliest.leaks)}."


def _unknown(loaded: LoadedJob, found: Found) -> Iterator[str]:
    zones = [z.id for z in loaded.machine.zones]
    unseen = len(zones) - len(found.zones)
    if unseen:
        yield (
            f"{unseen} of {len(zones)} places on the machine have not been looked at. That does "
            "not mean that they are dry."
        )
    if found.unsure and len(loaded.machine.fluids) > 1:
        count = "one wet place" if found.unsure == 1 else f"{found.unsure} wet places"
        yield f"Which fluid it is could not be told at {count}."
    if loaded.job.conditions.hours is None:
        yield "How long the machine ran since it was last clean is not known."
