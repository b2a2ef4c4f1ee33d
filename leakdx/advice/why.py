"""Why it leaks, where the readings say so: likely causes, and fluid that no seal let out."""

from __future__ import annotations

from collections.abc import Iterator

from leakdx.advice.solving import Solved
from leakdx.advice.words import percent
from leakdx.machine.model import CauseKind, Machine, SealKind
from leakdx.network.causes import causes_of
from leakdx.network.setting import cause_name

# What is as likely as not is not worth telling.
LIKELY = 0.5

# What to do about each cause before a joint is renewed.
MEANS = {
    CauseKind.VENTILATION_BLOCKED: "the ventilation is blocked or frozen and the case is under "
    "pressure; clear it before any joint is renewed",
    CauseKind.OVERFILLED: "the case is overfull; set the level, wash and run before any joint "
    "is renewed",
    CauseKind.WORN_RINGS: "gas passes the rings and pushes fluid out past sound joints; measure "
    "the pressure in the case",
    CauseKind.HARDENED_SEALS: "the seals have hardened together; expect more than one to weep",
    CauseKind.WRONG_SEALANT: "sealant of the wrong kind, or where none belongs; clean both faces "
    "and refit with what the maker calls for",
    CauseKind.SHAFT_WORN: "the shaft is worn where the lip runs; a new seal alone will not hold",
    CauseKind.OVERHEATED: "it has been too hot; check the faces for flatness before refitting",
    CauseKind.FASTENERS_LOOSE: "fasteners are loose or missing; check them all, to the maker's "
    "torque and order, before the joint is renewed",
    CauseKind.FASTENER_TOO_LONG: "a fastener is too long: it bottoms before it clamps, or breaks "
    "into a gallery; compare it with its hole and fit the right one",
    CauseKind.OVERTIGHTENED: "it was tightened too far; look for a crushed washer, a pulled "
    "thread or a bowed flange",
    CauseKind.GASKET_ROLLED: "a gasket is rolled or pinched from refitting; take it off, fit a "
    "new one and see it seated all round",
    CauseKind.DRAIN_BACK_BLOCKED: "oil cannot drain back and stands over the joints; clear the "
    "passage before any of them is renewed",
    CauseKind.CORRODED: "metal is eaten away; no gasket and no sealant mends a wall",
}


def why_of(machine: Machine, solved: Solved, leaks: dict[str, float]) -> tuple[str, ...]:
    """Sentences on what most likely lies behind; ``leaks`` is each seal point's chance."""
    return (*_expelled(machine, leaks), *_causes(machine, solved))


def _expelled(machine: Machine, leaks: dict[str, float]) -> Iterator[str]:
    for seal in machine.seal_points:
        if seal.kind is SealKind.BREATHER and leaks[seal.id] > LIKELY:
            name = seal.name or seal.id.replace("_", " ")
            yield (
                f"{name}: what comes out there is expelled fluid, no seal is at fault, and no "
                "joint need be renewed for it; check the level, the ventilation and the "
                "pressure in the case first"
            )


def _causes(machine: Machine, solved: Solved) -> Iterator[str]:
    chances = [(float(solved.beliefs[cause_name(c.id)][1]), c) for c in causes_of(machine)]
    for chance, cause in sorted(chances, key=lambda found: -found[0]):
        if chance > LIKELY:
            yield f"{cause.id.replace('_', ' ')}, {percent(chance)}: {MEANS[cause.kind]}"
