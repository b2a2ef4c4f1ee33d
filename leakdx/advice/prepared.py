"""A network made ready for readings that were not taken yet, whatever they may be.

Zones and seal points can all be read on it.  What would make it too wide, so long as nobody has
read it (signs, trays, "wet" with no fluid named), is kept beside it and not compiled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from leakdx.advice.finest import finest
from leakdx.advice.solving import ALL_ENTRIES, LARGEST, TooLarge, limits
from leakdx.advice.sums import without
from leakdx.belief.plan import signature
from leakdx.belief.tree import JunctionTree, TooWide, compile_network
from leakdx.case.evidence import setting_of, with_histories
from leakdx.case.model import (
    ContextKind,
    Job,
    SealReading,
    SealState,
    Sign,
    ZoneReading,
    ZoneState,
)
from leakdx.case.read import LoadedJob
from leakdx.case.timeline import Life, Reading, Story, story_of
from leakdx.flow.courses import DETAILS
from leakdx.machine.model import Machine, SignKind
from leakdx.network.build import LeakNetwork, build_network
from leakdx.network.setting import Epoch, Setting, flow_name, mixed_name, sign_name
from leakdx.network.tables import Maximum, Network
from leakdx.priors.model import Priors

BAREST = len(DETAILS) - 1
# The story of a job with the readings there are, and with all there could be.
Stories = tuple[Story, Story]


@dataclass(frozen=True)
class Structure:
    """All of a job that a network is built from, but for its readings.

    machine: with the histories that the job states.  told: what was said of joints, and in which
    generation of each.  zones: epoch of the surface that each zone wears now.
    """

    machine: Machine
    epochs: tuple[Epoch, ...]
    lives: Mapping[str, tuple[Life, ...]]
    told: tuple[tuple[ContextKind, str | None, int], ...]
    zones: Mapping[str, int]


@dataclass(frozen=True, eq=False)
class Prepared:
    """A network with every effect that there could be a reading of, and what is compiled of it.

    apart: the effects that are not in ``kept``.  detail: as in Solved.
    """

    whole: LeakNetwork
    kept: Network
    apart: Mapping[str, Maximum]
    detail: int


def prepared(
    loaded: LoadedJob, priors: Priors, like: tuple[JunctionTree, int] | None
) -> tuple[Prepared, JunctionTree]:
    """The network of a job in the fullest detail that fits, compiled.

    like: a compiled network and its detail; where no variable or arrow differs from it, only
    the numbers are worked out.  Raises TooLarge where not even the barest detail fits.
    """
    story, structure = structure_of(loaded, priors)
    machine = structure.machine
    stories = story, _with_more(machine, loaded.job, _anything(machine), priors)
    if like is not None:
        tree, detail = like
        made = _prepared(machine, stories, priors, detail)
        if signature(made.kept) == tree.plan.scopes:
            return made, tree.with_tables(made.kept)
    try:
        return _compiled(machine, stories, priors)
    except TooWide as error:
        raise TooLarge(machine.id, error.entries) from error


def structure_of(loaded: LoadedJob, priors: Priors) -> tuple[Story, Structure]:
    """A job's story, and its structure.  Raises as story_of."""
    machine, job = with_histories(loaded.machine, loaded.job), loaded.job
    more = (ZoneReading(zone=z.id, state=ZoneState.NOT_LOOKED) for z in machine.zones)
    whole = _with_more(machine, job, tuple(more), priors)
    there = len(job.timeline)
    zones = {
        t.reading.zone: t.epoch
        for t in whole.taken
        if t.number >= there and isinstance(t.reading, ZoneReading)
    }
    story = replace(whole, taken=tuple(t for t in whole.taken if t.number < there))
    told = tuple(
        (c.context, c.seal_point, generations.get(c.seal_point, 1) if c.seal_point else 1)
        for c, generations in zip(story.contexts, story.told, strict=True)
        if c.seal_point or c.context is ContextKind.LONG_IDLE
    )
    return story, Structure(machine, story.epochs, story.lives, told, zones)


def _with_more(machine: Machine, job: Job, more: tuple[Reading, ...], priors: Priors) -> Story:
    return story_of(job.model_copy(update={"timeline": (*job.timeline, *more)}), machine, priors)


def _anything(machine: Machine) -> tuple[Reading, ...]:
    """Every kind of reading there could be; a wet zone with no fluid named stands for all."""
    zones = [ZoneReading(zone=z.id, state=ZoneState.WET) for z in machine.zones]
    seals = [SealReading(seal_point=s.id, state=SealState.TIGHT) for s in machine.seal_points]
    signs = [Sign(sign=kind, fluid=f.id) for kind in SignKind for f in machine.fluids]
    return (*zones, *seals, *signs)


def _compiled(machine: Machine, stories: Stories, priors: Priors) -> tuple[Prepared, JunctionTree]:
    """The network in the fullest detail that fits; where none does, signs are left apart too."""
    try:
        made, tree, _ = finest(
            lambda detail: _prepared(machine, stories, priors, detail),
            lambda made: made.kept,
            _room,
        )
        if made.detail == BAREST:
            made, tree = _less_bare(machine, stories, priors) or (made, tree)
    except TooWide:
        present, anything = stories
        unsigned = tuple(t for t in present.taken if not isinstance(t.reading, Sign))
        fewer = replace(present, taken=unsigned), anything
        made, tree, _ = finest(
            lambda detail: _prepared(machine, fewer, priors, detail),
            lambda made: made.kept,
            limits,
        )
    return made, tree


def _less_bare(
    machine: Machine, stories: Stories, priors: Priors
) -> tuple[Prepared, JunctionTree] | None:
    """The last detail but one, where more than a first attempt makes it fit; it pays well."""
    made = _prepared(machine, stories, priors, BAREST - 1)
    try:
        return made, compile_network(made.kept, *_room(made.detail))
    except TooWide:
        return None


def _room(detail: int) -> tuple[int, int | None]:
    """Largest table, and entries of all together.

    Most is lost from the last detail but one to the barest, so the former may be twice as large.
    """
    times = 2 if detail == BAREST - 1 else 1
    return times * LARGEST, times * ALL_ENTRIES


def _prepared(machine: Machine, stories: Stories, priors: Priors, detail: int) -> Prepared:
    """The network for all readings there could be, less what nobody has read yet."""
    present, anything = (setting_of(machine, s, detail, priors) for s in stories)
    whole = build_network(anything, priors)
    unread = _unread(whole, present)
    maxima = {m.child: m for m in whole.network.maxima}
    kept = Network(
        tuple(v for v in whole.network.variables if v.name not in unread),
        whole.network.tables,
        tuple(_less(m, unread) for m in whole.network.maxima if m.child not in unread),
    )
    outside = {n: maxima[n] for n in unread}
    return Prepared(whole, kept, {n: without(m, outside) for n, m in outside.items()}, detail)


def _less(effect: Maximum, unread: frozenset[str]) -> Maximum:
    """An effect without trays that nobody read, which it has for parents only if they were."""
    if unread.isdisjoint(effect.parents):
        return effect
    left = tuple(i for i in effect.influences if i.parent not in unread)
    return Maximum(effect.child, effect.background, left)


def _unread(whole: LeakNetwork, present: Setting) -> frozenset[str]:
    """Effects that are costly to have in the network and that nobody has read yet."""
    setting = whole.setting
    names = {mixed_name(z, e) for e, z in setting.mixed - present.mixed}
    names |= {sign_name(s) for s in setting.signs - present.signs}
    for spread in whole.spreads:
        trays = (spread.flow.surfaces.ids[k] for k in spread.flow.collectors)
        for zone in (z for z in trays if (spread.epoch, z) not in present.read):
            names |= {flow_name(f, zone, spread.epoch) for f in whole.flows(zone, spread.epoch)}
    return frozenset(n for n in names if n in whole.network)
