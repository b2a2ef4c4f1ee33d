"""What can be added to a job, as frozen data and as it is written; a job is their sum."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, TypeAdapter

from leakdx.case.loaded import self_contained
from leakdx.case.model import Conditions, Costs, Event, Job

Plain = dict[str, Any]
_EVENT: TypeAdapter[Event] = TypeAdapter(Event)


@dataclass(frozen=True)
class Entered:
    """Something seen, done or taken back: one more entry at the end of the timeline.

    ``event`` is an entry or its plain data, keys and units as in a job file.
    """

    event: Event | Mapping[str, Any]


@dataclass(frozen=True)
class ConditionsSet:
    """How the machine stood and ran, in place of what was said before."""

    conditions: Conditions | Mapping[str, Any]


@dataclass(frozen=True)
class CostsSet:
    """What a repair costs, in place of what was said before; None takes it out."""

    costs: Costs | Mapping[str, Any] | None


@dataclass(frozen=True)
class Renamed:
    """Another title."""

    title: str


Change = Entered | ConditionsSet | CostsSet | Renamed


def plain(value: object) -> Any:
    """A model as plain data that JSON can hold, with only what was set; other data as it is."""
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json", exclude_unset=True)
    return value


def applied(data: Plain, changes: Iterable[Change]) -> Plain:
    """The plain data of a job after some changes; ``data`` stays as it is."""
    made = data | {"timeline": list(data.get("timeline", ()))}
    for change in changes:
        match change:
            case Entered(event):
                made["timeline"].append(plain(event))
            case ConditionsSet(conditions):
                made["conditions"] = plain(conditions)
            case CostsSet(costs):
                made["costs"] = plain(costs)
            case Renamed(title):
                made["name"] = title
    return made


def begun_of(job: Job) -> tuple[str, str]:
    """How the beginning of a job is written: kind and body, without the timeline."""
    data = plain(self_contained(job))
    data.pop("timeline", None)
    return "begun", json.dumps(data)


def standing(changes: Sequence[Change]) -> tuple[Change, ...]:
    """The changes without those that a later one of them replaces."""
    last = {type(change): place for place, change in enumerate(changes)}
    return tuple(
        change
        for place, change in enumerate(changes)
        if isinstance(change, Entered) or last[type(change)] == place
    )


def written(changes: Iterable[Change], job: Job) -> list[tuple[str, str]]:
    """How changes are written, as kind and body: as ``job`` took them, which has them last."""
    every = tuple(changes)
    place = len(job.timeline) - sum(isinstance(change, Entered) for change in every)
    rows: list[tuple[str, Any]] = []
    for change in every:
        match change:
            case Entered():
                rows.append(("entered", plain(job.timeline[place])))
                place += 1
            case ConditionsSet():
                rows.append(("conditions", plain(job.conditions)))
            case CostsSet():
                rows.append(("costs", plain(job.costs)))
            case Renamed():
                rows.append(("renamed", {"title": job.name}))
    return [(kind, json.dumps(body)) for kind, body in rows]


def change_of(kind: str, body: str) -> Change:
    """The change that was written so; what is in it is a model again.

    Raises:
        ValueError: where the body is not what is written for that kind.
    """
    data = json.loads(body)
    match kind:
        case "entered":
            return Entered(_EVENT.validate_python(data))
        case "conditions":
            return ConditionsSet(Conditions.model_validate(data))
        case "costs":
            return CostsSet(None if data is None else Costs.model_validate(data))
        case "renamed" if isinstance(data, dict) and isinstance(data.get("title"), str):
            return Renamed(data["title"])
    raise ValueError(f"no change is written as {kind!r}")


def summed(rows: Iterable[tuple[str, str]]) -> Plain:
    """The plain data of a job from all that was written of it, oldest first, as kind and body.

    Raises:
        ValueError: where the first is no beginning, or a body is not JSON.
    """
    data: Plain | None = None
    timeline: list[Any] = []
    for kind, body in rows:
        value = json.loads(body)
        if kind == "begun" and data is None and isinstance(value, dict):
            data = value
        elif data is None or kind == "begun":
            raise ValueError("a job begins once, with its beginning")
        elif kind == "entered":
            timeline.append(value)
        elif kind in ("conditions", "costs"):
            data[kind] = value
        elif kind == "renamed" and isinstance(value, dict):
            data["name"] = value.get("title")
        else:
            raise ValueError(f"nothing is written as {kind!r}")
    if data is None:
        raise ValueError("nothing was written of it")
    return data | {"timeline": timeline}
