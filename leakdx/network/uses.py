"""What parking, idling or driving does to a leak: how fast it runs and how it looks up close.

Whether a seal point is at fault does not depend on it; how much comes out does.
"""

from __future__ import annotations

import numpy as np

from leakdx.flow.carry import Scale, leak_levels
from leakdx.machine.model import Drive, SealPoint
from leakdx.network.odds import CLASSES
from leakdx.network.setting import Epoch, Use
from leakdx.network.tables import Array
from leakdx.priors.model import Priors


def rate_factor(drive: Drive, epoch: Epoch, priors: Priors) -> float:
    """What the uses of an epoch multiply the rate of a leak by, averaged over its time.

    1 for time whose use is not stated: the rates of the classes are themselves averages.
    """
    return sum(
        share * (1.0 if use is None else priors[f"leak_rates.use.{use.value}.{drive.value}"])
        for use, share in epoch.shares.items()
    )


def seldom(table: Array, priors: Priors) -> Array:
    """A table of what a leak shows, (shown, 4), for one that runs from a case into another."""
    shows = priors["leak_rates.shows_outside"]
    nothing = np.zeros_like(table)
    nothing[0] = 1.0
    return np.asarray(shows * table + (1 - shows) * nothing)


def airflow(use: Use | None, priors: Priors) -> float:
    """Air that meets a machine in some use where it is not stated, m/s."""
    if use is None or use is Use.PARKED:
        return 0.0
    return priors[f"flow.airflow.{use.value}"]


def close_looks(seal: SealPoint, epoch: Epoch, scale: Scale, priors: Priors) -> Array:
    """P(look | leak class) of a seal point seen from close by, shape (4, 4).

    A leak looks as its class says, unless its use keeps it from running: then it looks a
    class or more lower, and tight where less came out than can be seen.
    """
    factor = rate_factor(seal.drive, epoch, priors)
    looks = np.eye(4)
    if factor >= 1:
        return looks
    rates = [priors[f"leak_rates.{c}.rate"] for c in CLASSES]
    decades = np.log(rates[-1] / rates[0]) / (len(rates) - 1)
    down = -np.log(factor) / decades
    usual, now = (leak_levels(1.0, scale, priors, f)[0] for f in (1.0, factor))
    for leak in (1, 2, 3):
        # Between two classes by how far it has come down; a stain stays as long as it is seen.
        place = max(leak - down, 1.0)
        lower, part = int(place), place - int(place)
        seen = np.zeros(4)
        seen[lower] = 1 - part
        seen[min(lower + 1, 3)] += part
        dry = max(float(now[leak] - usual[leak]), 0.0)
        looks[:, leak] = (1 - dry) * seen
        looks[0, leak] += dry
    return looks
