"""What is proposed to the owner: what to renew, why together, how long, and how it is proved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from leakdx.advice.costs import money
from leakdx.advice.cure_text import in_minutes
from leakdx.advice.renewal import steps_behind
from leakdx.advice.sheet import Joint, Sheet
from leakdx.advice.sheet_proof import aim_of
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors
from leakdx.report.chances import about, in_words

# Below this chance an owner asks why a joint is renewed at all.
UNLIKELY = 0.2
# Joints told of one by one.
SHOWN = 8


@dataclass(frozen=True)
class Proposed:
    """A joint to renew; chance: that it leaks, of a gasket its likeliest stretch.  why: besides."""

    name: str
    chance: float
    why: str

    @property
    def said(self) -> str:
        """How likely: "about 2 in 3"."""
        return about(self.chance)


@dataclass(frozen=True)
class Proposal:
    """What to renew, the likeliest to leak first; also: in a sentence, those beyond ``SHOWN``.

    together: why these and why at once.  time: how long it takes.  price: None where the job
    states no prices.  prove: what is done afterwards to see that it is dry.
    """

    joints: tuple[Proposed, ...]
    also: str | None
    together: tuple[str, ...]
    time: tuple[str, ...]
    price: str | None
    prove: tuple[str, ...]


def proposal_of(loaded: LoadedJob, sheet: Sheet, priors: Priors) -> Proposal:
    """What a sheet proposes.  Raises UnknownNumber if a prior number is missing."""
    shared = _shared(loaded.machine, sheet)
    joints = [_proposed(j, shared[j.name]) for j in sheet.joints]
    return Proposal(
        joints=tuple(joints[:SHOWN]),
        also=_also(joints[SHOWN:]),
        together=tuple(_together(sheet, any(shared.values()))),
        time=tuple(_time(loaded.job, sheet, priors)),
        price=_price(loaded.job, sheet),
        prove=tuple(_prove(sheet)),
    )


def _shared(machine: Machine, sheet: Sheet) -> dict[str, bool]:
    """Of each joint, whether something has to come off for it that has to for another as well."""
    access = {s.id: s.access for s in machine.seal_points}
    taken = {s.id for s in sheet.steps}
    behind = {
        j.name: taken
        & steps_behind(machine, (a for c in j.seal_points for a in access[c.seal_point]))
        for j in sheet.joints
    }
    return {
        name: any(steps & other for n, other in behind.items() if n != name)
        for name, steps in behind.items()
    }


def _proposed(joint: Joint, shared: bool) -> Proposed:
    why = []
    if len(joint.seal_points) > 1:
        why.append(
            "one piece, so all of it is renewed; the chance is that of its likeliest stretch"
        )
    if shared:
        why.append("behind parts that come off for another as well")
    chance = max(c.leaks for c in joint.seal_points)
    if not why and chance < UNLIKELY:
        why.append("less likely, but a leak left here means a second visit")
    return Proposed(joint.name, chance, "; ".join(why))


def _also(rest: Sequence[Proposed]) -> str | None:
    if not rest:
        return None
    names = "; ".join(j.name for j in rest)
    return f"And, each with {in_words(max(j.chance for j in rest))} at most: {names}."


def _together(sheet: Sheet, shared: bool) -> Iterator[str]:
    if shared:
        yield "What hides one of them hides others: it is taken off once, not once for each."
    if len(sheet.joints) > 1:
        yield "A leak that is left behind brings the machine back for the same work again."
    yield (
        f"That nothing else leaks besides: {in_words(sheet.dry)}. So it is looked at again "
        "afterwards, and more may have to be done."
    )


def _time(job: Job, sheet: Sheet, priors: Priors) -> Iterator[str]:
    times = sheet.times
    # ``times.joints`` has the price of the parts in it, as minutes.
    joints = sum(priors[f"costs.renew_minutes.{seal.kind.value}"] for seal in sheet.joints)
    work = times.strip + joints + times.refit + times.refit_off
    plain = job.model_copy(update={"costs": None})
    yield f"About {money(work, plain)} of work to take it apart, renew and put it together."
    if sheet.proof is not None:
        aim = aim_of(sheet.proof)
        more = sheet.proof.round.minutes + (0.0 if aim is None else aim.minutes)
        yield f"Running it and looking again come on top: about {money(more, plain)}, and the wash."


def _price(job: Job, sheet: Sheet) -> str | None:
    if job.costs is None:
        return None
    minutes = sheet.times.total + sheet.times.refit_off
    amount = Decimal(f"{minutes * job.costs.labour_per_hour / 60:.1e}")
    return (
        f"About {amount:f} {job.costs.currency} with the parts, without the wash, the run and the "
        "look afterwards. An estimate, not an offer."
    )


def _prove(sheet: Sheet) -> Iterator[str]:
    yield "Cold and closed up, it is washed, so that old fluid is not taken for a new leak."
    aim = None if sheet.proof is None else aim_of(sheet.proof)
    run = "until it is warm" if aim is None else f"for {in_minutes(aim.minutes)}, warm"
    places = "all that can be seen is"
    if sheet.proof is not None:
        places = f"{len(sheet.proof.round.zones)} places are"
    yield f"It is run as it is used {run}. Then {places} looked at with lamp and mirror."
    if aim is not None:
        yield f"If all of that is dry, what was renewed is tight: {in_words(aim.sure)}."
