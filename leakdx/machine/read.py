"""Machines that are written out, from files and from plain data."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from leakdx.files.checked import validated
from leakdx.files.yaml_lines import Document, read_document
from leakdx.machine.checks import MACHINE_CHECK
from leakdx.machine.model import Machine


def machine_of(document: Document) -> Machine:
    """The machine in a document.

    Raises:
        FaultyInput: with everything that is wrong with it.
    """
    return validated(Machine, document, MACHINE_CHECK)


def load_machine(path: str | Path) -> Machine:
    """The machine in the file at ``path``.

    Raises:
        FaultyInput: where the file cannot be read, or with everything that is wrong with it.
    """
    return machine_of(read_document(path))


def machine_from(data: Mapping[str, Any]) -> Machine:
    """The machine in plain data, keys and units as in a file.

    Raises:
        FaultyInput: with everything that is wrong with it; its faults have no file and line.
    """
    return machine_of(Document("", data))
