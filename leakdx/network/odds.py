"""How likely a seal point is to leak before anything wet is looked at.

Base rate of its kind, times what its fluid, drive, age, heat and access do to the odds.

Priors of many draws at once (``priors.drawing.ManyPriors``) give arrays of so many draws where
a number is said to come back; in a table they are the last axis.
"""

from __future__ import annotations

import math

import numpy as np

from leakdx.machine.model import Fluid, Machine, SealPoint
from leakdx.network.tables import Array
from leakdx.network.wear import RATED_F, rated_temperature, temperature_factor
from leakdx.priors.model import Priors

CLASSES = ("seeping", "drops", "dripping")


def odds_of(chance: float) -> float:
    """Odds of a chance below one."""
    return chance / (1 - chance)


def decibans(chance: float) -> float:
    """Ten times the base-10 logarithm of the odds, dB; chances of 0 and 1 stop at 120 dB.

    13 decibans are odds of about 20 to 1, 4 decibans 5 to 2.  Source: General Report on
    Tunny, 1945; Good, "Probability and the Weighing of Evidence", 1950.
    """
    within = min(max(chance, 1e-12), 1 - 1e-12)
    return 10 * math.log10(odds_of(within))


def base_odds(seal: SealPoint, fluid: Fluid, priors: Priors) -> float:
    """Odds that a seal point leaks, on a machine that is in for a leak; no unit."""
    odds = odds_of(priors[f"base_rates.{seal.kind.value}"])
    odds *= priors[f"modifiers.fluid.{fluid.kind.value}"]
    odds *= priors[f"modifiers.drive.{seal.drive.value}"]
    odds *= age_factor(seal, priors) * heat_factor(seal, priors)
    if seal.tight_access:
        odds *= priors["modifiers.tight_access"]
    return odds


def crowding(machine: Machine, priors: Priors) -> float:
    """What the length of a machine's list does to the odds of each seal point on it.

    A machine that is in for a leak has a few leaks, whether its file tells thirty joints
    apart or ninety: where the base chances add up to more, all odds are lowered alike.
    """
    fluids = {f.id: f for f in machine.fluids}
    odds = [base_odds(s, fluids[s.fluid], priors) for s in machine.seal_points]
    together = sum(o / (1 + o) for o in odds)
    # No odds at all leave nothing to lower.
    lowered: float = np.minimum(1.0, priors["base_rates.at_once"] / np.maximum(together, 1e-300))
    return lowered


def age_factor(seal: SealPoint, priors: Priors) -> float:
    """What a seal point's age does to its odds; 1 where the age is not known."""
    if seal.service.age_years is None:
        return 1.0
    beyond = seal.service.age_years - priors["modifiers.age.typical_years"]
    # Far beyond any bound below; kept from overflowing.
    factor = 2 ** np.minimum(beyond / priors["modifiers.age.doubling_years"], 100.0)
    kept: float = np.clip(factor, priors["modifiers.age.least"], priors["modifiers.age.most"])
    return kept


def heat_factor(seal: SealPoint, priors: Priors) -> float:
    """What heat does to an elastomer's odds, beside the temperature of the base rates.

    Source: factor C_T of the NSWC handbook (network/wear.py), taken to a power below one
    because it is stated for seal life in the laboratory.
    """
    material = seal.material.value if seal.material else ""
    if seal.temperature_C is None or material not in RATED_F:
        return 1.0
    rated = rated_temperature(material)
    here = temperature_factor(seal.temperature_C, rated)
    usual = temperature_factor(priors["modifiers.heat.reference_C"], rated)
    factor = (here / usual) ** priors["modifiers.heat.exponent"]
    kept: float = np.clip(factor, priors["modifiers.heat.least"], priors["modifiers.heat.most"])
    return kept


def class_shares(priors: Priors) -> Array:
    """Share of leaks in each class (seeping, drops, dripping), shape (3,), sums to one."""
    shares = np.array([priors[f"leak_rates.{c}.share"] for c in CLASSES])
    return np.asarray(shares / shares.sum(axis=0))


def leak_column(odds: float | Array, priors: Priors) -> Array:
    """Chance of tight, seeping, drops, dripping at some odds, shape (4, ...) of the odds."""
    chance = np.asarray(odds / (1 + odds))
    shares = class_shares(priors)
    # Between the classes and the draws, if any, lie the axes of the odds.
    between = chance.ndim - (shares.ndim - 1)
    lie = shares.reshape(len(CLASSES), *[1] * between, *shares.shape[1:])
    return np.concatenate([(1 - chance)[None], chance * lie])
