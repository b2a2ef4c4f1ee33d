"""How much arrives: tables from the flow at one place to the flow at the next.

The flow through a zone (mL/h, averaged over the time since the surface was clean) is
held on a scale of a few levels, each a decade or so wide; level 0 is too little to see.
A table gives, for each level that leaves, the chance of each level that arrives.  The
one leak rate is thereby shared along all steps of a path: a zone far down can run only
if the zones above it run.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.courses import FlowMap
from leakdx.flow.film import Liquid, Wall, film_thickness
from leakdx.machine.model import Machine, Surface
from leakdx.priors.model import LogNormal, Priors

Array = NDArray[np.float64]

LEVELS = 4


def normal_points(n: int) -> Array:
    """Middles of n equally likely slices of a standard normal distribution, shape (n,)."""
    return np.array([NormalDist().inv_cdf((k + 0.5) / n) for k in range(n)])


FLOW_POINTS = (np.arange(8) + 0.5) / 8
APPETITE_POINTS = normal_points(7)
SPLIT_POINTS = normal_points(9)
RATE_POINTS = normal_points(24)


@dataclass(frozen=True, eq=False)
class Scale:
    """Edges between the levels of flow, mL/h: ``edges[k]`` is the least flow of level k+1.

    hours: time since the surface was clean, as points (H,) of its distribution.
    """

    edges: Array
    hours: Array

    @property
    def levels(self) -> int:
        """Number of levels, level 0 included."""
        return len(self.edges) + 1

    def within(self, level: int) -> Array:
        """Flows, mL/h, spread evenly in logarithm over a level above 0, shape (8,)."""
        low = self.edges[level - 1]
        high = (
            self.edges[level] if level < self.levels - 1 else low * self.edges[-1] / self.edges[-2]
        )
        points: Array = low * (high / low) ** FLOW_POINTS
        return points

    def chances(self, flows: Array) -> Array:
        """Share of equally likely flows (last axis) in each level; levels come first."""
        at_least = np.mean(flows[None, ...] >= self.edges.reshape(-1, *[1] * flows.ndim), axis=-1)
        ladder = np.concatenate([np.ones_like(at_least[:1]), at_least, np.zeros_like(at_least[:1])])
        each: Array = ladder[:-1] - ladder[1:]
        return each


def scale_for(hours: float | None, priors: Priors) -> Scale:
    """The levels that matter for a time since clean (hours; None where it is not known).

    The first edge is the flow whose whole volume over that time is just visible, so a
    short run after a wash has its own, coarser, beginning.
    """
    quantity = priors.quantity("flow.hours_since_clean")
    if hours is None:
        spread = np.log(priors["flow.hours_since_clean_factor"])
        times = quantity.value * np.exp(spread * APPETITE_POINTS)
    else:
        times = np.array([max(hours, 1 / 60)])
    middle = float(np.exp(np.mean(np.log(times))))
    first = priors["flow.visible_ml"] / middle
    last = max(priors["flow.drip_ml_h"], 30 * first)
    return Scale(np.geomspace(first, last, LEVELS - 1), times)


@dataclass(frozen=True, eq=False)
class Zones:
    """What each zone takes up before it passes anything on.

    at_once_ml: (Z,) fluid that stays behind; per_hour_ml: (Z,) fluid lost for good.
    """

    at_once_ml: Array
    per_hour_ml: Array

    def appetite(self, hours: float) -> Array:
        """Average flow that a zone keeps for itself over a time, mL/h, shape (Z,)."""
        return self.at_once_ml / hours + self.per_hour_ml


def zones_for(machine: Machine, flow: FlowMap, liquid: Liquid, priors: Priors) -> Zones:
    """Hold-up and losses of every zone for a liquid.

    The wetted strip is a rivulet's width times the way across the zone; its thickness is
    that of a Nusselt film (Bird, Stewart & Lightfoot, section 2.2) that carries a flow
    typical of leaks down a slope like the zone's.
    """
    width = priors["flow.rivulet_mm"]
    rough = np.array([priors[f"flow.roughness.{z.surface.value}"] for z in machine.zones])
    flow_kg_m_s = priors["flow.typical_flow_ml_h"] * 1e-6 / 3600 * liquid.density_kg_m3
    flow_kg_m_s /= width / 1000
    slopes = np.maximum(priors["flow.least_slope"], flow.steepness)
    thick_mm = np.array([_film_mm(liquid, flow_kg_m_s, float(s)) for s in slopes])
    strip = flow.track_mm * width * rough
    holds = np.array([z.holds_ml for z in machine.zones])
    soaked = np.array([z.surface is Surface.INSULATION for z in machine.zones])
    return Zones(
        at_once_ml=strip * thick_mm / 1000 + holds + soaked * priors["flow.soaked_ml"],
        per_hour_ml=strip * priors["flow.loss_ml_h_mm2"],
    )


def _film_mm(liquid: Liquid, flow_kg_m_s: float, slope: float) -> float:
    angle = float(np.degrees(np.arcsin(min(slope, 1.0))))
    return 1000 * film_thickness(liquid, flow_kg_m_s, Wall(slope_deg=angle))


def leak_levels(share: float, scale: Scale, priors: Priors, strength: float = 1.0) -> Array:
    """P(level | leak class) on a zone that takes ``share`` of a leak, shape (levels, 4).

    Classes: tight, seeping, drops, dripping (the last three are the leak classes of US
    Army technical manuals), each with its own log-normal distribution of rates, which
    ``strength`` multiplies.
    """
    part = _splits(share, priors)
    table = np.zeros((scale.levels, 4))
    table[0, 0] = 1.0
    for column, name in enumerate(("seeping", "drops", "dripping"), start=1):
        rate = priors.quantity(f"leak_rates.{name}.rate").distribution
        if not isinstance(rate, LogNormal):
            raise TypeError(f"leak_rates.{name}.rate needs a lognormal distribution")
        rates = strength * rate.median * np.exp(rate.sigma * RATE_POINTS)
        table[:, column] = scale.chances((rates[:, None] * part[None, :]).ravel())
    return table


def zone_levels(share: float, appetite_ml_h: Array, scale: Scale, priors: Priors) -> Array:
    """P(level arriving | level at the source), shape (levels, levels).

    appetite_ml_h: (H,) what the source keeps, for each of the scale's times.
    """
    factor = np.exp(np.log(priors["flow.appetite_factor"]) * APPETITE_POINTS)
    keeps = (appetite_ml_h[:, None] * factor[None, :]).ravel()
    part = _splits(share, priors)
    table = np.zeros((scale.levels, scale.levels))
    table[0, 0] = 1.0
    for level in range(1, scale.levels):
        left = np.maximum(0.0, scale.within(level)[:, None] - keeps[None, :])
        table[:, level] = scale.chances((left.ravel()[:, None] * part[None, :]).ravel())
    return table


def _splits(share: float, priors: Priors) -> Array:
    """Equally likely parts of a flow that take a way of that expected share.

    Rivulets do not divide evenly: the logit of the part is normal about the share, and
    now and then a stream misses the way altogether.
    """
    if share >= 1 - 1e-9:
        return np.ones(len(SPLIT_POINTS))
    middle = np.log(share / (1 - share))
    parts = 1 / (1 + np.exp(-(middle + priors["flow.split_spread"] * SPLIT_POINTS)))
    missing = round(priors["flow.miss_share"] * (1 - share) * len(parts))
    parts[:missing] = 0.0
    return np.asarray(parts)
