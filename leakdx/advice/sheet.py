"""A strip-down and refit sheet for the chosen repair, in the order in which it is worked.

What it says of joints is common practice (``sheet_practice``); torques, orders and one-use parts
are the machine file's own.  Where that states none, nothing is put in its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.advice.costs import money
from leakdx.advice.looks import steps_off
from leakdx.advice.proof import Proof
from leakdx.advice.renewal import steps_behind
from leakdx.advice.sheet_plan import Repair, repair_of
from leakdx.advice.sheet_practice import Practice, practice_of
from leakdx.advice.sheet_safety import RUN_CAUTIONS, cautions_before, fluids_before
from leakdx.advice.sheet_steps import Refit, Step, said_step, stripped, torque_said, undone
from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.kit.read import shipped_machines
from leakdx.machine.model import Machine, SealKind, SealPoint
from leakdx.priors.model import Priors

MAKER_FIRST = (
    "The maker's procedure and local rules come first; where they differ from this sheet, follow "
    "them."
)
CHECKS = ("mirror", "wiped", "torque")
TOOLS = (
    "Lint-free rags, solvent, plastic scraper, mirror and lamp, torque wrench, a pan, and clean "
    "caps for open lines."
)
INSIDE = "Nothing left inside: rags, tools, stoppers and caps counted out and in."
WASH_AND_RUN = (
    "On a cold machine, wash all of it round and below the joints, with everything closed, and "
    "let it dry: old residue looks like a new leak. Record: - {wash: whole}",
    "Set all levels. Start it with one person watching the joints, then run it warm and as it is "
    "used, at least as long as the leak took to show. Record: - {run_minutes: 30}, with its own "
    "minutes",
    "Look again from the highest point down with mirror and lamp. Record what is dry as well as "
    "what is wet, then ask 'leakdx rank'.",
)
_GASKETS = (
    SealKind.FLAT_GASKET,
    SealKind.MOULDED_GASKET,
    SealKind.SEALANT_JOINT,
    SealKind.HEAD_GASKET,
)
# These have no fasteners or thread of their own to put a figure to.
_UNFASTENED = (
    SealKind.SHAFT_LIP_SEAL,
    SealKind.ROD_SEAL,
    SealKind.CORE_PLUG,
    SealKind.CASTING_CRACK,
    SealKind.CASTING_POROSITY,
    SealKind.WELD,
    SealKind.CORRODED_WALL,
    SealKind.OPEN_HOLE,
    SealKind.BREATHER,
)


@dataclass(frozen=True)
class Chance:
    """A seal point by name, and the chance that it leaks.  added: the rest of a chosen gasket."""

    seal_point: str
    name: str
    leaks: float
    added: bool = False


@dataclass(frozen=True)
class Joint:
    """One thing to renew: a seal point, or a gasket with all its stretches.

    refit: what to do, in order, with torque and order of tightening last.
    """

    seal_points: tuple[Chance, ...]
    name: str
    kind: SealKind
    practice: Practice
    refit: tuple[str, ...]
    one_use: tuple[str, ...]
    tight_access: bool

    @property
    def kind_said(self) -> str:
        """Its kind as people call it."""
        return self.kind.value.replace("o_ring", "O-ring").replace("_", " ")


@dataclass(frozen=True)
class Check:
    """Boxes to tick at one joint: word and sentence; records: the events for the job file."""

    name: str
    boxes: tuple[tuple[str, str], ...]
    records: tuple[str, ...]


@dataclass(frozen=True)
class Times:
    """Minutes of labour.  refit_off: to refit what is off already, not in ``total``."""

    strip: float
    joints: float
    refit: float
    total: float
    said: str
    refit_off: float


@dataclass(frozen=True)
class Sheet:
    """A sheet for one job; without anything to renew only ``sentence`` has something to say.

    invented: the machine comes with leakdx, so no figure of it is real.  off: names of what is
    off already.  reached: seal points laid bare by the same steps, the likeliest first.
    proof: how long to run afterwards; None where it has not been worked out.
    """

    job: str
    job_name: str
    machine: str
    machine_name: str
    invented: bool
    sentence: str
    renew: tuple[Chance, ...]
    dry: float
    times: Times
    cautions: tuple[str, ...]
    parts: tuple[str, ...]
    fluids: tuple[str, ...]
    steps: tuple[Step, ...]
    off: tuple[str, ...]
    reached: tuple[Chance, ...]
    joints: tuple[Joint, ...]
    checks: tuple[Check, ...]
    refit: tuple[Refit, ...]
    wash_and_run: tuple[str, ...]
    run_cautions: tuple[str, ...]
    proof: Proof | None = None


def sheet_of(
    loaded: LoadedJob,
    solved: Solved,
    priors: Priors,
    renew: Sequence[str] = (),
) -> Sheet:
    """The sheet of a job that has been solved, with general words on running.

    renew: ids of seal points; without any, the plan of least expected cost.
    """
    machine, job = loaded.machine, loaded.job
    repair = repair_of(loaded, solved, priors, renew)
    invented = job.machine.file is None and machine.id in shipped_machines()
    off = steps_off(machine, job) if repair.seals else frozenset[str]()
    behind = steps_behind(machine, (a for s in _chosen(machine, repair) for a in s.access))
    steps = stripped(machine, behind - repair.off)
    joints = tuple(_joints(machine, repair, invented))
    back = undone(machine, steps, off, invented)
    open_now = frozenset(s.id for s in steps) | off
    return Sheet(
        job=job.id,
        job_name=job.name or job.id.replace("_", " "),
        machine=machine.id,
        machine_name=machine.name,
        invented=invented,
        sentence=_sentence(joints, repair),
        renew=tuple(c for j in joints for c in j.seal_points),
        dry=repair.dry,
        times=_times(machine, job, repair, steps, off, priors),
        cautions=cautions_before(machine, _chosen(machine, repair), steps, off),
        parts=tuple(_parts(machine, joints, open_now)),
        fluids=fluids_before(machine, _chosen(machine, repair), steps, off),
        steps=steps,
        off=tuple(said_step(k) for k in machine.access_steps if k.id in off),
        reached=_reached(machine, repair, open_now | repair.off),
        joints=joints,
        checks=tuple(_check(j) for j in joints),
        refit=back,
        wash_and_run=WASH_AND_RUN if joints else (),
        run_cautions=RUN_CAUTIONS if joints else (),
    )


def _chosen(machine: Machine, repair: Repair) -> list[SealPoint]:
    return [s for s in machine.seal_points if s.id in repair.seals]


def _name(seal: SealPoint) -> str:
    return seal.name or seal.id.replace("_", " ")


def _chance(seal: SealPoint, repair: Repair) -> Chance:
    return Chance(seal.id, _name(seal), repair.leaks[seal.id], seal.id in repair.added)


def _sentence(joints: Sequence[Joint], repair: Repair) -> str:
    if not joints:
        return (
            "Nothing is to be renewed: it would cost more now than the leaks that may be left. "
            "'leakdx next' says what to look at; for a sheet all the same, name the seal points "
            "with --renew."
        )
    names = "; ".join(j.name for j in joints)
    return (
        f"Renew: {names}. Nothing else leaks then with a chance of {percent(repair.dry)}, "
        "so wash, run and look again afterwards."
    )


def _times(
    machine: Machine,
    job: Job,
    repair: Repair,
    steps: Sequence[Step],
    off: frozenset[str],
    priors: Priors,
) -> Times:
    share = priors["costs.refit_share"]
    strip = sum(s.minutes for s in steps)
    total = repair.labour.of(repair.seals)
    again = sum(k.minutes for k in machine.access_steps if k.id in off)
    return Times(
        strip=strip,
        joints=total - strip * (1 + share),
        refit=strip * share,
        total=total,
        said=money(total, job),
        refit_off=share * again,
    )


def _joints(machine: Machine, repair: Repair, invented: bool) -> Iterator[Joint]:
    groups: dict[str, list[SealPoint]] = {}
    for seal in _chosen(machine, repair):
        # A name with a space is no id.
        groups.setdefault(seal.part_of or f"{seal.id} alone", []).append(seal)
    order = sorted(groups.items(), key=lambda g: -max(repair.leaks[s.id] for s in g[1]))
    for gasket, seals in order:
        practice = practice_of(seals[0].kind)
        gathered = seals[0].part_of is not None and len(seals) > 1
        chances = [_chance(s, repair) for s in seals]
        yield Joint(
            seal_points=tuple(sorted(chances, key=lambda c: -c.leaks)),
            name=_whole(gasket) if gathered else _name(seals[0]),
            kind=seals[0].kind,
            practice=practice,
            refit=(*practice.refit, *_figures(seals, invented)),
            one_use=tuple(dict.fromkeys(p for s in seals for p in s.one_use)),
            tight_access=any(s.tight_access for s in seals),
        )


def _whole(gasket: str) -> str:
    return f"{gasket.replace('_', ' ').capitalize()}, whole"


def _figures(seals: Sequence[SealPoint], invented: bool) -> Iterator[str]:
    """Torque and order of tightening, of each stretch that states one of its own."""
    stated = {(s.torque_Nm, s.torque_from): s for s in seals if s.torque_Nm is not None}
    for (torque, said), seal in stated.items():
        of = f"{_name(seal)}: " if len(stated) > 1 else ""
        yield f"{of}{torque_said(torque, said, invented)}."
    fastened = seals[0].kind not in _UNFASTENED
    if not stated and fastened:
        yield f"{torque_said(None, None, invented)}."
    orders = dict.fromkeys(s.tighten for s in seals if s.tighten is not None)
    for order in orders:
        yield f"order: {order.rstrip('.')}."
    if not orders and seals[0].kind in _GASKETS:
        yield "order: look it up in the maker's data."


def _parts(machine: Machine, joints: Sequence[Joint], open_now: frozenset[str]) -> Iterator[str]:
    for joint in joints:
        if joint.practice.part is not None:
            yield f"{joint.name}: {joint.practice.part}"
        for part in joint.one_use:
            yield f"{joint.name}, one-use: {part}"
    for step in machine.access_steps:
        for part in step.one_use if step.id in open_now else ():
            yield f"{said_step(step)}, one-use for refitting: {part}"
    if joints:
        yield TOOLS


def _reached(machine: Machine, repair: Repair, bare: frozenset[str]) -> tuple[Chance, ...]:
    """Other seal points that lie behind nothing but these steps, and behind at least one."""
    found = []
    for seal in machine.seal_points:
        behind = steps_behind(machine, seal.access)
        if seal.id not in repair.seals and behind and behind <= bare:
            found.append(_chance(seal, repair))
    return tuple(sorted(found, key=lambda c: -c.leaks))


def _check(joint: Joint) -> Check:
    gasket = joint.kind in _GASKETS
    mirror = "the whole edge of the gasket" if gasket else "all round it"
    mirror += " seen with mirror and lamp before any fastener is tightened"
    if joint.tight_access:
        tight = "tight rear corners roll" if gasket else "it sits askew"
        mirror += f"; hard to get at here, where {tight} unseen"
    said = {
        "mirror": f"{mirror}.",
        "wiped": "faces wiped clean and dry, nothing left on them or inside.",
        "torque": "fasteners all there, and tightened in order to the stated torque.",
    }
    words = ", ".join(CHECKS)
    return Check(
        name=joint.name,
        boxes=tuple((word, said[word]) for word in CHECKS),
        records=tuple(f"- {{renew: {c.seal_point}, checks: [{words}]}}" for c in joint.seal_points),
    )
