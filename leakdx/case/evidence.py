"""From a job to a network and evidence on it.

Each reading becomes a likelihood on one variable.  A reading that says "not looked"
becomes nothing at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from leakdx.belief.evidence import Evidence, combine
from leakdx.case.model import (
    Age,
    Context,
    ContextKind,
    Job,
    SealHistory,
    SealReading,
    SealState,
    Sign,
    Yes,
    ZoneReading,
    ZoneState,
)
from leakdx.case.timeline import Reading, Story, Taken, story_of
from leakdx.machine.model import Cause, CauseKind, Machine, SealPoint, SealService
from leakdx.network.build import LeakNetwork, build_network
from leakdx.network.causes import causes_of, raised_by
from leakdx.network.looks import (
    Grime,
    Sight,
    calls,
    drops_likelihood,
    looks_of_flow,
    seal_calls,
    sight,
    zone_likelihood,
)
from leakdx.network.odds import crowding, odds_of
from leakdx.network.setting import (
    Setting,
    SignAsked,
    cause_name,
    flow_name,
    look_name,
    mixed_name,
    sign_name,
)
from leakdx.network.signs import SEAL_LOOKS
from leakdx.network.tables import Array
from leakdx.priors.model import Priors

# What a context entry about one joint multiplies its odds by: the name of the prior.
JOINT_FACTORS = {
    ContextKind.SEALANT_SEEN: "modifiers.sealant_seen",
    ContextKind.HARD_AND_RIGID: "modifiers.hard_and_rigid",
    ContextKind.FASTENER_LOOSE: "modifiers.fastener_loose",
    ContextKind.FASTENER_MISSING: "modifiers.fastener_missing",
    ContextKind.FASTENER_TOO_LONG: "modifiers.fastener_too_long",
    ContextKind.OVERTIGHTENED: "modifiers.overtightened",
    ContextKind.GASKET_ROLLED: "modifiers.gasket_rolled",
    ContextKind.CORRODED: "modifiers.corroded",
    ContextKind.DRAIN_BACK_BLOCKED: "modifiers.drain_back_blocked",
    ContextKind.LONG_IDLE: "modifiers.long_idle",
}
# Context entries that settle, nearly, whether a shared cause is there.
CAUSE_SAID = {
    ContextKind.VENTILATION_BLOCKED: (CauseKind.VENTILATION_BLOCKED, True),
    ContextKind.VENTILATION_CLEAR: (CauseKind.VENTILATION_BLOCKED, False),
    ContextKind.OVERFILLED: (CauseKind.OVERFILLED, True),
    ContextKind.DRAIN_BACK_BLOCKED: (CauseKind.DRAIN_BACK_BLOCKED, True),
}
# What is seen at one joint and is a cause of its own where the machine lists one there.
SEEN_OF_CAUSE = {
    ContextKind.FASTENER_LOOSE: CauseKind.FASTENERS_LOOSE,
    ContextKind.FASTENER_MISSING: CauseKind.FASTENERS_LOOSE,
    ContextKind.FASTENER_TOO_LONG: CauseKind.FASTENER_TOO_LONG,
    ContextKind.OVERTIGHTENED: CauseKind.OVERTIGHTENED,
    ContextKind.GASKET_ROLLED: CauseKind.GASKET_ROLLED,
    ContextKind.SEALANT_SEEN: CauseKind.WRONG_SEALANT,
    ContextKind.CORRODED: CauseKind.CORRODED,
    ContextKind.DRAIN_BACK_BLOCKED: CauseKind.DRAIN_BACK_BLOCKED,
}


@dataclass(frozen=True, eq=False)
class Asked:
    """A job as the network sees it: the network, the readings one by one, and why so.

    readings: label of each reading ("3: rear of head, film") -> its evidence.
    """

    story: Story
    network: LeakNetwork
    readings: Mapping[str, Evidence]

    @property
    def evidence(self) -> Evidence:
        """All readings together."""
        return combine(self.readings.values())


def asked_of(machine: Machine, job: Job, priors: Priors, detail: int = 0) -> Asked:
    """The network and evidence of a job; ``detail`` is an index of flow.courses.DETAILS.

    Raises UnknownNumber if a prior number is missing, EvidenceError for a likelihood
    that is no likelihood, KeyError for a stand that the machine does not have.
    """
    machine = _with_histories(machine, job)
    story = story_of(job, machine, priors)
    network = build_network(_setting(machine, story, detail, priors), priors)
    readings: dict[str, Evidence] = {}
    for taken in story.taken:
        if not _silent(taken.reading):
            readings[label_of(taken)] = reading_evidence(taken, story, network, priors)
    for number, context in enumerate(story.contexts):
        said = _cause_said(context, machine, priors)
        if said:
            readings[f"context {number + 1}: {context.context.value}"] = Evidence(said)
    return Asked(story, network, readings)


def _silent(reading: Reading) -> bool:
    said = reading.value if isinstance(reading, Sign) else reading.state
    return said in (ZoneState.NOT_LOOKED, SealState.NOT_LOOKED, Yes.NOT_LOOKED)


def label_of(taken: Taken) -> str:
    """What a reading is called in lists, such as '3: head_rear film'."""
    r = taken.reading
    if isinstance(r, ZoneReading):
        age = f", {r.age.value}" if r.age else ""
        return f"{taken.number + 1}: {r.zone} {r.state.value}{age}"
    if isinstance(r, SealReading):
        return f"{taken.number + 1}: {r.seal_point} {r.state.value}"
    return f"{taken.number + 1}: {r.sign.value} {r.value.value}"


def _with_histories(machine: Machine, job: Job) -> Machine:
    """The machine with what this job knows of its seals' lives."""
    known = {h.seal_point: h for h in job.seal_histories}
    if not known:
        return machine
    seals = tuple(
        s.model_copy(update={"service": _merged(s.service, h)}) if (h := known.get(s.id)) else s
        for s in machine.seal_points
    )
    return machine.model_copy(update={"seal_points": seals})


def _merged(service: SealService, history: SealHistory) -> SealService:
    """What the machine file knows, with what the job states in its place."""
    stated = history.model_dump(include={"age_years", "hours"}, exclude_none=True)
    return service.model_copy(update=stated)


def _setting(machine: Machine, story: Story, detail: int, priors: Priors) -> Setting:
    zone_readings = [
        (t.epoch, t.reading)
        for t in story.taken
        if isinstance(t.reading, ZoneReading) and not _silent(t.reading)
    ]
    wetted = frozenset((r.fluid, r.zone) for _, r in zone_readings if r.fluid is not None)
    read = frozenset((e, r.zone) for e, r in zone_readings)
    mixed = frozenset(
        (e, r.zone) for e, r in zone_readings if r.fluid is None and r.state is not ZoneState.DRY
    )
    return Setting(
        machine=machine,
        detail=detail,
        epochs=story.epochs,
        odds={s.id: _odds(s, machine, story, priors) for s in machine.seal_points},
        mixed=mixed if len(machine.fluids) > 1 else frozenset(),
        read=read,
        whole=False,
        wetted=wetted,
        looked=frozenset(
            (t.epoch, t.reading.seal_point)
            for t in story.taken
            if isinstance(t.reading, SealReading) and not _silent(t.reading)
        ),
        signs=frozenset(
            _sign(t, machine)
            for t in story.taken
            if isinstance(t.reading, Sign) and not _silent(t.reading)
        ),
        seen=frozenset(
            (cause.id, c.seal_point)
            for c in story.contexts
            if c.seal_point and c.context not in CAUSE_SAID and (cause := cause_seen(c, machine))
        ),
    )


def _sign(taken: Taken, machine: Machine) -> SignAsked:
    assert isinstance(taken.reading, Sign)
    fluid = taken.reading.fluid or machine.fluids[0].id
    return SignAsked(taken.reading.sign, fluid, taken.epoch)


def _odds(seal: SealPoint, machine: Machine, story: Story, priors: Priors) -> tuple[float, ...]:
    """What the job's context multiplies the odds of each generation of a seal point by."""
    latest = 1.0
    earlier = None
    for c in story.contexts:
        if c.context is ContextKind.LONG_IDLE and c.seal_point is None:
            if seal.kind.value in ("shaft_lip_seal", "rod_seal"):
                latest *= priors["modifiers.long_idle"]
        elif c.seal_point == seal.id and c.context in JOINT_FACTORS:
            # Where the machine lists the cause, that was said of the cause and raises the joint.
            if c.context not in CAUSE_SAID or cause_seen(c, machine) is None:
                latest *= priors[JOINT_FACTORS[c.context]]
        elif c.seal_point == seal.id and c.context is ContextKind.RECENT_WORK:
            earlier = priors["modifiers.leaked_before_work"]
    generations = story.generations.get(seal.id, 1)
    if generations == 1:
        return (latest,)
    base = odds_of(priors[f"base_rates.{seal.kind.value}"]) * crowding(machine, priors)
    before = earlier or priors["modifiers.leaked_before_renewal"]
    refit = priors["modifiers.recent_work"] if earlier else priors["modifiers.renewed"]
    if seal.tight_access:
        refit *= priors["modifiers.tight_access_after_work"]
    # What the job says of the joint now (sealant, a loose fastener) is about the last one.
    # It was worked on, so how many others the list holds says nothing of it.
    refit /= crowding(machine, priors)
    return (*[odds_of(before) / base] * (generations - 1), refit * latest)


def reading_evidence(taken: Taken, story: Story, network: LeakNetwork, priors: Priors) -> Evidence:
    """What one reading says, as likelihoods of the network's variables: P(reading | state)."""
    reading = taken.reading
    if isinstance(reading, SealReading):
        return Evidence(
            {
                look_name(reading.seal_point, taken.epoch): _seal(
                    reading, network.setting.machine, priors
                )
            }
        )
    if isinstance(reading, Sign):
        said = priors["signs.said"]
        yes = np.array([1 - said, said])
        likelihood = yes if reading.value is Yes.YES else yes[::-1].copy()
        return Evidence({sign_name(_sign(taken, network.setting.machine)): likelihood})
    levels = _zone(reading, taken.epoch, story, network, priors)
    if reading.fluid is None and reading.state is ZoneState.DRY:
        return Evidence(_all_dry(reading.zone, taken.epoch, levels, network))
    name = _zone_variable(reading, taken.epoch, network)
    return Evidence({name: _fitted(levels, name, network)})


def _all_dry(zone: str, epoch: int, levels: Array, network: LeakNetwork) -> dict[str, Array]:
    """A zone called dry is dry of every fluid: each that is there is missed on its own.

    The chance to call a dry zone dry counts once, whatever the number of fluids.
    """
    names = [flow_name(f, zone, epoch) for f in network.flows(zone, epoch)]
    found = {n: _fitted(levels / levels[0], n, network) for n in names}
    if names:
        found[names[0]] = found[names[0]] * levels[0]
    return found


def _fitted(levels: Array, name: str, network: LeakNetwork) -> Array:
    """A likelihood of levels for a variable; one that only collects is dry or wet."""
    if network.network[name].size == 2:
        return np.array([levels[0], levels[1:].mean()])
    return levels


def _zone_variable(reading: ZoneReading, epoch: int, network: LeakNetwork) -> str:
    if reading.fluid is not None:
        return flow_name(reading.fluid, reading.zone, epoch)
    mixed = mixed_name(reading.zone, epoch)
    if mixed in network.network:
        return mixed
    return flow_name(network.setting.machine.fluids[0].id, reading.zone, epoch)


def _zone(
    reading: ZoneReading, epoch: int, story: Story, network: LeakNetwork, priors: Priors
) -> Array:
    scale = network.spreads[epoch].scale
    table = calls(_view(reading, network.setting.machine, priors), priors)
    flow_looks = looks_of_flow(scale, priors)
    age = reading.age.value if isinstance(reading.age, Age) else None
    grime = _grime(epoch, story, priors)
    levels = zone_likelihood(reading.state.value, age, flow_looks, grime, table, priors)
    if reading.drops_per_minute is None:
        return levels
    return levels * drops_likelihood(reading.drops_per_minute, scale, priors)


def _view(reading: ZoneReading | SealReading, machine: Machine, priors: Priors) -> Sight:
    """How good a look was: by its method, unless its inspection states its own errors.

    A method that the reading states goes before the inspection's.
    """
    found = next((i for i in machine.inspections if i.id == reading.inspection), None)
    method = reading.method
    if found is not None and "method" not in reading.model_fields_set:
        method = found.method
    view = sight(method.value, reading.sure.value, priors)
    if found is None:
        return view
    return Sight(
        view.miss if found.miss is None else found.miss,
        view.false_call if found.false_call is None else found.false_call,
    )


def _grime(epoch: int, story: Story, priors: Priors) -> Grime:
    """Old residue that may show: less after a wash, more after a repair with none."""
    film, runs = priors["detection.grime"], priors["detection.grime_run"]
    if epoch in story.repaired:
        film = priors["detection.grime_after_repair"]
        runs = film / 3
    left = 1.0 - story.washed[epoch]
    if story.washed[epoch] > 0:
        left *= priors["detection.grime_left_by_wash"]
    return Grime(film * left, runs * left)


def _seal(reading: SealReading, machine: Machine, priors: Priors) -> Array:
    method = _view(reading, machine, priors)
    eyes = sight("eyes", "normal", priors)
    # A close look errs less than a glance at a zone, in the same proportion for each method.
    view = Sight(
        priors["detection.seal.miss"] * method.miss / eyes.miss,
        priors["detection.seal.false_call"] * method.false_call / eyes.false_call,
    )
    table = seal_calls(view, priors)
    if reading.state is SealState.WET:
        return np.asarray(table[1:].sum(axis=0))
    return np.asarray(table[SEAL_LOOKS.index(reading.state.value)])


def cause_seen(context: Context, machine: Machine) -> Cause | None:
    """The listed cause that something seen at a joint speaks of; None where none acts there.

    Of several that act on the joint, the one that acts on the fewest.
    """
    kind = SEEN_OF_CAUSE.get(context.context)
    if kind is None or context.seal_point is None:
        return None
    acting = {
        c.id: raised_by(c, machine)
        for c in machine.causes
        if c.kind is kind and context.seal_point in raised_by(c, machine)
    }
    return min(
        (c for c in machine.causes if c.id in acting),
        key=lambda c: len(acting[c.id]),
        default=None,
    )


def _cause_said(context: Context, machine: Machine, priors: Priors) -> dict[str, Array]:
    """What a context entry says of a cause: that it is there, or that it is not."""
    if context.context in SEEN_OF_CAUSE and context.seal_point is not None:
        seen = cause_seen(context, machine)
        if seen is None:
            return {}
        itself = context.context in CAUSE_SAID
        # What is seen at one joint may be so at that one alone.
        sure = priors["causes.said"] if itself else priors["causes.seen_at_a_joint"]
        return {cause_name(seen.id): _believed(seen.kind, True, sure, priors)}
    if context.context not in CAUSE_SAID:
        return {}
    kind, there = CAUSE_SAID[context.context]
    names = [
        cause_name(c.id)
        for c in causes_of(machine)
        if c.kind is kind and (context.fluid is None or c.fluid in (None, context.fluid))
    ]
    said = _believed(kind, there, priors["causes.said"], priors)
    return dict.fromkeys(names[:1], said)


def _believed(kind: CauseKind, there: bool, sure: float, priors: Priors) -> Array:
    """Likelihood of what was said of a cause: believed that far, however rare the cause is."""
    before = odds_of(priors[f"causes.chance.{kind.value}"])
    said = odds_of(sure)
    weight = said / before if there else 1 / (said * before)
    return np.array([1.0, weight]) / max(1.0, weight)
