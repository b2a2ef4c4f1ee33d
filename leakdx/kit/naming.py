"""Ids and names of a part where it stands: prefixed, numbered, its sides turned over."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

_SWAPS = {
    "x": {"front": "rear", "rear": "front"},
    "y": {"left": "right", "right": "left"},
    "z": {"top": "bottom", "bottom": "top", "upper": "lower", "lower": "upper"},
}


@dataclass(frozen=True)
class Naming:
    """What becomes of the ids and names that one placed part brings.

    turned_over: the axes that are mirrored.  ways: access steps bound to its ways in.
    fluids: its names for fluids -> those of the machine.
    """

    prefix: str | None = None
    called: str | None = None
    number: int | None = None
    turned_over: frozenset[str] = frozenset()
    ways: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    fluids: Mapping[str, str] = field(default_factory=dict)

    def id(self, name: str) -> str:
        """The id of something the part calls ``name``."""
        words = [self._swapped(word) for word in name.split("_")]
        ends = [self.prefix] if self.prefix else []
        counts = [str(self.number)] if self.number is not None else []
        return "_".join([*ends, *words, *counts])

    def text(self, text: str | None) -> str | None:
        """A name or a caution for people, made to fit."""
        if text is None:
            return None
        made = re.sub(r"[A-Za-z]+", lambda found: self._swapped(found.group()), text)
        if self.number is not None:
            made += f" {self.number}"
        return f"{made} ({self.called})" if self.called else made

    def said(self, text: str) -> str:
        """Words that are not the name of one thing: only the sides change."""
        return re.sub(r"[A-Za-z]+", lambda found: self._swapped(found.group()), text)

    def steps(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Access steps: ways in become the steps they are bound to."""
        found: list[str] = []
        for name in names:
            found += self.ways[name] if name in self.ways else (self.id(name),)
        return tuple(dict.fromkeys(found))

    def fluid(self, name: str) -> str:
        """The machine's fluid that the part calls ``name``."""
        return self.fluids.get(name, name)

    def _swapped(self, word: str) -> str:
        for axis in self.turned_over:
            other = _SWAPS[axis].get(word.lower())
            if other is not None:
                return other.capitalize() if word[0].isupper() else other
        return word
