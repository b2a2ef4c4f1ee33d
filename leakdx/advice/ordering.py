"""What a look costs the looks after it: what it spoils, and what it makes dearer.

A look at a hot machine makes those dear that want it cold again: it has to stand overnight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from leakdx.advice.looks import Look, Standing, look_from, spoilt_by, standing_after
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors

# Less than this is not worth a word, minutes.
WORD_MIN = 5.0


@dataclass(frozen=True)
class After:
    """spoils: looks that cannot be taken as they are after it.  delays: looks worth taking that
    take over five minutes more after it.  loss: minutes that what can be learnt by the looks
    after it is worth less, at most."""

    spoils: tuple[str, ...]
    delays: tuple[str, ...]
    loss: float


@dataclass(frozen=True)
class Order:
    """A machine as it stands, and the minutes its looks save by themselves, by id."""

    machine: Machine
    now: Standing
    priors: Priors
    gains: Mapping[str, float]

    def after(self, look: Look, others: Sequence[Look]) -> After:
        """What one look costs the others.

        One of them is taken next, so the dearest loss counts, not all together; none is worth
        more than its gain.
        """
        others = [o for o in others if o.inspection.id != look.inspection.id]
        spoils = spoilt_by(look, others)
        loss = max((self.gains[s] for s in spoils), default=0.0)
        delays = []
        then = standing_after(self.machine, look.inspection, self.now)
        for other in others:
            name, gain = other.inspection.id, self.gains[other.inspection.id]
            if gain <= 0 or name in spoils:
                continue
            more = look_from(self.machine, other.inspection, then, self.priors).minutes
            more -= other.minutes
            loss = max(loss, min(more, gain))
            if more > WORD_MIN:
                delays.append(name)
        return After(spoils, tuple(delays), max(loss, 0.0))
