"""The start screen: the jobs there are, examples, machines to begin with, and the first walk."""

from __future__ import annotations

from functools import cache
from typing import Any, TypedDict

from leakdx.files.places import shipped_document, shipped_ids
from leakdx.kit.model import Layout
from leakdx.kit.wishing import said
from leakdx.panels.walk import JOB, Walk, first_walk
from leakdx.store.store import CaseStore


class OnShelf(TypedDict):
    """One job of the store.  changed: "2026-11-27 14:05"."""

    id: str
    title: str
    machine: str
    entries: int
    changed: str


class ExampleSaid(TypedDict):
    """A job that comes with leakdx."""

    id: str
    title: str
    machine: str


class ChoiceSaid(TypedDict):
    """One answer of an option."""

    value: str
    said: str


class OptionSaid(TypedDict):
    """What is asked before a machine is made from a layout."""

    id: str
    ask: str
    choices: list[ChoiceSaid]
    usual: str


class LayoutSaid(TypedDict):
    """A layout to choose a machine from."""

    id: str
    name: str
    options: list[OptionSaid]


class MachineSaid(TypedDict):
    """A machine that comes with leakdx."""

    id: str
    name: str


class ShelfView(TypedDict):
    """The start screen."""

    jobs: list[OnShelf]
    examples: list[ExampleSaid]
    machines: list[MachineSaid]
    layouts: list[LayoutSaid]
    folder: str
    walk: Walk


def shelf_view(store: CaseStore | None) -> ShelfView:
    """The shelf; without a store there are no jobs on it.

    Raises:
        FaultyInput: where the store cannot be read.
    """
    jobs = () if store is None else store.jobs()
    return {
        "jobs": [
            {
                "id": job.id,
                "title": job.title,
                "machine": job.machine,
                "entries": job.entries,
                "changed": job.changed_said,
            }
            for job in jobs
        ],
        "examples": _examples(),
        "machines": _machines(),
        "layouts": _layouts(),
        "folder": "" if store is None else str(store.folder),
        "walk": first_walk(),
    }


@cache
def _machines() -> list[MachineSaid]:
    return [{"id": m, "name": _data("machines", m)["name"]} for m in shipped_ids("machines")]


@cache
def _examples() -> list[ExampleSaid]:
    found: list[ExampleSaid] = []
    # The one for the first walk is the first that is offered.
    for job in sorted(shipped_ids("jobs"), key=lambda one: one != JOB):
        data = _data("jobs", job)
        machine = data["machine"]["id"]
        found.append({"id": job, "title": data.get("name") or job, "machine": _name_of(machine)})
    return found


@cache
def _layouts() -> list[LayoutSaid]:
    """Read without being put together: that takes seconds, and tests have done it."""
    layouts = [Layout.model_validate(_data("layouts", one)) for one in shipped_ids("layouts")]
    return [
        {
            "id": layout.id,
            "name": layout.name,
            "options": [
                {
                    "id": o.id,
                    "ask": o.ask,
                    "choices": [{"value": said(c), "said": said(c)} for c in o.choices],
                    "usual": said(o.usual),
                }
                for o in layout.options
            ],
        }
        for layout in layouts
    ]


def _name_of(machine_id: str) -> str:
    kind = "machines" if machine_id in shipped_ids("machines") else "layouts"
    return str(_data(kind, machine_id)["name"])


@cache
def _data(kind: str, name: str) -> dict[str, Any]:
    data: dict[str, Any] = shipped_document(kind, name).data
    return data
