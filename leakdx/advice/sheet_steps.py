"""Access steps on the sheet: in which order they come off, and how each is undone."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.advice.looks import in_order
from leakdx.advice.readying import brought_by
from leakdx.machine.model import AccessStep, Machine, MachineState

UNKNOWN_TORQUE = "torque: look it up in the maker's data"
_INVENTED = "invented"


@dataclass(frozen=True)
class Step:
    """One step of the strip-down; number: from 1."""

    number: int
    id: str
    name: str
    minutes: float
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Refit:
    """One step of the refit.  undoes: number of the step in the strip-down, None where it was off
    before.  torque: a sentence, None where the step fastens nothing."""

    id: str
    undoes: int | None
    text: str
    torque: str | None
    one_use: tuple[str, ...]


@dataclass(frozen=True)
class _Back:
    """How a step whose name begins so is undone.  fastened: with screws or nuts."""

    begins: re.Pattern[str]
    says: str
    fastened: bool


def _back(begins: str, says: str, fastened: bool) -> _Back:
    return _Back(re.compile(begins, re.IGNORECASE), says, fastened)


# In the order of trying; \1 is what the step is about.
_BACKS = (
    _back(r"^.*\bchock.*$", "Leave brake and chocks as they are until the run is over", False),
    _back(
        r"^.*\brelease\b.*\bpressure\b.*$|^.*\bpressure\b.*\brelease.*$",
        "Close what was opened to let the pressure off; bleed as the maker states",
        False,
    ),
    _back(r"^take (.+) off\b(.*)$", r"Put \1 back on\2", True),
    _back(r"^(?:take off|take out|remove|unbolt|draw off|draw) (.+)$", r"Refit \1", True),
    _back(r"^drop (.+)$", r"Refit \1", True),
    _back(r"^(?:open|unlatch) (.+)$", r"Close \1", False),
    _back(r"^(?:disconnect|unplug) (.+)$", r"Connect \1 again", False),
)


# Put back by hand, whatever the step is called.
_BY_HAND = re.compile(r"^(press|clip|lay|hook|push|close|connect|leave)\b", re.IGNORECASE)


def said_step(step: AccessStep) -> str:
    """A step as people call it."""
    return step.name or step.id.replace("_", " ").capitalize()


def torque_said(torque: float | None, said: str | None, invented: bool) -> str:
    """A torque and how far it can be trusted; never a figure that nobody stated.

    said: whose figure it is.  invented: the machine comes with leakdx.
    """
    if torque is None:
        return UNKNOWN_TORQUE
    if invented or (said is not None and _INVENTED in said.lower()):
        return (
            f"torque: {torque:g} N·m (value in the machine file, invented: check with the "
            "maker's data)"
        )
    origin = f", from {said}" if said else ""
    return (
        f"torque: {torque:g} N·m (value in the machine file{origin}: check with the maker's data)"
    )


def stripped(machine: Machine, names: frozenset[str]) -> tuple[Step, ...]:
    """Steps to take, each once, each after those it needs.

    What makes the machine safe and lets it cool comes as early as it can.
    """
    by_id = {k.id: k for k in machine.access_steps}
    first = sorted(machine.access_steps, key=lambda k: _rank(machine, k))
    order = in_order(machine.model_copy(update={"access_steps": tuple(first)}), names)
    return tuple(
        Step(n, k, said_step(by_id[k]), by_id[k].minutes, by_id[k].cautions)
        for n, k in enumerate(order, start=1)
    )


_EARLY = (
    MachineState.COOLED,
    MachineState.BATTERY_OFF,
    MachineState.LIFTED,
    MachineState.DRAINED,
)


def _rank(machine: Machine, step: AccessStep) -> int:
    brings = brought_by(machine, [step.id])
    return next((n for n, state in enumerate(_EARLY) if state in brings), len(_EARLY))


def undone(
    machine: Machine, steps: Sequence[Step], off: frozenset[str], invented: bool
) -> tuple[Refit, ...]:
    """The steps backwards, with those that were off before; what was off is under the rest."""
    numbers = {s.id: s.number for s in steps}
    before = [s.id for s in stripped(machine, off)]
    order = [*before, *(s.id for s in steps if s.id not in off)]
    by_id = {k.id: k for k in machine.access_steps}
    return tuple(_undone(machine, [by_id[k] for k in reversed(order)], numbers, invented))


def _undone(
    machine: Machine, steps: Sequence[AccessStep], numbers: dict[str, int], invented: bool
) -> Iterator[Refit]:
    for step in steps:
        found = _words(machine, step)
        if found is None:
            continue
        text, fastened = found
        stated = step.torque_Nm is not None
        torque = torque_said(step.torque_Nm, step.torque_from, invented)
        yield Refit(
            id=step.id,
            undoes=numbers.get(step.id),
            text=text,
            torque=torque if stated or fastened else None,
            one_use=step.one_use,
        )


def _words(machine: Machine, step: AccessStep) -> tuple[str, bool] | None:
    """How a step is undone and whether that fastens anything; None where nothing is to be done."""
    name = said_step(step)
    brings = brought_by(machine, [step.id])
    backs = ((b, b.begins.match(name)) for b in _BACKS)
    way = next(((b, m) for b, m in backs if m is not None), None)
    if step.refit is not None:
        fastened = way is not None and way[0].fastened and not brings
        fastened = fastened and _BY_HAND.match(step.refit) is None
        return step.refit.rstrip("."), fastened
    if MachineState.COOLED in brings:
        return None
    if MachineState.DRAINED in brings:
        return f"Fill to the mark again what was drained ({_small(name)})", False
    if MachineState.BATTERY_OFF in brings:
        return "Connect the battery again: negative on last", False
    if MachineState.LIFTED in brings:
        return "Lower it off its stands, once nobody and nothing is under it", False
    if way is None:
        return f"Undo: {_small(name)}", False
    back, match = way
    return match.expand(back.says) if match.re.groups else back.says, back.fastened


def _small(name: str) -> str:
    """A name within a sentence; one in capitals stays so."""
    return name if name[:2].isupper() else name[:1].lower() + name[1:]
