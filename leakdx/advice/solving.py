"""From a job to posterior beliefs, in as much detail as can be worked out exactly."""

from __future__ import annotations

from dataclasses import dataclass

from leakdx.advice.finest import finest
from leakdx.belief.contradiction import smallest_contradiction
from leakdx.belief.evidence import Evidence, ImpossibleEvidence
from leakdx.belief.tree import Beliefs, JunctionTree, TooWide
from leakdx.case.evidence import Asked, asked_of
from leakdx.case.read import LoadedJob
from leakdx.files.faults import Fault, FaultyInput
from leakdx.flow.courses import DETAILS
from leakdx.priors.model import Priors

# Largest table, and entries of all tables together, worked with: an update then takes about
# ten milliseconds.  What that costs in ranking is measured in DEVELOPERS.md.
LARGEST = 2**17
ALL_ENTRIES = 300_000


class ContradictoryReadings(FaultyInput):
    """Readings that cannot all be true; ``labels`` is a smallest set of them.

    ``proven`` says that no smaller set exists.  Each reading is one fault, so that it is
    told with its place like any other.
    """

    def __init__(self, labels: tuple[str, ...], proven: bool) -> None:
        self.labels = labels
        self.proven = proven
        others = "; ".join(labels)
        super().__init__(
            Fault(
                file="",
                line=None,
                path=f"readings.{label}",
                problem=f"cannot hold together with the rest of: {others}",
                remedy="Look again, or take one of these readings out.",
            )
            for label in labels
        )


class TooLarge(FaultyInput):
    """The machine's flow cannot be worked out exactly, not even along its main ways."""

    def __init__(self, machine: str, entries: int) -> None:
        self.entries = entries
        super().__init__(
            [
                Fault(
                    file="",
                    line=None,
                    path=f"machine {machine}",
                    problem=f"is too large: a table of {entries:,} numbers would be needed",
                    remedy="Merge zones that a technician would not tell apart, or split "
                    "the machine into two files.",
                )
            ]
        )


@dataclass(frozen=True, eq=False)
class Solved:
    """A job with its network compiled and its readings taken in.

    detail: 0 where all courses of the flow were followed, higher where weak ones had to
    be left out to keep the sums exact.
    """

    asked: Asked
    tree: JunctionTree
    evidence: Evidence
    beliefs: Beliefs
    detail: int


def solve(loaded: LoadedJob, priors: Priors) -> Solved:
    """Posterior beliefs of a job.

    Raises ContradictoryReadings where the readings cannot hold together, TooLarge where
    not even the strongest courses alone give tables that fit.
    """
    asked, tree, detail = _compiled(loaded, priors)
    evidence = asked.evidence
    try:
        beliefs = tree.update(evidence)
    except ImpossibleEvidence as error:
        found = smallest_contradiction(tree, asked.readings)
        if found is None:
            raise
        raise ContradictoryReadings(found.labels, found.proven) from error
    return Solved(asked, tree, evidence, beliefs, detail)


def _compiled(loaded: LoadedJob, priors: Priors) -> tuple[Asked, JunctionTree, int]:
    """The network in the fullest detail whose sums can be done exactly."""

    try:
        return finest(
            lambda detail: asked_of(loaded.machine, loaded.job, priors, detail),
            lambda asked: asked.network.network,
            limits,
        )
    except TooWide as error:
        raise TooLarge(loaded.machine.id, error.entries) from error


def limits(detail: int) -> tuple[int, int | None]:
    """Largest table, and entries of all together; the barest detail is taken at any size."""
    return LARGEST, ALL_ENTRIES if detail < len(DETAILS) - 1 else None
