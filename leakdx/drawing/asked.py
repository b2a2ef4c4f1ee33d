"""What the command was asked to draw, looked up in the machine."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leakdx.drawing.scene import Followed, Scene
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose, listed, plain
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Wind, flow_map
from leakdx.flow.trail import trail
from leakdx.machine.model import Machine
from leakdx.priors.model import Priors


@dataclass(frozen=True)
class Asked:
    """How the machine stands, by the name of a stand or in degrees, and the leak to follow.

    Degrees that are given go before those of the stand.
    """

    stand: str | None = None
    pitch_deg: float | None = None
    roll_deg: float | None = None
    airflow_m_s: float = 0.0
    seal_point: str | None = None


def scene_of(machine: Machine, asked: Asked, priors: Priors) -> Scene:
    """The machine as it is to be drawn.

    Raises:
        FaultyInput: with all that is wrong with what was asked.
    """
    faults = [*_stand_faults(machine, asked), *_number_faults(asked), *_seal_faults(machine, asked)]
    if faults:
        raise FaultyInput(faults)
    stand = next((s for s in machine.stands if s.id == asked.stand), None)
    pitch, roll = (stand.pitch_deg, stand.roll_deg) if stand else (0.0, 0.0)
    if asked.pitch_deg is not None:
        pitch = asked.pitch_deg
    if asked.roll_deg is not None:
        roll = asked.roll_deg
    wind = Wind(Attitude(pitch, roll), asked.airflow_m_s)
    flow = flow_map(machine, wind, priors)
    seal = next((s for s in machine.seal_points if s.id == asked.seal_point), None)
    followed = None if seal is None else Followed(seal, trail(seal, flow, priors))
    return Scene(machine, wind, flow, followed)


def _stand_faults(machine: Machine, asked: Asked) -> list[Fault]:
    known = [s.id for s in machine.stands]
    if asked.stand is None or asked.stand in known:
        return []
    problem = f"names '{plain(asked.stand)}', a stand that the machine '{machine.id}' lacks"
    remedy = (
        f"It has: {listed(known)}. Or give --pitch and --roll in degrees."
        if known
        else "It has none: give --pitch and --roll in degrees."
    )
    return [Fault("", None, "--stand", problem, remedy)]


def _number_faults(asked: Asked) -> list[Fault]:
    limits = (
        ("--pitch", asked.pitch_deg, -90.0, 90.0, "degrees, nose up positive"),
        ("--roll", asked.roll_deg, -180.0, 180.0, "degrees, left side up positive"),
        ("--airflow", asked.airflow_m_s, 0.0, 100.0, "m/s, from the front"),
    )
    return [
        Fault(
            "",
            None,
            path,
            f"is {value:g}" if math.isfinite(value) else "is no finite number",
            f"Give a number from {low:g} to {high:g} ({what}).",
        )
        for path, value, low, high, what in limits
        if value is not None and not low <= value <= high
    ]


def _seal_faults(machine: Machine, asked: Asked) -> list[Fault]:
    known = [s.id for s in machine.seal_points]
    if asked.seal_point is None or asked.seal_point in known:
        return []
    name = asked.seal_point
    problem = f"names '{plain(name)}', a seal point that the machine '{machine.id}' lacks"
    return [Fault("", None, "--from", problem, choose(name, known, what="seal point"))]
