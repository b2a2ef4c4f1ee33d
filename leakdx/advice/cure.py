"""Whether a repair has cured it: how sure that is, and what would make it surer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from leakdx.advice.cure_text import cautions_for, next_step_of, sentences_of
from leakdx.advice.proof import Proof, proof_of
from leakdx.advice.proving import TIGHT, Question, chances, dry_question, listed_question
from leakdx.advice.ranking import Ranked, ranked_seals
from leakdx.advice.solving import Solved, TooLarge, solve
from leakdx.belief.evidence import Evidence, combine
from leakdx.case.evidence import label_of
from leakdx.case.history import effective
from leakdx.case.model import (
    Context,
    Job,
    Renewal,
    SealState,
    Sign,
    Wash,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.case.read import LoadedJob
from leakdx.case.timeline import NEW_START, Reading, Taken
from leakdx.machine.model import Machine
from leakdx.network.setting import seal_name
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors

STAGES = (
    "following the fluid",
    "what each reading did",
    "making a driven run ready",
    "driven runs of other lengths",
    "making an idled run ready",
    "idled runs of other lengths",
    "what else would help",
)


@dataclass(frozen=True)
class Moved:
    """A reading since the repair, and what is believed with it and all before it.

    dry: chance that nothing leaks.  holds: of each joint in ``Cure.joints``, its chance to be
    tight, in their order.
    """

    reading: str
    wet: bool
    dry: float
    holds: tuple[float, ...]


@dataclass(frozen=True)
class Held:
    """A seal point renewed or worked on, or a whole gasket of several stretches.

    seal_points: what it is made of; before, now: chance that it is tight, all of it, right
    after the repair and now.
    """

    id: str
    name: str
    seal_points: tuple[str, ...]
    before: float
    now: float


@dataclass(frozen=True)
class Again:
    """It is wet after the last wash.

    wet: labels of the readings.  same: chance that a joint that was renewed leaks; another:
    that none of those does but something else.  not_listed: that an origin does that is not on
    the list.  ranking: seal points as they are now, the likeliest to leak first.
    """

    wet: tuple[str, ...]
    same: float
    another: float
    not_listed: float
    ranking: tuple[Ranked, ...]


@dataclass(frozen=True, eq=False)
class Cure:
    """The answer; all chances are probabilities given the readings.

    dry: nothing leaks now, listed or not.  before: the same right after the last repair, before
    what was read since; None where nothing was renewed.  held: each seal point renewed or worked
    on; joints: the same with the stretches of one gasket together.  course: the readings since,
    in order.  washed: the machine was washed after the repair.  again: where it is wet since.
    proof: None where nothing was renewed, it is wet again, or
    the sums would be too large.  detail: of the flow, as in Solved.
    """

    job: str
    machine: str
    title: str
    renewed: tuple[str, ...]
    washed: bool
    dry: float
    before: float | None
    holds: float | None
    held: tuple[Held, ...]
    joints: tuple[Held, ...]
    course: tuple[Moved, ...]
    again: Again | None
    proof: Proof | None
    sentences: tuple[str, ...]
    next_step: str
    cautions: tuple[str, ...]
    detail: int


def cure(
    loaded: LoadedJob, priors: Priors | None = None, step: Callable[[], None] = lambda: None
) -> Cure:
    """How sure it is that the job is cured.

    step: called at each of STAGES that is reached.  Raises ContradictoryReadings where the
    readings cannot hold together, TooLarge for a machine too large to work out exactly,
    UnknownNumber if a prior number is missing.
    """
    numbers = priors or shipped_priors()
    step()
    return cure_of(loaded, solve(loaded, numbers), numbers, step)


def cure_of(
    loaded: LoadedJob, solved: Solved, priors: Priors, step: Callable[[], None] = lambda: None
) -> Cure:
    """The same for a job that has been solved."""
    step()
    known = known_of(loaded, solved, priors)
    repair = known.repair
    proof = None
    if repair.seals and known.again is None:
        leaks = {r.seal_point: r.leaks for r in ranked_seals(loaded, solved)}
        # The cure is told all the same where only a run to come is too much.
        with suppress(TooLarge):
            proof = proof_of(loaded, priors, repair.seals, leaks, step)
    job = loaded.job
    told = Told(loaded.machine, known, proof)
    return Cure(
        job=job.id,
        machine=loaded.machine.id,
        title=job.name or job.id,
        renewed=repair.seals,
        washed=repair.washed,
        dry=known.dry,
        before=known.before,
        holds=known.holds,
        held=known.held,
        joints=known.joints,
        course=known.course,
        again=known.again,
        proof=proof,
        sentences=sentences_of(told),
        next_step=next_step_of(told),
        cautions=cautions_for(told),
        detail=solved.detail,
    )


@dataclass(frozen=True)
class Repair:
    """What was renewed or worked on in a job, and how it went on.

    number: place in the timeline of the last of it, -1 for none.  washed: something was washed
    after it.
    """

    seals: tuple[str, ...]
    number: int
    washed: bool


@dataclass(frozen=True)
class Known:
    """What the readings say of a repair, before anything more is done; fields as in Cure.

    stale: labels of what is wet and was not washed since the repair.  not_listed: chance that an
    origin leaks that is not on the list.
    """

    repair: Repair
    dry: float
    before: float | None
    holds: float | None
    held: tuple[Held, ...]
    joints: tuple[Held, ...]
    course: tuple[Moved, ...]
    again: Again | None
    stale: tuple[str, ...]
    not_listed: float


@dataclass(frozen=True)
class Told:
    """All that the sentences are made of."""

    machine: Machine
    known: Known
    proof: Proof | None


def repair_of(job: Job) -> Repair:
    """The repair that a job tells of."""
    seals: dict[str, None] = {}
    last, washed = -1, False
    for number, event in effective(job):
        match event:
            case Renewal(renew=seal):
                seals[seal] = None
                last, washed = number, False
            case Context(context=kind, seal_point=str(seal)) if kind in NEW_START:
                seals[seal] = None
                last, washed = number, False
            case Wash() if event.wash:
                washed = True
    return Repair(tuple(seals), last, washed)


def known_of(loaded: LoadedJob, solved: Solved, priors: Priors) -> Known:
    """How sure a repair is by its readings, and what each of them did: one batch of questions."""
    repair = repair_of(loaded.job)
    asked = solved.asked
    since = [t for t in asked.story.taken if t.number > repair.number]
    labels = [label_of(t) for t in since if repair.seals and label_of(t) in asked.readings]
    columns = _columns(asked.readings, labels)
    nothing, elsewhere = dry_question(asked, priors)
    now = {s: seal_name(s, n - 1) for s, n in asked.story.generations.items()}
    joints = _joints(loaded.machine, [s for s in repair.seals if s in now])
    questions: list[Question] = [nothing]
    questions += [dict.fromkeys((now[s] for s in parts), TIGHT) for _, _, parts in joints]
    dry, *holds = chances(solved.tree, columns, questions)
    dry = dry * elsewhere
    last: list[Question] = [{now[s]: TIGHT for s in repair.seals if s in now}]
    last.append(listed_question(asked.network))
    sound, listed = (float(p) for p in chances(solved.tree, columns[-1:], last)[:, 0])
    not_listed = 1 - listed * elsewhere
    wet = _wet(loaded.job, since)
    again = None
    if wet and repair.seals and repair.washed:
        ranking = ranked_seals(loaded, solved)
        same, another = 1 - sound, max(sound - float(dry[-1]), 0.0)
        again = Again(wet, same, another, not_listed, ranking)
    names = {s.id: s.name or s.id.replace("_", " ") for s in loaded.machine.seal_points}
    return Known(
        repair=repair,
        dry=float(dry[-1]),
        before=float(dry[0]) if repair.seals else None,
        holds=sound if repair.seals else None,
        held=_held(solved, columns, {s: (now[s], names[s]) for s in repair.seals if s in now}),
        joints=tuple(
            Held(id_, name, parts, float(row[0]), float(row[-1]))
            for (id_, name, parts), row in zip(joints, holds, strict=True)
        ),
        course=tuple(
            Moved(label, label in wet, float(dry[k]), tuple(float(row[k]) for row in holds))
            for k, label in enumerate(labels, start=1)
        ),
        again=again,
        stale=() if repair.washed else wet,
        not_listed=not_listed,
    )


def _columns(readings: Mapping[str, Evidence], labels: Sequence[str]) -> list[Evidence]:
    """What is known without any of these readings, with the first, with the first two, ..."""
    rest = combine(e for label, e in readings.items() if label not in set(labels))
    found = [rest]
    for label in labels:
        found.append(combine([found[-1], readings[label]]))
    return found


def _held(
    solved: Solved, columns: Sequence[Evidence], seals: Mapping[str, tuple[str, str]]
) -> tuple[Held, ...]:
    variables = [variable for variable, _ in seals.values()]
    both = [solved.tree.update(e, only=variables) for e in (columns[0], columns[-1])]
    return tuple(
        Held(seal, name, (seal,), *(float(beliefs[variable][0]) for beliefs in both))
        for seal, (variable, name) in seals.items()
    )


def _joints(machine: Machine, seals: Sequence[str]) -> list[tuple[str, str, tuple[str, ...]]]:
    """Id, name and seal points of each joint: the stretches of one gasket are one joint."""
    by_id = {s.id: s for s in machine.seal_points}
    parts: dict[str, list[str]] = {}
    for seal in seals:
        parts.setdefault(by_id[seal].part_of or seal, []).append(seal)
    found = []
    for joint, stretches in parts.items():
        only = by_id[stretches[0]] if len(stretches) == 1 else None
        name = joint.replace("_", " ") if only is None else only.name or only.id.replace("_", " ")
        found.append((joint if only is None else only.id, name, tuple(stretches)))
    return found


_DRY = frozenset({ZoneState.DRY, ZoneState.NOT_LOOKED, SealState.TIGHT, SealState.NOT_LOOKED})
_LEAKING = ("ground_wet", "leaks_cold_start", "leaks_hot_idle", "leaks_at_speed", "leaks_at_rest")


def _is_wet(reading: Reading) -> bool:
    if isinstance(reading, Sign):
        return reading.value is Yes.YES and reading.sign.value in _LEAKING
    return reading.state not in _DRY


def _wet(job: Job, since: Sequence[Taken]) -> tuple[str, ...]:
    """Labels of what was found wet after the last wash of the place."""
    whole, parts = -1, dict[str, int]()
    for number, event in effective(job):
        if isinstance(event, Wash) and event.wash == "whole":
            whole, parts = number, {}
        elif isinstance(event, Wash):
            parts |= dict.fromkeys(event.wash, number)
    latest = max(whole, *parts.values(), whole)
    found = []
    for taken in since:
        zone = taken.reading.zone if isinstance(taken.reading, ZoneReading) else None
        washed = latest if zone is None else parts.get(zone, whole)
        if _is_wet(taken.reading) and taken.number > washed:
            found.append(label_of(taken))
    return tuple(found)
