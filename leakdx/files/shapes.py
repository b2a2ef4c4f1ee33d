"""Which keys a model takes at a location, read from the model itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel, Tag

from leakdx.files.locations import Step


@dataclass(frozen=True)
class _Branch:
    """A model that may stand at a location, and the tag that chooses it in a union."""

    model: type[BaseModel]
    tag: str | None = None

    def chosen_by(self, step: Step) -> bool:
        if self.tag is not None:
            return self.tag == step
        return any(
            get_origin(f.annotation) is Literal and step in get_args(f.annotation)
            for f in self.model.model_fields.values()
        )


def _branches(annotation: Any, tag: str | None = None) -> Iterator[_Branch]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield _Branch(annotation, tag)
        return
    inner = get_args(annotation)
    if get_origin(annotation) is Annotated:
        for extra in inner[1:]:
            tag = extra.tag if isinstance(extra, Tag) else tag
        inner = inner[:1]
    elif get_origin(annotation) is Literal:
        return
    for part in inner:
        yield from _branches(part, tag)


def _at(model: type[BaseModel], location: Sequence[Step]) -> list[_Branch]:
    here = [_Branch(model)]
    for step in location:
        chosen = [branch for branch in here if branch.chosen_by(step)]
        if chosen and len(here) > 1:
            # The step is spent on the choice; the next one is a key of the chosen model.
            here = [_Branch(branch.model) for branch in chosen]
            continue
        holders = [b for b in here if isinstance(step, str) and step in b.model.model_fields]
        if holders:
            here = [
                inner
                for holder in holders
                for inner in _branches(holder.model.model_fields[str(step)].annotation)
            ]
    return here


def keys_at(model: type[BaseModel], location: Sequence[Step]) -> tuple[str, ...]:
    """The keys that may stand in the mapping at a validator's ``location`` inside ``model``."""
    found: dict[str, None] = {}
    for branch in _at(model, location):
        found.update(dict.fromkeys(branch.model.model_fields))
    return tuple(found)


def tags_at(model: type[BaseModel], location: Sequence[Step]) -> tuple[str, ...]:
    """The keys that decide which kind of entry stands at ``location``; empty without a choice."""
    return tuple(branch.tag for branch in _at(model, location) if branch.tag is not None)
