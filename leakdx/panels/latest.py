"""What was worked out last, so that several errands for one job work it out once."""

from __future__ import annotations

from dataclasses import dataclass, field

from leakdx.advice.next_look import Weigher
from leakdx.advice.sheet import Sheet, sheet_of
from leakdx.advice.solving import Solved, solve
from leakdx.case.read import LoadedJob
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors


@dataclass
class Latest:
    """A job as it was last worked out, with the shipped numbers.

    Whatever is asked of another job drops all of it.
    """

    priors: Priors = field(default_factory=shipped_priors)
    _loaded: LoadedJob | None = None
    _solved: Solved | None = None
    _weigher: Weigher | None = None
    _proven: dict[tuple[str, ...], Sheet] = field(default_factory=dict)

    def solved(self, loaded: LoadedJob) -> Solved:
        """Raises ContradictoryReadings and TooLarge, as ``solve`` does."""
        self._turn_to(loaded)
        if self._solved is None:
            self._solved = solve(loaded, self.priors)
        return self._solved

    def weigher(self, loaded: LoadedJob) -> Weigher:
        """Raises TooLarge, as ``Weigher.of`` does."""
        self._turn_to(loaded)
        if self._weigher is None:
            self._weigher = Weigher.of(loaded, self.priors)
        return self._weigher

    def sheet(self, loaded: LoadedJob, renew: tuple[str, ...]) -> Sheet:
        """The sheet for these seal points, with its proof where ``keep`` was told of it."""
        solved = self.solved(loaded)
        return self._proven.get(renew) or sheet_of(loaded, solved, self.priors, renew)

    def keep(self, renew: tuple[str, ...], sheet: Sheet) -> None:
        """Keep a sheet with its proof, of the job that was asked of last."""
        self._proven[renew] = sheet

    def _turn_to(self, loaded: LoadedJob) -> None:
        if loaded != self._loaded:
            self._loaded, self._solved, self._weigher = loaded, None, None
            self._proven = {}
