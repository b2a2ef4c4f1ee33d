"""The network of a whole machine, before anything is known of it."""

from __future__ import annotations

from dataclasses import dataclass

from leakdx.advice.finest import finest
from leakdx.advice.solving import LARGEST, TooLarge, most
from leakdx.belief.tree import JunctionTree, TooWide, compile_network
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

    def attempt(detail: int) -> Whole:
        setting = Setting(machine, (Epoch(hours=RUN_HOURS),), detail)
        network = build_network(setting, priors)
        return Whole(network, compile_network(network.network, LARGEST, most(detail)), detail)

    try:
        return finest(attempt)
    except TooWide as error:
        raise TooLarge(machine.id, error.entries) from error
