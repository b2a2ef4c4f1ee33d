"""What the network is built for: a machine, its joints' histories, and the epochs of a job.

An epoch is the time between two washes.  The seals stay the same from one epoch to the
next unless they are renewed; then a new generation of that seal point begins.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Wind
from leakdx.machine.model import Machine, SignKind
from leakdx.network.refit import Check

LEAK_STATES = ("tight", "seeping", "drops", "dripping")
OTHER_STATES = ("none", "spilled", "unlisted")
DRY_WET = ("dry", "wet")


class Use(StrEnum):
    """What a machine does while its fluid spreads."""

    PARKED = "parked"
    IDLED = "idled"
    DRIVEN = "driven"


@dataclass(frozen=True)
class Epoch:
    """One surface, from a wash (or from long ago) to the next wash.

    hours: time run since clean, None where unknown.  spent: hours in each use, None being a
    use that is not stated; before any, the use to come with 0 hours.  active: for each seal
    point, the generations that leaked in this epoch; a seal point not named has generation 0.
    spilled: fluids (None where not known) that were spilled, each with its zone.
    """

    attitude: Attitude = Attitude()
    airflow_m_s: float = 0.0
    temperature_C: float | None = None
    hours: float | None = None
    spent: Mapping[Use | None, float] = field(default_factory=dict)
    active: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    spilled: frozenset[tuple[str | None, str]] = frozenset()

    @property
    def shares(self) -> dict[Use | None, float]:
        """Share of the time in each use; the shares sum to one."""
        total = sum(self.spent.values())
        if total > 0:
            return {use: hours / total for use, hours in self.spent.items() if hours > 0}
        return {use: 1 / len(self.spent) for use in self.spent} or {None: 1.0}

    @property
    def wind(self) -> Wind:
        """How it stands, the air that meets it, and whether anything in it turns.

        What was parked all the time had neither; a longer stand after a run takes nothing
        from what the run blew and flung.
        """
        turning = set(self.shares) != {Use.PARKED}
        return Wind(self.attitude, self.airflow_m_s if turning else 0.0, turning)


@dataclass(frozen=True)
class SignAsked:
    """A whole-machine sign that was read, for one fluid, in one epoch."""

    kind: SignKind
    fluid: str
    epoch: int


@dataclass(frozen=True)
class Setting:
    """All that shapes the network of one job.

    detail: how many of the flow's courses are followed, an index of flow.courses.DETAILS.
    odds: for each seal point, what multiplies the odds of a leak in each generation
    (job context only; age, heat and kind are the machine's).  mixed: zones (with the
    epoch) read without knowing which fluid it was.  read: zones (with the epoch) that
    were read.  whole: build every zone; otherwise only those that bear on a reading, which
    changes nothing for the seal points.  A zone that only collects (a tray, a lowest
    underside) is built only where it was read.  wetted:
    fluids (with the zone) that were seen where no seal point of theirs leads.  looked:
    seal points looked at closely, with the epoch.  signs: those that were read.  seen:
    causes that were seen at work on a seal point, each with it; its odds hold that already.
    Of a generation of a seal point (its number from 0): lasting: it is the former one, only
    disturbed by work nearby; stays: chance that a leak of the former one goes on in it, where
    the same part was put back; disturbed: chance that work nearby made it leak that was tight.
    checked: what was checked at a seal point's last renewal.  fresh: seal points with a new
    part in them.
    """

    machine: Machine
    epochs: tuple[Epoch, ...] = (Epoch(),)
    detail: int = 0
    odds: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    mixed: frozenset[tuple[int, str]] = frozenset()
    read: frozenset[tuple[int, str]] = frozenset()
    whole: bool = True
    wetted: frozenset[tuple[str, str]] = frozenset()
    looked: frozenset[tuple[int, str]] = frozenset()
    signs: frozenset[SignAsked] = frozenset()
    seen: frozenset[tuple[str, str]] = frozenset()
    lasting: frozenset[tuple[str, int]] = frozenset()
    stays: Mapping[tuple[str, int], float] = field(default_factory=dict)
    disturbed: Mapping[tuple[str, int], float] = field(default_factory=dict)
    checked: Mapping[str, frozenset[Check]] = field(default_factory=dict)
    fresh: frozenset[str] = frozenset()


def seal_name(seal: str, generation: int = 0) -> str:
    """Variable of a seal point's leak class; the first generation has no number."""
    return f"seal__{seal}" + (f"__{generation}" if generation else "")


def flow_name(fluid: str, zone: str, epoch: int = 0) -> str:
    """Variable of the flow of a fluid through a zone in an epoch."""
    return f"flow__{fluid}__{zone}__e{epoch}"


def other_name(fluid: str, zone: str, epoch: int = 0) -> str:
    """Variable of an origin at a zone that is no listed seal point."""
    return f"other__{fluid}__{zone}__e{epoch}"


def mixed_name(zone: str, epoch: int) -> str:
    """Variable of how much of any fluid runs through a zone."""
    return f"any__{zone}__e{epoch}"


def look_name(seal: str, epoch: int) -> str:
    """Variable of how a seal point looks from close by."""
    return f"look__{seal}__e{epoch}"


def sign_name(sign: SignAsked) -> str:
    """Variable of a whole-machine sign."""
    return f"sign__{sign.kind.value}__{sign.fluid}__e{sign.epoch}"


def cause_name(cause: str) -> str:
    """Variable of a shared cause."""
    return f"cause__{cause}"
