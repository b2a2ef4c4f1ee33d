"""Other plausible values of the prior numbers: drawn from the distributions they state.

Each number is drawn by itself, as if what is known of one said nothing of another; no file
says how they hang together.  Draws come by the inverse of the distribution, and are kept to
where the number means something:

- a chance stays off 0 and 1 by 1e-9, so that what may happen stays possible;
- a "neighbouring state named instead" (step_off) stays below a half, old residue on a zone
  below certainty, the spread of a count above nothing;
- a fluid is no thicker at 100 than at 40 degrees C: where two draws say so, the warmer value
  is brought to 0.95 of the colder.

Not drawn are the few numbers whose distribution is no doubt about the number, but how much
one leak or job differs from the next (``SPREADS``): the tables are averaged over that already.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtri

from leakdx.priors.model import Beta, Fixed, LogNormal, Priors, Quantity

Array = NDArray[np.float64]

OFF_CERTAIN = 1e-9
# Lowest and highest value that the formulas bear, by key; for any other number its family's.
DOMAINS: Mapping[str, tuple[float, float]] = {
    "detection.step_off": (OFF_CERTAIN, 0.49),
    "detection.seal.step_off": (OFF_CERTAIN, 0.49),
    "detection.grime": (OFF_CERTAIN, 0.7),
    "detection.grime_run": (OFF_CERTAIN, 0.25),
    "detection.grime_after_repair": (OFF_CERTAIN, 0.7),
    "detection.count_factor": (1.1, np.inf),
}
# How leaks and jobs differ among themselves; see carry.leak_levels and carry.scale_for.
SPREADS = frozenset(
    {
        "leak_rates.seeping.rate",
        "leak_rates.drops.rate",
        "leak_rates.dripping.rate",
        "flow.hours_since_clean",
    }
)
THINNER = 0.95


def doubted(priors: Priors, key: str) -> bool:
    """Whether the value of that number is in doubt at all."""
    return key not in SPREADS and not isinstance(priors.quantity(key).distribution, Fixed)


def quantiles(quantity: Quantity, levels: Array) -> Array:
    """Values below which the number lies with the chances ``levels``, of their shape.

    A fixed number has one value.
    """
    found: Array
    d = quantity.distribution
    if isinstance(d, Fixed):
        found = np.full(np.shape(levels), quantity.value)
    elif isinstance(d, Beta):
        found = betaincinv(d.a, d.b, levels)
    elif isinstance(d, LogNormal):
        found = d.median * np.exp(d.sigma * ndtri(levels))
    else:
        found = d.mean + d.sd * ndtri(levels)
    return found


def at_level(priors: Priors, key: str, level: float) -> float:
    """The value below which a number lies with the chance ``level``, within its domain."""
    value = _within_domain(priors, key, quantiles(priors.quantity(key), np.array([level])))
    return float(_warmer_thinner(priors, {key: value})[key][0])


def _within_domain(priors: Priors, key: str, values: Array) -> Array:
    """The values kept to where the number means something."""
    family = priors.quantity(key).distribution
    chance = (OFF_CERTAIN, 1 - OFF_CERTAIN) if isinstance(family, Beta) else (-np.inf, np.inf)
    return np.clip(values, *DOMAINS.get(key, chance))


def drawn(
    priors: Priors, keys: Sequence[str], count: int, random: np.random.Generator
) -> dict[str, Array]:
    """``count`` values of each number, shape (count,), by Latin hypercube.

    Each number's range is cut into ``count`` slices of one chance, and each slice is drawn
    from once, in an order of its own: few draws then cover each number's range.  What is in
    no doubt keeps its value.  Source: McKay, Beckman & Conover, Technometrics 21, 1979.
    """
    found: dict[str, Array] = {}
    for key in keys:
        levels = (random.permutation(count) + random.random(count)) / count
        if doubted(priors, key):
            found[key] = _within_domain(priors, key, quantiles(priors.quantity(key), levels))
        else:
            found[key] = np.full(count, priors[key])
    return _warmer_thinner(priors, found)


def _warmer_thinner(priors: Priors, values: Mapping[str, Array]) -> dict[str, Array]:
    """No fluid thicker at 100 than at 40 degrees C, whichever of the two is drawn."""
    kept = dict(values)
    for key in values:
        stem, _, at = key.rpartition(".")
        cold, warm = f"{stem}.viscosity_40C", f"{stem}.viscosity_100C"
        if at == "viscosity_100C":
            kept[key] = np.minimum(values[key], THINNER * values.get(cold, priors[cold]))
        elif at == "viscosity_40C" and warm not in values:
            kept[key] = np.maximum(values[key], priors[warm] / THINNER)
    return kept


def with_values(priors: Priors, values: Mapping[str, float]) -> Priors:
    """The priors with other values for some numbers; each keeps its distribution's words.

    Raises UnknownNumber for a number that no prior file holds.
    """
    changed = {k: priors.quantity(k).model_copy(update={"value": v}) for k, v in values.items()}
    return replace(priors, numbers={**priors.numbers, **changed})


@dataclass(frozen=True)
class ManyPriors(Priors):
    """Priors of many draws at once: a number in ``values`` is an array (B,), one a draw.

    What is made of such numbers by arithmetic comes out with the draws as last axis; see
    network.odds and network.looks.
    """

    values: Mapping[str, Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        # A number is never changed in place, and no more is an array of draws.
        kept = {key: np.array(v, dtype=np.float64) for key, v in self.values.items()}
        for array in kept.values():
            array.setflags(write=False)
        object.__setattr__(self, "values", kept)

    def __getitem__(self, key: str) -> Any:
        """The value of that number, or its values (B,); UnknownNumber if there is none."""
        return self.values[key] if key in self.values else super().__getitem__(key)


@dataclass(frozen=True)
class TracedPriors(Priors):
    """Priors that note which numbers were asked for."""

    asked: set[str] = field(default_factory=set)

    def quantity(self, key: str) -> Quantity:
        """The number; it is noted."""
        self.asked.add(key)
        return super().quantity(key)
