"""What renewing costs on one job: minutes of labour, from the job's own prices or from priors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import inf

from leakdx.advice.renewal import Labour, steps_behind
from leakdx.case.model import Costs, Job
from leakdx.machine.model import Machine, SealPoint
from leakdx.priors.model import Priors


def labour_of(machine: Machine, off: frozenset[str], job: Job, priors: Priors) -> Labour:
    """What renewing costs, minutes of labour.  ``off``: access steps that are off already.

    Every stretch of a gasket bears the time and the part of the whole gasket; ``whole_gaskets``
    counts them once.
    """
    share = priors["costs.refit_share"]
    prices = _Prices(machine, job.costs, priors)
    return Labour(
        renew={s.id: prices.renewing(s) for s in machine.seal_points},
        # What is off has to be refitted whatever is renewed, nothing included.  It is the same
        # in every choice, so it is no cost of any: no seal point needs such a step.  What is
        # left to do on it stands here for whoever adds up the whole visit.
        steps={
            k.id: k.minutes * (share if k.id in off else 1 + share) for k in machine.access_steps
        },
        needs={s.id: steps_behind(machine, s.access) - off for s in machine.seal_points},
        comeback=prices.comeback,
    )


def whole_gaskets(machine: Machine, labour: Labour) -> Labour:
    """The same, with a gasket of several stretches renewed and paid for once.

    The gasket itself becomes a step that each of its stretches needs.  Its name has a space,
    as no access step has.
    """
    gaskets = {s.id: f"{s.part_of} renewed" for s in machine.seal_points if s.part_of}
    steps = dict(labour.steps)
    for seal, name in gaskets.items():
        steps[name] = max(steps.get(name, 0.0), labour.renew[seal])
    return Labour(
        renew={s: 0.0 if s in gaskets else minutes for s, minutes in labour.renew.items()},
        steps=steps,
        needs={s: n | {gaskets[s]} if s in gaskets else n for s, n in labour.needs.items()},
        comeback=labour.comeback,
    )


def money(minutes: float, job: Job) -> str:
    """Minutes for people, at least 0: "1 h 45 min", and where prices are known "about 120 EUR"."""
    if not 0 <= minutes < inf:
        raise ValueError(f"a time must be at least 0 minutes, is {minutes:g}")
    if job.costs is None or minutes == 0:
        return _time(minutes)
    amount = minutes * job.costs.labour_per_hour / 60
    # Two digits: nothing here is known better.
    return f"{_time(minutes)}, about {Decimal(f'{amount:.1e}'):f} {job.costs.currency}"


def _time(minutes: float) -> str:
    """In minutes below an hour, then in steps of five, from ten hours on in hours."""
    if 0 < minutes < 1:
        return "under 1 min"
    step = 1 if minutes < 60 else 5 if minutes < 600 else 60
    hours, rest = divmod(step * round(minutes / step), 60)
    parts = [f"{hours} h"] if hours else []
    if rest or not hours:
        parts.append(f"{rest} min")
    return " ".join(parts)


@dataclass(frozen=True)
class _Prices:
    """The job's prices, and the priors where it gives none."""

    machine: Machine
    costs: Costs | None
    priors: Priors

    @property
    def comeback(self) -> float:
        if self.costs is None:
            return self.priors["costs.comeback_minutes"]
        return _minutes(self.costs.comeback, self.costs)

    def renewing(self, seal: SealPoint) -> float:
        return self.priors[f"costs.renew_minutes.{seal.kind.value}"] + self._part(seal)

    def _part(self, seal: SealPoint) -> float:
        if self.costs is not None:
            given = self._given(seal, self.costs.parts)
            price = self.costs.part if given is None else given
            if price is not None:
                return _minutes(price, self.costs)
        return self.priors[f"costs.part_minutes.{seal.kind.value}"]

    def _given(self, seal: SealPoint, parts: Mapping[str, float]) -> float | None:
        """The price written for this seal point, or for another stretch of its gasket."""
        if seal.id in parts or seal.part_of is None:
            return parts.get(seal.id)
        stretches = [s.id for s in self.machine.seal_points if s.part_of == seal.part_of]
        return max((parts[s] for s in stretches if s in parts), default=None)


def _minutes(amount: float, costs: Costs) -> float:
    """Money as the minutes of labour it would pay for."""
    return 60 * amount / costs.labour_per_hour
