"""What the things of a machine are called; an id only where there is no name."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from leakdx.advice.next_look import spoken
from leakdx.advice.sheet_steps import said_step
from leakdx.machine.model import Machine

# Words of the commands -> words of the page.
_ON_THE_PAGE = {
    "'leakdx next' says": "the next look says",
    "'leakdx rank'": "the ranking",
    "'leakdx cure'": "for the check of the repair",
    " listed by --json": "",
    "name the seal points with --renew": "choose the seal points yourself",
}


@dataclass(frozen=True)
class Names:
    """The names of a machine."""

    machine: Machine

    @cached_property
    def seals(self) -> dict[str, str]:
        """Of the seal points."""
        return {s.id: s.name or spoken(s.id) for s in self.machine.seal_points}

    @cached_property
    def zones(self) -> dict[str, str]:
        """Of the zones."""
        return {z.id: z.name or spoken(z.id) for z in self.machine.zones}

    @cached_property
    def looks(self) -> dict[str, str]:
        """Of the inspections."""
        return {i.id: i.name or spoken(i.id) for i in self.machine.inspections}

    @cached_property
    def steps(self) -> dict[str, str]:
        """Of the access steps."""
        return {s.id: said_step(s) for s in self.machine.access_steps}

    def thing(self, name: str) -> str:
        """Of a zone, a seal point or a sign."""
        return self.zones.get(name) or self.seals.get(name) or spoken(name)


def on_the_page(text: str) -> str:
    """A sentence that sends to a command, sending to the place on the page instead."""
    for there, here in _ON_THE_PAGE.items():
        text = text.replace(there, here)
    return text


def capital(text: str) -> str:
    """The same with a capital in front."""
    return text[:1].upper() + text[1:]
