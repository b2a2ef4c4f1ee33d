"""The plain words of a drawing."""

from __future__ import annotations

import numpy as np

from leakdx.drawing.seeing import Side, page, toward
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Way, Wind
from leakdx.machine.model import Fluid, SealPoint, Zone

TITLES = {
    Side.LEFT: "Seen from the left",
    Side.RIGHT: "Seen from the right",
    Side.FRONT: "Seen from the front",
    Side.REAR: "Seen from the rear",
    Side.TOP: "Seen from above",
    Side.BELOW: "Seen from below",
}

WAYS = {
    Way.RUN: "runs over the edge",
    Way.DRIP: "drips",
    Way.CARRY: "is carried by the air",
    Way.FLING: "is flung off",
    Way.WICK: "is wicked along",
}


def name_of(thing: Zone | SealPoint | Fluid) -> str:
    """What a person calls it; its id where it has no name."""
    return thing.name or thing.id.replace("_", " ")


def percent(part: float) -> str:
    """A part as a whole number of hundredths, never a false 0 or 100."""
    if part < 0.005:
        return "< 1 %"
    if 0.995 <= part < 1 - 1e-9:
        return "> 99 %"
    return f"{100 * part:.0f} %"


def stands(wind: Wind) -> str:
    """How the machine stands, and the air, as a sentence."""
    pitch, roll = wind.attitude.pitch_deg, wind.attitude.roll_deg
    said = []
    if pitch:
        said.append(f"nose {'up' if pitch > 0 else 'down'} {abs(pitch):g} degrees")
    if roll:
        said.append(f"{'left' if roll > 0 else 'right'} side up {abs(roll):g} degrees")
    attitude = " and ".join(said) or "level"
    air = f"air from the front at {wind.airflow_m_s:g} m/s" if wind.airflow_m_s else "air still"
    return f"Standing {attitude}, {air}."


def across_on(side: Side) -> tuple[str, int]:
    """What of the machine lies to one side of a view, and whether to the right (1) or left (-1)."""
    right = page(side)[0]
    axis = int(np.argmax(np.abs(right)))
    return ("front", "left side")[axis], int(np.sign(right[axis]))


def down_on(side: Side, attitude: Attitude) -> tuple[float, float] | str:
    """Where down points in a view (right, up), or in words where it is along the sight."""
    x, y = (float(v) for v in page(side) @ attitude.down)
    if np.hypot(x, y) > 0.5:
        return x / float(np.hypot(x, y)), y / float(np.hypot(x, y))
    away = float(attitude.down @ toward(side)) < 0
    return "down is away from you" if away else "down is toward you"
