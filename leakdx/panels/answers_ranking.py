"""The ranking and how firm it is, for the page."""

from __future__ import annotations

from leakdx.advice.ranking import Ranking
from leakdx.advice.words import percent
from leakdx.panels.names import on_the_page
from leakdx.panels.shapes import FirmAnswer, Interval, Other, RankingAnswer, Trouble
from leakdx.reasons.firmness import PERCENTILES, Firmness

_CUT_SHORT = "the search for what leaks together was cut short: a set as probable may be missing"


def ranking_answer(ranking: Ranking, head: int, *, fine: bool) -> RankingAnswer:
    """A ranking in the words of ``leakdx rank``; fine: as that command works it out."""
    names = {r.seal_point: r.name for r in ranking.rows}
    notes = [on_the_page(note) for note in ranking.notes]
    return {
        "head": head,
        "fine": fine,
        "rows": [
            {
                "seal": r.seal_point,
                "name": r.name,
                "fluid": r.fluid,
                "leaks": r.leaks,
                "said": percent(r.leaks),
                "low": None,
                "high": None,
                "zones": list(r.zones),
            }
            for r in ranking.rows
        ],
        "others": [
            _other("No listed seal leaks now", ranking.none_leaks),
            _other("An origin that is not on the list", ranking.not_listed),
            _other("Nothing leaks now: spilled, or old residue", ranking.nothing_leaks),
        ],
        "sets": [
            {
                "names": [names[s] for s in one.seal_points] or ["none of them"],
                "text": percent(one.probability),
            }
            for one in ranking.sets
        ],
        "causes": list(ranking.why),
        "notes": notes if ranking.sets_proven else [*notes, _CUT_SHORT],
        "step": on_the_page(ranking.next_step),
        "fault": None,
    }


def no_ranking(head: int, fault: Trouble) -> RankingAnswer:
    """What is told where the readings cannot be ranked."""
    return {
        "head": head,
        "fine": False,
        "rows": [],
        "others": [],
        "sets": [],
        "causes": [],
        "notes": [],
        "step": "",
        "fault": fault,
    }


def firm_answer(firm: Firmness, names: dict[str, str], head: int) -> FirmAnswer:
    """The interval of each seal point; names: of the seal points, by id."""
    return {"head": head, "seals": intervals(firm, names), "said": firm_said(firm)}


def intervals(firm: Firmness, names: dict[str, str]) -> list[Interval]:
    """Between what chances each seal point leaks, in the machine's order."""
    return [
        {
            "seal": seal,
            "name": names[seal],
            "low": float(low),
            "high": float(high),
            "said": f"{percent(float(low))} to {percent(float(high))}",
        }
        for seal, low, high in zip(firm.seals, firm.low, firm.high, strict=True)
    ]


def firm_said(firm: Firmness) -> str:
    """What the intervals mean, and how firm the first place is."""
    low, _, high = PERCENTILES
    return (
        f"The bars: the numbers behind the ranking are not known exactly; of {firm.draws} draws of "
        f"them, {high - low:.0f} in a hundred give a chance between the two ends. "
        + " ".join(firm.sentences)
    )


def _other(said: str, chance: float) -> Other:
    return {"said": said, "chance": chance, "text": percent(chance)}
