"""What is told of a joint and of what was done to it, as odds that it leaks.

A joint that was apart begins a new life; what was told of it before is about the old one.
"""

from __future__ import annotations

from collections.abc import Iterator

from leakdx.case.model import Context, ContextKind
from leakdx.case.timeline import FIRST, Life, Origin, Story
from leakdx.machine.model import Cause, CauseKind, Machine, SealKind, SealPoint
from leakdx.network.causes import raised_by
from leakdx.network.odds import base_odds, crowding, odds_of
from leakdx.network.refit import Check, How, disturbed_by, refit_odds
from leakdx.priors.model import Priors

# What a context entry about one joint multiplies its odds by: the name of the prior.
JOINT_FACTORS = {
    ContextKind.SEALANT_SEEN: "modifiers.sealant_seen",
    ContextKind.HARD_AND_RIGID: "modifiers.hard_and_rigid",
    ContextKind.FASTENER_LOOSE: "modifiers.fastener_loose",
    ContextKind.FASTENER_MISSING: "modifiers.fastener_missing",
    ContextKind.FASTENER_TOO_LONG: "modifiers.fastener_too_long",
    ContextKind.OVERTIGHTENED: "modifiers.overtightened",
    ContextKind.GASKET_ROLLED: "modifiers.gasket_rolled",
    ContextKind.CORRODED: "modifiers.corroded",
    ContextKind.DRAIN_BACK_BLOCKED: "modifiers.drain_back_blocked",
    ContextKind.LONG_IDLE: "modifiers.long_idle",
}
# Context entries that settle, nearly, whether a shared cause is there.
CAUSE_SAID = {
    ContextKind.VENTILATION_BLOCKED: (CauseKind.VENTILATION_BLOCKED, True),
    ContextKind.VENTILATION_CLEAR: (CauseKind.VENTILATION_BLOCKED, False),
    ContextKind.OVERFILLED: (CauseKind.OVERFILLED, True),
    ContextKind.DRAIN_BACK_BLOCKED: (CauseKind.DRAIN_BACK_BLOCKED, True),
}
# What is seen at one joint and is a cause of its own where the machine lists one there.
SEEN_OF_CAUSE = {
    ContextKind.FASTENER_LOOSE: CauseKind.FASTENERS_LOOSE,
    ContextKind.FASTENER_MISSING: CauseKind.FASTENERS_LOOSE,
    ContextKind.FASTENER_TOO_LONG: CauseKind.FASTENER_TOO_LONG,
    ContextKind.OVERTIGHTENED: CauseKind.OVERTIGHTENED,
    ContextKind.GASKET_ROLLED: CauseKind.GASKET_ROLLED,
    ContextKind.SEALANT_SEEN: CauseKind.WRONG_SEALANT,
    ContextKind.CORRODED: CauseKind.CORRODED,
    ContextKind.DRAIN_BACK_BLOCKED: CauseKind.DRAIN_BACK_BLOCKED,
}
# What dries out when a machine stands long.
DRY_OUT = (SealKind.SHAFT_LIP_SEAL, SealKind.ROD_SEAL)


def cause_seen(context: Context, machine: Machine) -> Cause | None:
    """The listed cause that something seen at a joint speaks of; None where none acts there.

    Of several that act on the joint, the one that acts on the fewest.
    """
    kind = SEEN_OF_CAUSE.get(context.context)
    if kind is None or context.seal_point is None:
        return None
    acting = {
        c.id: raised_by(c, machine)
        for c in machine.causes
        if c.kind is kind and context.seal_point in raised_by(c, machine)
    }
    return min(
        (c for c in machine.causes if c.id in acting),
        key=lambda c: len(acting[c.id]),
        default=None,
    )


def odds_of_lives(
    seal: SealPoint, machine: Machine, story: Story, priors: Priors
) -> tuple[float, ...]:
    """What the job multiplies the odds of each generation of a seal point by.

    0 for one that is the former one, disturbed: that is no odds of its own.
    """
    lives = story.lives.get(seal.id, (FIRST,))
    said = [1.0] * len(lives)
    for context, told in zip(story.contexts, story.told, strict=True):
        factor = _factor(context, seal, machine)
        if factor is not None:
            life = _meant(lives, told.get(seal.id, 1) - 1)
            said[life] = said[life] * priors[JOINT_FACTORS[factor]]
    return tuple(
        0.0 if _is_lasting(life) else _odds(seal, machine, lives[n:], priors) * said[n]
        for n, life in enumerate(lives)
    )


def _factor(context: Context, seal: SealPoint, machine: Machine) -> ContextKind | None:
    """The kind of a context that raises the odds of a seal point; None where it does not."""
    kind = context.context
    if kind is ContextKind.LONG_IDLE and context.seal_point is None:
        return kind if seal.kind in DRY_OUT else None
    if context.seal_point != seal.id or kind not in JOINT_FACTORS:
        return None
    # Where the machine lists the cause, that was said of the cause and raises the joint.
    if kind in CAUSE_SAID and cause_seen(context, machine) is not None:
        return None
    return kind


def _meant(lives: tuple[Life, ...], number: int) -> int:
    """The life that something told in one is about.

    That a joint was worked on is often told after what was seen of it since.
    """
    life = max(n for n in range(number + 1) if not _is_lasting(lives[n]))
    for n in range(life + 1, len(lives)):
        if lives[n].origin is Origin.WORKED_ON:
            life = n
        elif lives[n].origin is Origin.RENEWED:
            break
    return life


def _odds(seal: SealPoint, machine: Machine, lives: tuple[Life, ...], priors: Priors) -> float:
    """The odds of the first of some lives, with nothing said of the joint."""
    ended = next((x for x in lives[1:] if not _is_lasting(x)), None)
    if ended is not None:
        before = priors["modifiers.leaked_before_renewal"]
        if ended.origin is Origin.WORKED_ON:
            before = priors["modifiers.leaked_before_work"]
        base = odds_of(priors[f"base_rates.{seal.kind.value}"])
        return odds_of(before) / (base * crowding(machine, priors))
    life = lives[0]
    if life.origin is Origin.FIRST:
        return 1.0
    # It was worked on, so how many others the list holds says nothing of it.
    crowd = crowding(machine, priors)
    if life.origin is Origin.RENEWED:
        fluid = next(f for f in machine.fluids if f.id == seal.fluid)
        known = base_odds(seal, fluid, priors) * crowd
        return refit_odds(seal, fluid, life.checks, priors) / known
    refit = priors["modifiers.recent_work"] / crowd
    return refit * priors["modifiers.tight_access_after_work"] if seal.tight_access else refit


def _is_lasting(life: Life) -> bool:
    return life.origin is Origin.DISTURBED


def _lives(story: Story) -> Iterator[tuple[tuple[str, int], Life]]:
    for seal, lives in story.lives.items():
        for n, life in enumerate(lives):
            yield (seal, n), life


def lasting(story: Story) -> frozenset[tuple[str, int]]:
    """Generations (seal point, number) that are the former one, disturbed by work nearby."""
    return frozenset(this for this, life in _lives(story) if _is_lasting(life))


def stays(story: Story, priors: Priors) -> dict[tuple[str, int], float]:
    """Chance that a leak goes on in a generation of the same part."""
    return {
        this: priors["refit.stays"]
        for this, life in _lives(story)
        if life.origin is Origin.RENEWED and life.how is How.REFITTED
    }


def disturbed(story: Story, priors: Priors) -> dict[tuple[str, int], float]:
    """Chance that work nearby made a generation leak that was tight."""
    return {
        this: disturbed_by(life.disturbed, priors) for this, life in _lives(story) if life.disturbed
    }


def _present(story: Story) -> dict[str, Life]:
    """The life that each seal point has now, work nearby left aside."""
    return {
        seal: [x for x in lives if not _is_lasting(x)][-1] for seal, lives in story.lives.items()
    }


def checked(story: Story) -> dict[str, frozenset[Check]]:
    """What was checked at the last renewal of each seal point."""
    return {seal: life.checks for seal, life in _present(story).items() if life.checks}


def fresh(story: Story) -> frozenset[str]:
    """Seal points with a new part in them, or a hose end cut back to sound rubber."""
    return frozenset(
        seal
        for seal, life in _present(story).items()
        if life.origin is Origin.RENEWED and life.how is not How.REFITTED
    )
