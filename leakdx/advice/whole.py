"""The network of a whole machine, before anything is known of it."""

from __future__ import annotations

from dataclasses import dataclass

from leakdx.advice.finest import finest
from leakdx.advice.solving import TooLarge, limits
from leakdx.belief.tree import JunctionTree, TooWide
from leakdx.machine.model import Machine
from leakdx.network.build import LeakNetwork, build_network
from leakdx.network.setting import Epoch, Setting
from leakdx.priors.model import Priors

# A machine whose run is not known is taken to have run this long since it was clean, h.
RUN_HOURS = 100.0


@dataclass(frozen=True, eq=False)
class Whole:
    """A machine's network with every zone, compiled.

    detail: 0 where all courses of the flow are followed, higher where weak ones are left out.
    """

    network: LeakNetwork
    tree: JunctionTree
    detail: int

    @property
    def entries(self) -> int:
        """Entries of all tables together."""
        return sum(self.tree.clique_entries)


def whole_network(machine: Machine, priors: Priors) -> Whole:
    """The machine level, at rest in still air, in the fullest detail that fits.

    Raises TooLarge where not even the strongest courses alone give tables that fit.
    """

    try:
        made = finest(
            lambda detail: build_network(
                Setting(machine, (Epoch(hours=RUN_HOURS),), detail), priors
            ),
            lambda network: network.network,
            limits,
        )
    except TooWide as error:
        raise TooLarge(machine.id, error.entries) from error
    return Whole(*made)
