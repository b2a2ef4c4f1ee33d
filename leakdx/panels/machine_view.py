"""A machine as the page shows it: the map to tap, and every word that can be said of it."""

from __future__ import annotations

from typing import Any

from leakdx.advice.next_look import spoken
from leakdx.drawing.tapmap import tap_map, to_json
from leakdx.machine.model import Machine
from leakdx.panels.glossary import CONTEXTS, SIGNS, words


def machine_view(machine: Machine) -> dict[str, Any]:
    """Everything of a machine that does not depend on a job; about a second of work."""
    return {
        "id": machine.id,
        "name": machine.name,
        "note": machine.note,
        **to_json(tap_map(machine)),
        "stands": [{"id": s.id, "name": s.name or spoken(s.id)} for s in machine.stands],
        "signs": [
            {"id": kind.value, "ask": w.ask.format(fluid="fluid"), "help": w.help}
            for kind, w in SIGNS.items()
        ],
        "contexts": [
            {"id": kind.value, "said": c.said, "help": c.help, "about": list(c.about)}
            for kind, c in CONTEXTS.items()
        ],
        "inspections": [
            {
                "id": i.id,
                "name": i.name or spoken(i.id),
                "minutes": i.minutes,
                "method": i.method.value,
            }
            for i in machine.inspections
        ],
        "words": words(),
    }
