"""What draws fluid over the machine's surfaces, and over which edges it runs.

Gravity and air pull along each patch; what leaves it takes the edges that the pull points
at, or falls off where there is no patch to run on to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdx.flow.attitude import REARWARD, Attitude
from leakdx.flow.surfaces import SharedEdge, Surfaces
from leakdx.priors.model import Priors

Array = NDArray[np.float64]

AIR_DENSITY = 1.2  # kg/m3, ISO 2533 standard atmosphere at sea level, rounded
GRAVITY = 9.80665  # m/s2, ISO 80000-3 standard value
OIL_DENSITY = 870.0  # kg/m3, only for the ratio of airflow drag to weight


@dataclass(frozen=True, eq=False)
class Pull:
    """What draws fluid along: gravity and air, unit of gravity, and each zone's coefficients."""

    down: Array
    along: Array  # (Z, 3) pull within each patch
    air: Array  # (Z, 3) air's part of it


def exposure(stated: float | None, priors: Priors) -> float:
    """Share of the free airflow that sweeps a zone; the usual one where it is not stated."""
    return priors["flow.airflow_exposure"] if stated is None else stated


def pull_on(s: Surfaces, attitude: Attitude, air_m_s: Array, priors: Priors) -> Pull:
    """Gravity along each patch, and the drag of the air on the film beside it.

    The drag is rho_air c_f U^2 / 2 against the film's weight rho g delta per area.
    """
    film_m = priors["flow.film_mm"] / 1000
    drag = AIR_DENSITY * priors["flow.air_friction"] * air_m_s**2 / 2
    ratio = drag / (OIL_DENSITY * GRAVITY * film_m)
    air = np.minimum(ratio, priors["flow.airflow_limit"])[:, None] * REARWARD
    return Pull(attitude.down, within(s, attitude.down[None, :] + air), air)


def within(s: Surfaces, vectors: Array) -> Array:
    """The part of each vector that lies in its patch; a lump lets fluid go round it."""
    flat = (1 - s.lump)[:, None]
    inside: Array = vectors - flat * np.sum(vectors * s.normal, axis=1)[:, None] * s.normal
    return inside


def run_shares(
    s: Surfaces, edges: Iterable[SharedEdge], pull: Pull, priors: Priors
) -> tuple[dict[tuple[int, int], float], Array]:
    """Share of each zone's outflow over each shared edge, and the share that falls off, (Z,).

    A hollow with no way out has neither: what runs in stays.
    """
    spread, corner = priors["flow.sideways_spread"], priors["flow.corner_drip"]
    facing = np.sum(s.normal * pull.down, axis=1)
    run: dict[tuple[int, int], float] = {}
    downhill, shared, falls = np.zeros(s.count), np.zeros(s.count), np.zeros(s.count)
    for e in edges:
        for a, b in ((e.first, e.second), (e.second, e.first)):
            shared[a] += e.length_mm
            strength = _over_edge(s, a, b, np.array(e.middle), pull)
            if strength is None:
                continue
            # Straight down the pull counts fully; sideways and level, a little by spreading.
            w = e.length_mm * spread * float(np.logaddexp(0.0, strength / spread))
            downhill[a] += e.length_mm * max(strength, 0.0)
            # Part of a stream lets go at an edge with an underside behind it.
            drips = w * corner * max(0.0, facing[b]) * (1 - max(0.0, facing[a]))
            falls[a] += drips
            run[a, b] = run.get((a, b), 0.0) + w - drips
    falls += np.maximum(0.0, _lower_edge(s, pull) - downhill)
    free = np.maximum(0.0, 4 * s.half.sum(axis=1) - shared)
    falls += spread * np.log(2) * free * np.maximum(0.0, -facing)
    out = np.zeros(s.count)
    for (a, _), w in run.items():
        out[a] += w
    total = np.where(out + falls > 0, out + falls, 1.0)
    # Fluid hanging under a patch lets go before it reaches the edge.
    hanging = np.clip(facing, 0.0, 1.0) * priors["flow.underside_drip"]
    kept = {(a, b): w / total[a] * (1 - hanging[a]) for (a, b), w in run.items()}
    stuck = np.where((out + falls <= 0) & (facing > 0), 1.0, 0.0)
    fall: Array = (falls / total + stuck) * (1 - hanging) + hanging
    return kept, np.minimum(fall, 1.0)


def _over_edge(s: Surfaces, a: int, b: int, middle: Array, pull: Pull) -> float | None:
    """How straight the pull on ``a`` points at its edge with ``b``; None if ``b`` is uphill."""
    way = middle - s.centre[a]
    way = way - (1 - s.lump[a]) * (way @ s.normal[a]) * s.normal[a]
    length = np.linalg.norm(way)
    strength = float(pull.along[a] @ way / length) if length > 1e-9 else 0.0
    drop = float((s.centre[b] - s.centre[a]) @ pull.down)
    gap = float(np.linalg.norm(s.centre[b] - s.centre[a])) or 1.0
    blown = float(pull.air[a] @ (s.centre[b] - s.centre[a])) / gap
    # A neighbour that stands higher is reached only if the air drives the film there.
    if drop / gap + blown < -0.1:
        return None
    return strength


def _lower_edge(s: Surfaces, pull: Pull) -> Array:
    """Length of edge, mm, through which the pull drives fluid out of each patch."""
    across = np.abs(np.einsum("zkc,zc->zk", s.axes, pull.along))
    length: Array = 2 * (s.half[:, 0] * across[:, 1] + s.half[:, 1] * across[:, 0])
    return length


def track(s: Surfaces, pull: Pull) -> Array:
    """Length of the way across each patch along the pull, mm."""
    across = np.abs(np.einsum("zkc,zc->zk", s.axes, pull.along))
    size = np.linalg.norm(across, axis=1)
    unit = np.where(size[:, None] > 0.05, across / np.maximum(size, 1e-9)[:, None], np.sqrt(0.5))
    length: Array = 2 * np.sum(s.half * unit, axis=1)
    return length
