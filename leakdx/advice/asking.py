"""A job's network made ready for looks that were not taken yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from leakdx.advice.finest import finest
from leakdx.advice.looks import Look
from leakdx.advice.outcomes import Reads
from leakdx.advice.solving import TooLarge
from leakdx.belief.evidence import Evidence, combine
from leakdx.belief.tree import JunctionTree, TooWide
from leakdx.case.evidence import Asked, asked_of, label_of, reading_evidence
from leakdx.case.history import effective
from leakdx.case.model import Job, SealReading, SealState, Sign, Yes, ZoneReading, ZoneState
from leakdx.case.timeline import Reading, Story
from leakdx.flow.courses import DETAILS
from leakdx.machine.model import Inspection, Machine, MachineState, Method, SignKind
from leakdx.network.setting import seal_name
from leakdx.priors.model import Priors

# Entries of all tables together, for looking ahead: some hundred outcomes at once then take
# about a tenth of a second.  Fewer ways of the flow are followed than for the ranking.
LOOK_ENTRIES = 60_000
LOOK_LARGEST = 2**15
# Signs that can be weighed before they are read.  The others hang on every seal point and on
# when it leaks, or on every lowest zone, and would tie the whole machine together.
SIGNS_AHEAD = frozenset(
    {
        SignKind.LEVEL_FALLS,
        SignKind.LEVEL_RISES,
        SignKind.SMOKE,
        SignKind.BURNT_SMELL,
        SignKind.FUEL_SMELL,
        SignKind.FLUID_THINNED,
        SignKind.FLUID_EMULSIFIED,
    }
)


@dataclass(frozen=True, eq=False)
class Ahead:
    """A job with all that its open looks could read.

    known: the readings there are.  reads: of each look, what it would read, in their order.
    seals: variable of each seal point as it is now, in the machine's order.  left_out: signs
    that were read and are not among what is known, because they would make it too wide.
    """

    asked: Asked
    tree: JunctionTree
    detail: int
    known: Evidence
    reads: tuple[Reads, ...]
    seals: tuple[str, ...]
    left_out: tuple[str, ...] = ()


def ahead_of(machine: Machine, job: Job, looks: Sequence[Look], priors: Priors) -> Ahead:
    """The network of a job with every reading that the looks could bring.

    Where that would be too wide, signs already read that tie the whole machine together are
    left out, and the answer says so.

    Raises:
        TooLarge: where not even then the strongest ways of the flow give tables that fit.
    """
    try:
        return _ahead(machine, job, looks, priors)
    except TooWide as error:
        narrow, left_out = _without_wide_signs(job)
        if not left_out:
            raise TooLarge(machine.id, error.entries) from error
    try:
        return replace(_ahead(machine, narrow, looks, priors), left_out=left_out)
    except TooWide as error:
        raise TooLarge(machine.id, error.entries) from error


def _without_wide_signs(job: Job) -> tuple[Job, tuple[str, ...]]:
    """The job without the signs that hang on everything, and their names."""
    # Left out before the rest is counted anew: withdrawals go by number.
    counted = [e for _, e in effective(job)]
    wide = [e for e in counted if isinstance(e, Sign) and e.sign not in SIGNS_AHEAD]
    kept = tuple(e for e in counted if e not in wide)
    names = tuple(dict.fromkeys(e.sign.value for e in wide))
    return job.model_copy(update={"timeline": kept}), names


def _ahead(machine: Machine, job: Job, looks: Sequence[Look], priors: Priors) -> Ahead:
    """The same, with all that was read.  Raises TooWide."""
    asked_for = [_dry_readings(look.inspection) for look in looks]
    events = tuple(r for readings in asked_for for r in readings)
    with_them = job.model_copy(update={"timeline": (*job.timeline, *events)})

    asked, tree, detail = finest(
        lambda detail: asked_of(machine, with_them, priors, detail),
        lambda asked: asked.network.network,
        _limits,
    )
    there = len(job.timeline)
    hoped = {t.number: t for t in asked.story.taken if t.number >= there}
    labels = {label_of(t) for t in hoped.values()}
    known = [e for label, e in asked.readings.items() if label not in labels]
    clean = _as_washed(asked.story)
    reads: list[Reads] = []
    number = there
    for look, readings in zip(looks, asked_for, strict=True):
        story = clean if _washes(look.inspection) else asked.story
        evidence = [
            dict(reading_evidence(hoped[number + k], story, asked.network, priors).items())
            for k in range(len(readings))
        ]
        reads.append(Reads(tuple(_thing(r) for r in readings), tuple(evidence)))
        number += len(readings)
    seals = tuple(
        seal_name(s.id, asked.story.generations.get(s.id, 1) - 1) for s in machine.seal_points
    )
    return Ahead(
        asked, tree, detail, combine(known) if known else Evidence({}), tuple(reads), seals
    )


def _limits(detail: int) -> tuple[int, int | None]:
    last = detail == len(DETAILS) - 1
    return (8 * LOOK_LARGEST, None) if last else (LOOK_LARGEST, LOOK_ENTRIES)


def _washes(inspection: Inspection) -> bool:
    """Whether what it looks at is washed for it, as for powder, so that no old residue is left."""
    return inspection.method is Method.WASH_AND_RUN or MachineState.WASHED in inspection.state


def _dry_readings(inspection: Inspection) -> list[Reading]:
    """What an inspection reads where all is dry, tight and quiet."""
    reads = inspection.reads
    zones: list[Reading] = [
        ZoneReading(zone=z, state=ZoneState.DRY, inspection=inspection.id) for z in reads.zones
    ]
    zones += [
        SealReading(seal_point=s, state=SealState.TIGHT, inspection=inspection.id)
        for s in reads.seal_points
    ]
    signs = [s for s in reads.signs if s in SIGNS_AHEAD]
    return zones + [Sign(sign=s, value=Yes.NO, fluid=reads.fluid) for s in signs]


def weighable(inspection: Inspection) -> bool:
    """Whether an inspection reads anything that can be weighed before it is read."""
    return bool(_dry_readings(inspection))


def _thing(reading: Reading) -> str:
    if isinstance(reading, ZoneReading):
        return reading.zone
    return reading.seal_point if isinstance(reading, SealReading) else reading.sign.value


def _as_washed(story: Story) -> Story:
    """The story as if every surface had been washed clean: no old residue."""
    return replace(story, washed=(1.0,) * len(story.washed), repaired=frozenset())
