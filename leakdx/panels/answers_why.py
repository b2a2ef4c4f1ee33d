"""The reasons for a ranking, for the page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from leakdx.advice.words import percent
from leakdx.panels.answers_ranking import firm_said, intervals
from leakdx.panels.names import Names, capital
from leakdx.panels.reasoning import Reasons
from leakdx.panels.shapes import RivalSaid, Speaks, WhyAnswer
from leakdx.reasons.firmness import Firmness
from leakdx.reasons.rivals import WORTH, Rivals
from leakdx.reasons.swings import Swing
from leakdx.reasons.weights import LEAST_TOLD, in_words

# Routes and numbers told of.
ROUTES, NUMBERS = 3, 6
NOTHING_READ = (
    "Nothing has been read yet: the chances are those of such joints anywhere, by kind and age."
)
NOT_YET = "How firm it is, is still being worked out."


@dataclass(frozen=True, eq=False)
class Told:
    """All that is told of one seal point.

    picture: SVG text of the ways of the fluid, None where no way leads to anything wet.  firm:
    None, and swings: empty, until they are worked out.
    """

    reasons: Reasons
    picture: str | None
    firm: Firmness | None = None
    swings: tuple[Swing, ...] = ()


def why_answer(told: Told, names: Names, head: int) -> WhyAnswer:
    """What speaks for and against a seal point, and what goes with it, as far as it is there."""
    reasons, firm = told.reasons, told.firm
    first = reasons.candidate
    speaks = list(_speaks(reasons))
    return {
        "head": head,
        "seal": first.seal_point,
        "name": first.name,
        "sentence": f"{first.name}: leaks with {percent(first.leaks)}. {first.sentence}",
        "for": [s for s in speaks if s["decibans"] > 0],
        "against": [s for s in speaks if s["decibans"] < 0],
        "doubts": list(reasons.doubts) if reasons.weights.readings else [NOTHING_READ],
        "conflict": list(reasons.conflict),
        "rivals": list(_rivals(reasons.rivals)),
        "together": list(reasons.together),
        "routes": [{"said": said} for said in reasons.routes[:ROUTES]],
        "picture": told.picture,
        "firm": [] if firm is None else intervals(firm, names.seals),
        "firm_said": NOT_YET if firm is None else firm_said(firm),
        "swings": [{"said": _swing(s)} for s in told.swings[:NUMBERS]],
    }


def _speaks(reasons: Reasons) -> Iterator[Speaks]:
    """The readings that say anything worth telling, those that say most first."""
    weights = reasons.weights
    column = weights.left_out[:, weights.claims.index(reasons.candidate.seal_point)]
    each = zip(weights.readings, column.tolist(), strict=True)
    for label, decibans in sorted(each, key=lambda pair: -abs(pair[1])):
        if abs(decibans) >= LEAST_TOLD:
            words = capital(reasons.words.get(label) or label)
            yield {
                "reading": label,
                "said": f"{words}: {in_words(decibans)}",
                "decibans": decibans,
            }


def _rivals(rivals: Rivals) -> Iterator[RivalSaid]:
    """The sentences of the rivals, each with its chance apart."""
    chances = chain(
        (d.otherwise for d in rivals.doubts if d.otherwise >= WORTH),
        (rivals.second_leak, rivals.not_listed, rivals.nothing_leaks),
    )
    for sentence, chance in zip(rivals.sentences, chances, strict=True):
        text = percent(chance)
        said = sentence.replace(f": {text}.", "", 1).replace(f": {text} that ", ": ", 1)
        yield {"said": said, "text": text}


def _swing(swing: Swing) -> str:
    """A number and the chances at its 10th and its 90th percentile."""
    number = swing.key.replace(".", ", ").replace("_", " ")
    return f"{number}: {percent(swing.low)} if it is low, {percent(swing.high)} if it is high"
