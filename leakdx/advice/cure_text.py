"""What ``leakdx cure`` says, in the words of a workshop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil
from typing import TYPE_CHECKING

from leakdx.advice.cautions import (
    EYES,
    FIRST_OF_ALL,
    HOT,
    MOVING,
    RAISED,
    RUNNING,
    SKIN,
    SOLVENT,
    TRIAL,
)
from leakdx.advice.words import percent
from leakdx.machine.model import FluidKind, Machine

if TYPE_CHECKING:
    from leakdx.advice.cure import Again, Held, Known, Moved, Told
    from leakdx.advice.proof import Needed, Proof

_PRESSED = frozenset({FluidKind.DIESEL_FUEL, FluidKind.HYDRAULIC_OIL, FluidKind.PETROL})
# A reading that moved a chance by less is not worth naming.
_WORTH = 0.005
NAMED = 6
# Chance of an unlisted origin from which it is told.
_UNLISTED = 0.2


def sentences_of(told: Told) -> tuple[str, ...]:
    """What the readings say of the repair."""
    return tuple(_sentences(told))


def _sentences(told: Told) -> Iterator[str]:
    known = told.known
    if not known.repair.seals or known.before is None:
        yield (
            "Nothing was renewed or worked on in this job, so there is no repair to judge. By what "
            f"was read, nothing leaks now with {percent(known.dry)}."
        )
        return
    count = len(known.course)
    if count:
        readings = "reading" if count == 1 else f"{count} readings"
        yield (
            f"Nothing leaks now, at any joint listed or not: {percent(known.dry)}. Right after the "
            f"repair, before the {readings} since, it was {percent(known.before)}."
        )
    else:
        yield (
            f"Nothing leaks now, at any joint listed or not: {percent(known.dry)}. Nothing has "
            "been looked at since the repair."
        )
    for place, joint in enumerate(known.joints):
        yield _joint(told.machine, known, joint, place)
    if len(known.joints) > 1 and known.holds is not None:
        yield f"All of what was renewed holds: {percent(known.holds)} now."
    if known.stale:
        yield (
            "It was not washed after the repair: what is wet may be from before, and says little "
            "of the new joint. Wash first."
        )
    elif not known.repair.washed:
        yield "It was not washed after the repair: what is wet later may be from before."
    if known.again is not None:
        yield again_sentence(told.machine, known, known.again)
    if known.not_listed > _UNLISTED:
        yield (
            f"An origin that is not on the list leaks with {percent(known.not_listed)}: renewing "
            "what is on it mends nothing there. Look at the highest place that was wet."
        )
    if told.proof is not None:
        yield from _proof(told)
    elif known.again is None:
        yield "How long to run cannot be told: the sums would be too large on this machine."


def _joint(machine: Machine, known: Known, joint: Held, place: int) -> str:
    said = f"{joint.name[:1].upper()}{joint.name[1:]} holds: {percent(joint.before)} right after"
    if not known.course:
        return f"{said} the repair."
    moves = [
        (abs(now - old), now - old, moved)
        for old, now, moved in zip(
            (joint.before, *(m.holds[place] for m in known.course)),
            (m.holds[place] for m in known.course),
            known.course,
            strict=False,
        )
    ]
    size, way, moved = max(moves, key=lambda m: m[0])
    said += f", {percent(joint.now)} now"
    if size < _WORTH:
        return f"{said}; no reading moved it much."
    raised = "raised" if way > 0 else "lowered"
    return f"{said}; what {raised} it most: {reading_words(machine, moved.reading)}."


def reading_words(machine: Machine, label: str) -> str:
    """A reading's label with the names of the machine: "27 Head, rear face: dry"."""
    number, _, rest = label.partition(": ")
    thing, _, state = rest.partition(" ")
    names = {z.id: z.name for z in machine.zones} | {s.id: s.name for s in machine.seal_points}
    name = names.get(thing) or thing.replace("_", " ")
    return f"{number} {name}: {state.replace('_', ' ')}"


def again_sentence(machine: Machine, known: Known, again: Again) -> str:
    """Whether it is the same joint that is wet again, or another."""
    renewed = set(known.repair.seals)
    first = again.ranking[0]
    if known.dry >= max(again.same, again.another):
        return (
            f"Something is wet again, and yet most likely nothing leaks ({percent(known.dry)}): "
            "spilled, or left over from the wash. Wipe it off, run it and look again."
        )
    if again.same >= again.another:
        likely = next(r for r in again.ranking if r.seal_point in renewed)
        return (
            f"It is wet again: most likely the same joint ({percent(again.same)}; first of all "
            f"{likely.name}, {percent(likely.leaks)}), that is a fault at refit; look along its "
            "whole edge with a mirror before anything is tightened."
        )
    likely = next((r for r in again.ranking if r.seal_point not in renewed), first)
    if likely.leaks < again.not_listed:
        where = f"an origin that is not on the list, {percent(again.not_listed)}"
    else:
        where = f"{likely.name}, {percent(likely.leaks)}"
    return (
        f"It is wet again: most likely another one ({percent(again.another)}; first of all "
        f"{where}), and what was renewed holds."
    )


def _proof(told: Told) -> Iterator[str]:
    machine, proof = told.machine, told.proof
    assert proof is not None
    longest = max(p.minutes for p in proof.points)
    last = {p.use: p for p in proof.points if p.minutes == longest}
    for what, aim in (("holds", "what was renewed holds"), ("dry", "nothing leaks at all")):
        beyond = [n.sure for n in proof.needed if getattr(n, what) is None]
        if beyond:
            reached = ", ".join(f"{use} {percent(getattr(p, what))}" for use, p in last.items())
            yield (
                f"Running and looking alone cannot always make it {100 * min(beyond):.0f} % that "
                f"{aim}: after {longest} minutes with all dry it is {reached}."
            )
    if proof.helps:
        names = {s.id: s.name or s.id.replace("_", " ") for s in machine.seal_points}
        left = "; ".join(f"{names[s]}, {percent(p)}" for s, p in proof.left)
        yield f"What may leak unseen all the same after that, the likeliest first: {left}."


def next_step_of(told: Told) -> str:
    """One sentence: what to do now."""
    known, proof = told.known, told.proof
    if not known.repair.seals:
        return (
            "Next: what to look at now, 'leakdx next' says; what most likely leaks, 'leakdx rank'."
        )
    if known.again is not None:
        if known.dry >= max(known.again.same, known.again.another):
            return "Next: wipe off what is wet, run it and look again."
        if known.again.same >= known.again.another:
            return (
                "Next: engine stopped, a mirror along the whole edge of what was renewed; enter "
                "what you see. Do not tighten anything yet."
            )
        return "Next: what to look at now, 'leakdx next' says; what was renewed can stay as it is."
    if proof is None:
        return "Next: wash it whole, run it as it is used, look again and enter what you see."
    aims = [(n, "holds", "what was renewed holds") for n in proof.needed]
    aims += [(n, "dry", "nothing leaks at all") for n in proof.needed]
    driven = [
        (needed.sure, minutes, words)
        for needed, what, words in aims
        if needed.use == "driven" and (minutes := getattr(needed, what)) is not None and minutes > 0
    ]
    holds = [n.holds for n in proof.needed if n.use == "driven"]
    if all(m == 0 for m in holds) and known.repair.washed:
        return (
            "Next: what was renewed needs no further run. Look at it once more after some days of "
            "use, and check the level."
        )
    where = round_words(told.machine, proof, known.repair.seals)
    if not driven:
        longest = max(p.minutes for p in proof.points)
        return (
            f"Next: wash it whole, drive it up to {longest} minutes at working temperature, then "
            f"look at {where}."
        )
    sure, minutes, words = _aim(driven)
    return (
        f"Next: wash it whole, drive it {in_minutes(minutes)} at working temperature, then look at "
        f"{where}. If all of it is dry, {words} with {100 * sure:.0f} %."
    )


def _aim(driven: Sequence[tuple[float, float, str]]) -> tuple[float, float, str]:
    """The surest that two hours do for what was renewed; else the first that can be reached."""
    soon = [d for d in driven if d[1] <= 120 and d[2].startswith("what was renewed")]
    return max(soon) if soon else min(driven, key=lambda d: d[1])


def looked_words(proof: Proof, *, fewer_ways: bool) -> str:
    """What the figures of a trial count on, in sentences."""
    which = (
        "those of what was renewed and of what likeliest leaks; all would make the sums too large"
        if proof.partly
        else "all that can be seen without strip-down"
    )
    said = (
        f"Looked at: {len(proof.round.zones)} zones, {which}; about {proof.round.minutes:.0f} "
        f"minutes with opening up. 'Not so': not even after {max(p.minutes for p in proof.points)} "
        "minutes."
    )
    if fewer_ways:
        said += " Worked out along fewer ways of the flow than the chances above, so 'now' differs."
    if proof.left_out:
        signs = ", ".join(s.replace("_", " ") for s in proof.left_out)
        said += f" Not counted here, to keep the sums exact: {signs}."
    return said


def round_words(machine: Machine, proof: Proof, renewed: Sequence[str]) -> str:
    """What is looked at: the zones of what was renewed by name, and how many others."""
    near = {z for s in machine.seal_points if s.id in set(renewed) for z in s.zones}
    names = {z.id: z.name or z.id.replace("_", " ") for z in machine.zones}
    first = [names[z] for z, _ in proof.round.zones if z in near]
    others = len(proof.round.zones) - len(first)
    said = "; ".join(first[:NAMED]) if first else ""
    others += max(len(first) - NAMED, 0)
    rest = "listed by --json" if proof.partly else "that can be seen without strip-down"
    if not first:
        return f"the {others} zones {rest}"
    return f"{said}; and {others} others {rest}" if others else said


def in_minutes(minutes: float) -> str:
    """A time of running, rounded up to a whole minute."""
    count = max(ceil(minutes - 1e-9), 1)
    return "1 minute" if count == 1 else f"{count} minutes"


def needed_cell(minutes: float | None) -> str:
    """The same for a table."""
    if minutes is None:
        return "not so"
    return "is so now" if minutes == 0 else f"{ceil(minutes - 1e-9)} min"


def needed_lines(needed: Sequence[Needed], now: tuple[float, float]) -> list[str]:
    """How long to run, to be so sure, in each use."""
    uses = list(dict.fromkeys(n.use for n in needed))
    heads = "".join(f"{use:>11}" for use in uses)
    lines = [
        f"         {'what was renewed holds':<{11 * len(uses)}}    nothing leaks at all",
        f"  sure   {heads}    {heads}",
        "   now   " + "    ".join(f"{percent(p):>{11 * len(uses)}}" for p in now),
    ]
    for sure in dict.fromkeys(n.sure for n in needed):
        row = {n.use: n for n in needed if n.sure == sure}
        holds = "".join(f"{needed_cell(row[u].holds):>11}" for u in uses)
        dry = "".join(f"{needed_cell(row[u].dry):>11}" for u in uses)
        lines.append(f"  {100 * sure:2.0f} %   {holds}    {dry}")
    return lines


def course_lines(machine: Machine, known: Sequence[Moved], joints: Sequence[Held]) -> list[str]:
    """What is believed after each reading, a column for nothing leaking and for each joint."""
    lines = []
    for moved in known:
        numbers = "".join(f"{100 * p:6.1f} %" for p in (moved.dry, *moved.holds[: len(joints)]))
        lines.append(f"{numbers}  {reading_words(machine, moved.reading)}")
    return lines


def cautions_for(told: Told) -> tuple[str, ...]:
    """What can hurt someone at what is to be done next."""
    pressed = [SKIN] if any(f.kind in _PRESSED for f in told.machine.fluids) else []
    asked = [SOLVENT, EYES, RUNNING, MOVING, HOT, TRIAL, RAISED]
    if not told.known.repair.seals:
        asked = []
    elif told.known.again is not None:
        asked = [MOVING, HOT, RAISED]
    return (*(c.text for c in (*asked, *(pressed if asked else ()))), FIRST_OF_ALL)
