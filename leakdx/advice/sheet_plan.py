"""What a strip-down and refit sheet is for: the seal points to renew, and what then is left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from leakdx.advice.chances import dry_but, leaks_of
from leakdx.advice.costs import labour_of, whole_gaskets
from leakdx.advice.looks import looks_of
from leakdx.advice.renewal import Labour, best_renewal
from leakdx.advice.solving import Solved
from leakdx.case.read import LoadedJob, shipped_jobs
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose, plain
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors


@dataclass(frozen=True, eq=False)
class Repair:
    """A choice of seal points to renew together, gaskets whole.

    seals: in the order of the machine file.  added: those of them that nobody chose, as the rest
    of a gasket.  leaks: chance of each seal point of the machine.  dry: chance that nothing else
    leaks.  off: access steps that need not be taken as the machine stands.
    """

    seals: tuple[str, ...]
    added: frozenset[str]
    leaks: dict[str, float]
    dry: float
    off: frozenset[str]
    labour: Labour


def seals_asked_for(machine: Machine, names: Sequence[str]) -> tuple[str, ...]:
    """The seal points that names stand for; the name of a gasket stands for all its stretches.

    Raises:
        FaultyInput: with every name that the machine does not have.
    """
    faults: list[Fault] = []
    found: list[str] = []
    for name in dict.fromkeys(names):
        stretches = [s.id for s in machine.seal_points if name in (s.id, s.part_of)]
        found += stretches
        if not stretches:
            faults.append(_unknown(machine, name))
    if faults:
        raise FaultyInput(faults)
    return tuple(dict.fromkeys(found))


def _unknown(machine: Machine, name: str) -> Fault:
    known = dict.fromkeys(s.id for s in machine.seal_points)
    known |= dict.fromkeys(s.part_of for s in machine.seal_points if s.part_of)
    remedy = choose(name, known, what="seal point")
    if name in shipped_jobs() or Path(name).suffix in (".yaml", ".yml"):
        remedy = "Name the job before --renew."
    problem = f"names the seal point '{plain(name)}', which the machine '{machine.id}' lacks"
    return Fault("", None, "--renew", problem, remedy)


def repair_of(
    loaded: LoadedJob, solved: Solved, priors: Priors, asked: Sequence[str] = ()
) -> Repair:
    """The repair of least expected cost, or the one asked for, with its gaskets whole.

    asked: ids of seal points; without any, ``best_renewal`` chooses, as for the next look.
    """
    machine = loaded.machine
    off = looks_of(machine, loaded.job, priors).off
    labour = whole_gaskets(machine, labour_of(machine, off, loaded.job, priors))
    leaks = leaks_of(solved)
    chosen = set(asked or best_renewal(labour, leaks).seals)
    seals = tuple(_with_their_gaskets(machine, chosen))
    dry = dry_but(solved, seals)
    return Repair(seals, frozenset(seals) - chosen, leaks, dry, off, labour)


def _with_their_gaskets(machine: Machine, chosen: set[str]) -> Iterator[str]:
    gaskets = {s.part_of for s in machine.seal_points if s.part_of and s.id in chosen}
    for seal in machine.seal_points:
        if seal.id in chosen or seal.part_of in gaskets:
            yield seal.id
