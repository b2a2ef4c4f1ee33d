"""Washing, running and looking after the repair of a sheet: how long, and how sure that makes it.

Worked out as ``leakdx cure`` would once the renewals of the sheet are in the job, so that both
tell the same times.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from leakdx.advice.cautions import RAISED, SKIN, TRIAL
from leakdx.advice.cure import STAGES, repair_of
from leakdx.advice.cure_text import in_minutes
from leakdx.advice.proof import Needed, Proof, proof_of
from leakdx.advice.proving import Round
from leakdx.advice.ranking import ranked_seals
from leakdx.advice.sheet import WASH_AND_RUN, Sheet
from leakdx.advice.solving import TooLarge, solve
from leakdx.advice.words import percent
from leakdx.case.model import Renewal
from leakdx.case.read import LoadedJob
from leakdx.machine.model import FluidKind, Machine
from leakdx.network.refit import Check
from leakdx.priors.model import Priors

PROOF_STAGES = ("the job as it will be after the repair", *STAGES[2:])
# Minutes of driving that nobody minds: within them, the surest that can be reached is told.
SOON = 120.0
WASH = (
    "On a cold machine with everything closed, wash the whole of it and let it dry: old residue "
    "looks like a new leak. Record: - {wash: whole}"
)
START = "Set all levels. Start it with one person watching the joints, then"
LAST = (
    "Record what is dry as well as what is wet, then ask 'leakdx cure': it tells how sure it is "
    "then, and if it is wet, whether it is the same joint or another."
)
TOO_LARGE = (
    "How long to run until it is sure cannot be told for this job: the sums would be too large on "
    "this machine."
)
_PRESSED = frozenset({FluidKind.DIESEL_FUEL, FluidKind.HYDRAULIC_OIL, FluidKind.PETROL})


def after_repair(loaded: LoadedJob, seals: Sequence[str]) -> LoadedJob:
    """The job once these seal points are renewed, every check before closing up made."""
    renewed = tuple(Renewal(renew=seal, checks=tuple(Check)) for seal in seals)
    job = loaded.job.model_copy(update={"timeline": (*loaded.job.timeline, *renewed)})
    return LoadedJob(job, loaded.machine)


def with_proof(
    sheet: Sheet, loaded: LoadedJob, priors: Priors, step: Callable[[], None] = lambda: None
) -> Sheet:
    """The sheet with its own times of running, for the job as it will be after the repair.

    step: called at each of PROOF_STAGES that is reached.  A sheet without anything to renew
    stays as it is; where the sums would be too large, its general words stay, with the reason.
    """
    if not sheet.renew:
        return sheet
    after = after_repair(loaded, [c.seal_point for c in sheet.renew])
    renewed = repair_of(after.job).seals
    try:
        step()
        leaks = {r.seal_point: r.leaks for r in ranked_seals(after, solve(after, priors))}
        proof = proof_of(after, priors, renewed, leaks, step)
    except TooLarge:
        return replace(sheet, wash_and_run=(*WASH_AND_RUN, TOO_LARGE))
    before = tuple(s for s in renewed if s not in {c.seal_point for c in sheet.renew})
    words = _Words(loaded.machine, proof, renewed, before)
    pressed = any(f.kind in _PRESSED for f in loaded.machine.fluids)
    more = (TRIAL, RAISED, *((SKIN,) if pressed else ()))
    return replace(
        sheet,
        wash_and_run=tuple(words.lines()),
        run_cautions=(*sheet.run_cautions, *(c.text for c in more)),
        proof=proof,
    )


@dataclass(frozen=True)
class Aim:
    """A run to be made, and how sure it is that what was renewed holds if all is dry then.

    minutes: driven; idled: instead of that, None where no time of idling is known to do.
    """

    sure: float
    minutes: float
    idled: float | None


def aim_of(proof: Proof) -> Aim | None:
    """The surest that ``SOON`` does; else what takes the shortest drive; else the longest drive.

    None where it is as sure as is asked for without any run.
    """
    driven = [n for n in proof.needed if n.use == "driven"]
    idled = {n.sure: n.holds for n in proof.needed if n.use == "idled"}
    within = [(n.sure, n.holds) for n in driven if n.holds]
    soon = [w for w in within if w[1] <= SOON]
    if within:
        sure, minutes = max(soon) if soon else min(within, key=lambda w: w[1])
        return Aim(sure, minutes, idled.get(sure) or None)
    if all(n.holds == 0 for n in driven):
        return None
    longest = max((p for p in proof.points if p.use == "driven"), key=lambda p: p.minutes)
    return Aim(longest.holds, longest.minutes, None)


@dataclass(frozen=True)
class _Words:
    """What is said of a proof.  before: seal points renewed earlier in the job."""

    machine: Machine
    proof: Proof
    renewed: Sequence[str]
    before: Sequence[str]

    def lines(self) -> Iterator[str]:
        aim = aim_of(self.proof)
        yield WASH
        if aim is None:
            yield f"{START} run it warm. Record: - {{run_minutes: 30}}, with its own minutes"
        else:
            drive = in_minutes(aim.minutes)
            idle = f" (or idle it {in_minutes(aim.idled)})" if aim.idled else ""
            record = f"- {{run_minutes: {drive.split()[0]}, use: driven}}"
            yield f"{START} drive it {drive} at working temperature{idle}. Record: {record}"
        yield from self._looks()
        yield self._sure(aim)
        more = " ".join(self._other(aim))
        if more:
            yield more
        yield self._nothing_else()
        if self.proof.left_out:
            signs = ", ".join(s.replace("_", " ") for s in self.proof.left_out)
            yield f"Not counted in these figures, to keep the sums exact: {signs}."
        yield LAST

    def _looks(self) -> Iterator[str]:
        """Zones of what was renewed by name, then the other looks."""
        looked: Round = self.proof.round
        near = {z for s in self.machine.seal_points if s.id in set(self.renewed) for z in s.zones}
        names = {z.id: z.name or z.id.replace("_", " ") for z in self.machine.zones}
        looks = {i.id: i.name or i.id.replace("_", " ") for i in self.machine.inspections}
        first = [names[z] for z, _ in looked.zones if z in near]
        others = [
            names[z] if i is None else looks[i].removeprefix("Look ")
            for z, i in looked.zones
            if z not in near
        ]
        how = "Then look from the highest point down with mirror and lamp"
        which = (
            "over the rest that is counted in the figures (all would make the sums too large)"
            if self.proof.partly
            else "over the rest that can be seen without strip-down"
        )
        said = []
        if first:
            said.append(f"{how} where what was renewed shows: {'; '.join(first)}.")
        if others:
            start = "And look" if first else how
            said.append(f"{start} {which}: {'; '.join(dict.fromkeys(others))}.")
        if said and looked.minutes:
            said[-1] += f" About {looked.minutes:.0f} minutes in all, with opening up."
        yield from said

    def _sure(self, aim: Aim | None) -> str:
        what = "what was renewed"
        if self.before:
            what += ", now and before in this job,"
        if aim is None:
            sure = max(n.sure for n in self.proof.needed)
            return (
                f"By the figures {what} holds with {100 * sure:.0f} % even before it is run. Look "
                "all the same."
            )
        # A chance asked for is told as it was asked for.
        asked = {n.sure: f"{100 * n.sure:.0f} %" for n in self.proof.needed}
        said = asked.get(aim.sure) or percent(aim.sure)
        return f"If all of that is dry, {what} holds with {said}."

    def _other(self, aim: Aim | None) -> Iterator[str]:
        """Times for the other chances."""
        rows = {(n.use, n.sure): n for n in self.proof.needed}
        for sure in dict.fromkeys(n.sure for n in self.proof.needed):
            driven, idled = rows["driven", sure], rows["idled", sure]
            if driven.holds == 0 or (aim is not None and aim.sure == sure):
                continue
            if driven.holds is None:
                yield self._beyond(sure)
                # What is surer still is no nearer.
                return
            yield _takes(driven, idled)

    def _beyond(self, sure: float) -> str:
        longest = max((p for p in self.proof.points if p.use == "driven"), key=lambda p: p.minutes)
        said = (
            f"Running and looking alone do not make it {100 * sure:.0f} %: after "
            f"{longest.minutes} minutes of driving with all dry it is {percent(longest.holds)}"
        )
        enough = [h for h in self.proof.helps if h.holds >= sure]
        if not enough:
            return f"{said}."
        best = min(enough, key=lambda h: len(h.inspections))
        return f"{said}, and with {best.what} besides {percent(best.holds)}."

    def _nothing_else(self) -> str:
        """How sure it makes that nothing at all leaks, for that is another question."""
        within = [n for n in self.proof.needed if n.use == "driven" and n.dry is not None]
        what = "That nothing else leaks either"
        if within:
            best = max(within, key=lambda n: n.sure)
            assert best.dry is not None
            sure = f"{100 * best.sure:.0f} % sure"
            if best.dry == 0:
                return f"{what} is {sure} even before it is run."
            return f"{what} takes {in_minutes(best.dry)} of driving, with all dry, to be {sure}."
        longest = max((p for p in self.proof.points if p.use == "driven"), key=lambda p: p.minutes)
        return (
            f"{what} is less sure: {percent(longest.dry)} after {longest.minutes} minutes of "
            "driving with all dry."
        )


def _takes(driven: Needed, idled: Needed) -> str:
    assert driven.holds is not None
    idle = f" or {in_minutes(idled.holds)} idled" if idled.holds else ""
    return f"{100 * driven.sure:.0f} % takes {in_minutes(driven.holds)} driven{idle}."
