"""A machine of one's own by choosing from a layout: choices in words, and the build they make."""

from __future__ import annotations

from collections.abc import Mapping

from leakdx.files.words import as_identifier
from leakdx.kit.model import BUILD_FORMAT, Build, Choice, Layout, LayoutReference, Option

USUAL_NAME = "My machine"


def said(choice: Choice) -> str:
    """A choice as a person writes it."""
    if isinstance(choice, bool):
        return "yes" if choice else "no"
    return str(choice)


def understood(option: Option, text: str) -> Choice | None:
    """The choice that ``text`` means; None where it is none of them."""
    word = text.strip().lower()
    word = {"y": "yes", "n": "no", "true": "yes", "false": "no"}.get(word, word)
    return next((c for c in option.choices if said(c) == word), None)


def build_as(
    layout: Layout, chosen: Mapping[str, Choice], name: str, machine_id: str | None = None
) -> Build:
    """The build of a layout under some choices; what is not chosen is as usual.

    machine_id: made from the name if None.
    """
    return Build.model_validate(
        {
            "format": BUILD_FORMAT,
            "id": as_identifier(machine_id or name) or "my_machine",
            "version": "1",
            "name": name,
            "layout": LayoutReference(id=layout.id, version=layout.version),
            "options": {o.id: chosen.get(o.id, o.usual) for o in layout.options},
        }
    )
