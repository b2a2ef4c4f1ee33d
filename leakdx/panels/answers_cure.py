"""Whether a repair has cured it, for the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from leakdx.advice.cure import Cure
from leakdx.advice.cure_text import looked_words, needed_cell, reading_words
from leakdx.advice.proof import Needed, Proof
from leakdx.advice.proving import SURE
from leakdx.advice.words import percent
from leakdx.machine.model import Machine
from leakdx.panels.names import on_the_page
from leakdx.panels.shapes import CureAnswer, Section

# Joints told of after each reading, and seal points told of when it is wet again.
JOINTS, AGAIN = 3, 5


def cure_answer(found: Cure, machine: Machine, head: int) -> CureAnswer:
    """How sure it is that it is cured, what to do now, and how long to run."""
    sections = [s for s in _sections(found, machine) if s["lines"]]
    said = [on_the_page(s) for s in (*found.sentences, found.next_step)]
    return {"head": head, "said": said, "sections": sections}


def _sections(found: Cure, machine: Machine) -> Iterator[Section]:
    yield {
        "title": "What each reading since the repair did",
        "lines": list(_course(found, machine)),
    }
    if found.again is not None:
        lines = [
            f"{r.name}{' (renewed)' if r.seal_point in found.renewed else ''}: {percent(r.leaks)}"
            for r in found.again.ranking[:AGAIN]
        ]
        yield {"title": "Most likely to leak now", "lines": lines}
    if found.proof is not None:
        yield from _proof(found, found.proof)
    yield {"title": "Take care", "lines": list(found.cautions)}


def _course(found: Cure, machine: Machine) -> Iterator[str]:
    if not found.course or found.before is None:
        return
    shown = found.joints[:JOINTS]
    names = [j.name for j in shown]
    yield f"Right after the repair: {_chances(found.before, [j.before for j in shown], names)}"
    for moved in found.course:
        said = _chances(moved.dry, moved.holds[:JOINTS], names)
        yield f"{reading_words(machine, moved.reading)}: {said}"


def _chances(dry: float, holds: Sequence[float], names: Sequence[str]) -> str:
    each = [f"{name} holds {percent(p)}" for name, p in zip(names, holds, strict=True)]
    return "; ".join([f"nothing leaks {percent(dry)}", *each])


def _proof(found: Cure, proof: Proof) -> Iterator[Section]:
    fewer = proof.detail > found.detail
    lines = [
        f"As it is now, by the same reckoning: what was renewed holds {percent(proof.now[0])}, "
        f"nothing leaks at all {percent(proof.now[1])}",
        *_needed(proof.needed),
        on_the_page(looked_words(proof, fewer_ways=fewer)),
    ]
    title = "Wash it whole, run it at working temperature, look. If all is dry then"
    yield {"title": title, "lines": lines}
    helps = [
        f"{h.what}: what was renewed holds {percent(h.holds)}, nothing leaks {percent(h.dry)}"
        for h in proof.helps
    ]
    yield {"title": "What else helps, with the longest drive", "lines": helps}
    yield {"title": "By counting runs alone", "lines": [_counting(proof)]}


def _needed(needed: Sequence[Needed]) -> Iterator[str]:
    """How long to run in each use, to be so sure."""
    for sure in dict.fromkeys(n.sure for n in needed):
        rows = [n for n in needed if n.sure == sure]
        holds = ", ".join(f"{n.use} {needed_cell(n.holds)}" for n in rows)
        dry = ", ".join(f"{n.use} {needed_cell(n.dry)}" for n in rows)
        yield (
            f"To be {100 * sure:.0f} % sure that what was renewed holds: {holds}; that nothing "
            f"leaks at all: {dry}"
        )


def _counting(proof: Proof) -> str:
    runs = ", ".join(
        f"{n} for {100 * sure:.0f} %" for sure, n in zip(SURE, proof.looks_needed, strict=True)
    )
    return (
        f"A driven hour shows a leak of what was renewed with {percent(proof.shows)}, if there is "
        "one. With nothing known before and every run alike, that takes such runs dry in a row: "
        f"{runs}."
    )
