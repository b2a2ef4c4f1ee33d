"""Two looks ahead, for the page."""

from __future__ import annotations

from leakdx.advice.costs import money
from leakdx.advice.lookahead import sentence_of
from leakdx.advice.next_look import NextLook, spoken
from leakdx.case.read import LoadedJob
from leakdx.panels.names import Names
from leakdx.panels.shapes import AheadAnswer

WHAT = (
    "What a first look and the best one after each of its outcomes save together, their own "
    "minutes taken off."
)


def ahead_answer(found: NextLook, loaded: LoadedJob, head: int) -> AheadAnswer:
    """First looks, each with the best look after it is dry or wet at what tells most."""
    names = Names(loaded.machine)
    said = [_sentence(found, names), WHAT]
    if found.stop is not None:
        said.insert(0, f"One look by itself: {found.stop}.")
    return {
        "head": head,
        "said": said,
        "rows": [
            {
                "first": names.looks[two.first],
                "then": [
                    f"{outcome} at {names.thing(two.thing)}: {_then(look, names)}"
                    for outcome, look in (("wet", two.wet), ("dry", two.dry))
                ],
                "saves": f"about {money(two.gain, loaded.job)}" if two.gain > 0 else "nothing",
            }
            for two in found.two_ahead
        ],
    }


def _sentence(found: NextLook, names: Names) -> str:
    """With the name of what the best first look reads, in place of its id."""
    said = sentence_of(found.two_ahead, names.looks)
    if not found.two_ahead:
        return said
    thing = found.two_ahead[0].thing
    return said.replace(f"(at {spoken(thing)})", f"(at {names.thing(thing)})")


def _then(look: str | None, names: Names) -> str:
    return "stop looking" if look is None else names.looks[look]
