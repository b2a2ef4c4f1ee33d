"""From a job to a network and evidence on it.

Each reading becomes a likelihood on one variable.  A reading that says "not looked"
becomes nothing at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from leakdx.belief.evidence import Evidence, combine
from leakdx.case.joints import (
    CAUSE_SAID,
    SEEN_OF_CAUSE,
    cause_seen,
    checked,
    disturbed,
    fresh,
    lasting,
    odds_of_lives,
    stays,
)
from leakdx.case.model import (
    Age,
    Context,
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
from leakdx.machine.model import CauseKind, Machine, SealService
from leakdx.network.build import LeakNetwork, build_network
from leakdx.network.causes import causes_of
from leakdx.network.looks import (
    Grime,
    Sight,
    calls,
    drops_likelihood,
    looks_of_flow,
    seal_calls,
    sight,
    stacked,
    zone_likelihood,
)
from leakdx.network.odds import odds_of
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


def asked_of(
    machine: Machine, job: Job, priors: Priors, detail: int = 0, like: LeakNetwork | None = None
) -> Asked:
    """The network and evidence of a job; ``detail`` is an index of flow.courses.DETAILS.

    like: a network of the same job and detail whose structure is kept (network.build).
    Raises UnknownNumber if a prior number is missing, EvidenceError for a likelihood that is
    no likelihood, KeyError for a stand that the machine does not have.
    """
    machine = with_histories(machine, job)
    story = story_of(job, machine, priors)
    network = build_network(setting_of(machine, story, detail, priors), priors, like)
    return Asked(story, network, readings_of(story, network, priors))


def readings_of(story: Story, network: LeakNetwork, priors: Priors) -> dict[str, Evidence]:
    """Label of each reading, and of each context that says something of a cause -> evidence."""
    machine = network.setting.machine
    readings: dict[str, Evidence] = {}
    for taken in story.taken:
        if not silent(taken.reading):
            readings[label_of(taken)] = reading_evidence(taken, story, network, priors)
    for number, context in enumerate(story.contexts):
        said = _cause_said(context, machine, priors)
        if said:
            readings[f"context {number + 1}: {context.context.value}"] = Evidence(said)
    return readings


def silent(reading: Reading) -> bool:
    """Whether a reading says nothing: that it was not taken."""
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


def with_histories(machine: Machine, job: Job) -> Machine:
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


def setting_of(machine: Machine, story: Story, detail: int, priors: Priors) -> Setting:
    """What the network is built for: the machine (with its histories) and what the job says."""
    zone_readings = [
        (t.epoch, t.reading)
        for t in story.taken
        if isinstance(t.reading, ZoneReading) and not silent(t.reading)
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
        odds={s.id: odds_of_lives(s, machine, story, priors) for s in machine.seal_points},
        mixed=mixed if len(machine.fluids) > 1 else frozenset(),
        read=read,
        whole=False,
        wetted=wetted,
        looked=frozenset(
            (t.epoch, t.reading.seal_point)
            for t in story.taken
            if isinstance(t.reading, SealReading) and not silent(t.reading)
        ),
        signs=frozenset(
            _sign(t, machine)
            for t in story.taken
            if isinstance(t.reading, Sign) and not silent(t.reading)
        ),
        seen=frozenset(
            (cause.id, c.seal_point)
            for c in story.contexts
            if c.seal_point and c.context not in CAUSE_SAID and (cause := cause_seen(c, machine))
        ),
        lasting=lasting(story),
        stays=stays(story, priors),
        disturbed=disturbed(story, priors),
        checked=checked(story),
        fresh=fresh(story),
    )


def can_take(network: LeakNetwork, taken: Taken) -> bool:
    """Whether a network, not built for a reading, has every variable that it bears on."""
    reading = taken.reading
    if silent(reading):
        return True
    if isinstance(reading, SealReading):
        return look_name(reading.seal_point, taken.epoch) in network.network
    if isinstance(reading, Sign):
        return sign_name(_sign(taken, network.setting.machine)) in network.network
    flows = network.flows(reading.zone, taken.epoch)
    if reading.fluid is not None:
        return reading.fluid in flows
    if reading.state is ZoneState.DRY or len(flows) <= 1:
        return bool(flows)
    return mixed_name(reading.zone, taken.epoch) in network.network


def _sign(taken: Taken, machine: Machine) -> SignAsked:
    assert isinstance(taken.reading, Sign)
    fluid = taken.reading.fluid or machine.fluids[0].id
    return SignAsked(taken.reading.sign, fluid, taken.epoch)


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
        return np.stack([levels[0], levels[1:].mean(axis=0)])
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
        np.minimum(0.5, priors["detection.seal.miss"] * method.miss / eyes.miss),
        np.minimum(0.5, priors["detection.seal.false_call"] * method.false_call / eyes.false_call),
    )
    table = seal_calls(view, priors)
    if reading.state is SealState.WET:
        return np.asarray(table[1:].sum(axis=0))
    return np.asarray(table[SEAL_LOOKS.index(reading.state.value)])


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
    return np.asarray(stacked([1.0, weight]) / np.maximum(1.0, weight))
