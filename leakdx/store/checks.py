"""A job checked whole before it is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from leakdx.case.loaded import LoadedJob
from leakdx.case.read import job_from
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.locations import Location, path_of
from leakdx.machine.model import Machine

# A case file of a few hundred such notes is still small enough to be read.
LONGEST_TEXT = 10_000


def checked(data: Mapping[str, Any], machine: Machine) -> LoadedJob:
    """The job in plain data on ``machine``, with only text that a file can hold.

    Raises:
        FaultyInput: with everything that is wrong with it.
    """
    odd = list(_odd_texts(data, (), data))
    try:
        loaded = job_from(data, machine)
    except FaultyInput as error:
        told = {fault.path for fault in error.faults}
        raise FaultyInput((*error.faults, *(f for f in odd if f.path not in told))) from None
    if odd:
        raise FaultyInput(odd)
    return loaded


def _odd_texts(value: Any, here: Location, data: Mapping[str, Any]) -> Iterator[Fault]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _odd_texts(inner, (*here, key), data)
    elif isinstance(value, list | tuple):
        for place, inner in enumerate(value):
            yield from _odd_texts(inner, (*here, place), data)
    elif isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            yield Fault(
                "",
                None,
                path_of(here, data),
                f"is longer than {LONGEST_TEXT} letters",
                "Shorten it, or make several notes of it.",
            )
        try:
            value.encode()
        except UnicodeEncodeError as error:
            yield Fault(
                "",
                None,
                path_of(here, data),
                f"has half of a sign after {error.start} letters, which no file can hold",
                "Write it again, or take that sign out.",
            )
