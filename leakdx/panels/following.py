"""What follows when a job has changed: the ranking at once, and the errands that bring the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from leakdx.advice.solving import ContradictoryReadings
from leakdx.panels import state as states
from leakdx.panels.answers_ranking import no_ranking, ranking_answer
from leakdx.panels.messages import Errand, Report
from leakdx.panels.shapes import RankingAnswer, WorkLine
from leakdx.panels.showing import as_quick
from leakdx.panels.state import State
from leakdx.panels.telling import said_of
from leakdx.store.store import Kept

if TYPE_CHECKING:
    from leakdx.advice.leaning import Full
    from leakdx.advice.swift import Swift

WAITING = "waiting for its turn"
# The errand that brings a Swift; it is short, and without it nothing is ranked at once.
READY, SETTLE = "ready", "settle"


class Working(Protocol):
    """Whoever does errands, as ``Errands`` does."""

    def ask(self, errand: Errand) -> None:
        """Have one done."""

    def stop(self, name: str) -> None:
        """Give one up."""

    def warm(self) -> None:
        """Make ready for the first."""

    def stand_still(self) -> None:
        """Hold back until told to go on."""

    def go_on(self) -> None:
        """Go on."""

    def close(self) -> None:
        """End."""


def ranking_at_once(kept: Kept, swift: Swift, full: Full | None) -> RankingAnswer | None:
    """The quick ranking of a job; None where the Swift does not fit it any more.

    full: the last full ranking, which it leans on.
    """
    if not swift.fits(kept.loaded):
        return None
    try:
        ranking = swift.ranking(kept.loaded, full)
    except ContradictoryReadings as error:
        return no_ranking(kept.head, said_of(error, kept.loaded.machine))
    return ranking_answer(as_quick(ranking), kept.head, fine=False)


def with_report(state: State, report: Report) -> State:
    """The state after a worker told something; what does not fit the open job is left aside."""
    if report.status != "answer" or report.part not in ("ready", "full"):
        return states.reported(state, report)
    from leakdx.advice.leaning import Full
    from leakdx.advice.swift import Swift

    kept, brought = state.kept, report.answer
    if kept is None:
        return state
    # Nothing else would show that it is of a job that was open before.
    if isinstance(brought, Full) and brought.loaded.job.id == kept.loaded.job.id:
        return states.with_full(state, brought)
    if isinstance(brought, Swift) and report.head in state.heads and brought.fits(kept.loaded):
        return states.with_swift(state, brought)
    return state


def to_be_asked(kept: Kept, swift: Swift | None) -> tuple[str, ...]:
    """The errands that bring what follows from the entries of a job, the first one first."""
    if swift is None or swift.behind(kept.loaded):
        return READY, SETTLE
    return (SETTLE,)


def waiting(name: str, head: int) -> WorkLine:
    """An errand that waits for its turn."""
    return {
        "errand": name,
        "head": head,
        "status": "waiting",
        "said": WAITING,
        "done": 0,
        "of": 0,
        "stop": name != READY,
    }
