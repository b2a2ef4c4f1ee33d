"""Machines as the store keeps them: written out whole, named by a digest of the text."""

from __future__ import annotations

import json
from functools import lru_cache
from hashlib import sha256

from leakdx.machine.model import Machine
from leakdx.machine.read import machine_from


def text_of(machine: Machine) -> str:
    """The machine as one JSON document, format leakdx-machine/1, with only what was set."""
    return machine.model_dump_json(exclude_unset=True)


def digest_of(text: str) -> str:
    """The name of a text, the same for the same text only."""
    return sha256(text.encode()).hexdigest()


@lru_cache(maxsize=32)
def machine_in(text: str) -> Machine:
    """The machine in a text that the store keeps, read once a process.

    Raises:
        ValueError: where the text is no JSON.
        FaultyInput: where it is no machine.
    """
    return machine_from(json.loads(text))
