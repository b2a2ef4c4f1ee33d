"""Data against a model: everything wrong at once, each with its line and what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from leakdx.files.faults import Fault, FaultyInput, limited
from leakdx.files.locations import Location, followed, path_of, value_at
from leakdx.files.remedies import Finding, in_words
from leakdx.files.shapes import keys_at, tags_at
from leakdx.files.words import nearest
from leakdx.files.yaml_lines import Document

M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True)
class Problem:
    """Something that no single value shows, such as a name that is not there."""

    location: Location
    problem: str
    remedy: str


@dataclass(frozen=True)
class Names:
    """Ids as written, by list: {"zones": ((0, "sump"), ...)}.

    They come from the data as written, so that an entry with a fault of its own still counts
    as there for whatever refers to it.
    """

    by_list: Mapping[str, tuple[tuple[int, str], ...]]

    def of(self, key: str) -> tuple[str, ...]:
        """The ids in the list ``key``, in order, each once."""
        return tuple(dict.fromkeys(name for _, name in self.by_list.get(key, ())))

    def counted(self, key: str) -> tuple[tuple[int, str], ...]:
        """The ids in the list ``key`` with their place in it."""
        return self.by_list.get(key, ())


@dataclass(frozen=True)
class CrossCheck(Generic[M]):
    """Checks of the parts of a model against each other.

    ``stand_ins`` are harmless values for required keys at the top, used to look at the rest
    of a file in which one of them is faulty.
    """

    problems: Callable[[M, Names], Iterable[Problem]]
    stand_ins: Mapping[str, Any]


def names_in(data: Any) -> Names:
    """The ids of every list at the top of ``data``."""
    found: dict[str, tuple[tuple[int, str], ...]] = {}
    for key, entries in data.items() if isinstance(data, Mapping) else ():
        if isinstance(entries, list | tuple):
            found[key] = tuple(
                (i, e["id"])
                for i, e in enumerate(entries)
                if isinstance(e, Mapping) and isinstance(e.get("id"), str)
            )
    return Names(found)


def fault_at(document: Document, location: Location, problem: str, remedy: str) -> Fault:
    """A fault at a location of the document."""
    return Fault(
        document.file, document.line(location), path_of(location, document.data), problem, remedy
    )


def _shape_faults(
    model: type[BaseModel], document: Document, error: ValidationError
) -> Iterator[tuple[Location, Fault | None]]:
    """Every faulty location, and what to tell of it; None where another fault tells it."""
    every = [(followed(e["loc"], document.data), e) for e in error.errors(include_url=False)]
    deeper = {location[:i] for location, _ in every for i in range(len(location))}
    lists = {at for at, e in every if e["type"] in ("tuple_type", "list_type")}
    told: set[Location] = set()
    for location, entry in every:
        # A value that may be a word or a list fails as both, and a list whose every entry is
        # faulty counts as empty; only the fault further in is told.
        shadowed = entry["type"] in ("literal_error", "too_short") and location in deeper
        if location in told or shadowed:
            continue
        told.add(location)
        place = document.place(location)
        of_key = entry["type"] in ("missing", "extra_forbidden")
        keys = keys_at(model, entry["loc"][:-1] if of_key else entry["loc"])
        if entry["type"] == "missing" and _misspelt(location, keys, document):
            yield location, None
            continue
        finding = Finding(
            kind=entry["type"],
            key=str(location[-1]) if location else "",
            value=entry["input"],
            context=entry.get("ctx", {}),
            message=entry["msg"],
            written=None if place is None else place.word,
            keys=keys,
            tags=tags_at(model, entry["loc"]),
        )
        problem, remedy = in_words(finding)
        if entry["type"] == "literal_error" and location in lists:
            remedy += " A list may stand here too."
        yield location, fault_at(document, location, problem, remedy)


def _misspelt(location: Location, keys: tuple[str, ...], document: Document) -> bool:
    """Whether the missing key is there under a wrong name; that is told as a fault of the name."""
    beside = value_at(location[:-1], document.data)
    if not isinstance(beside, Mapping):
        return False
    strange = [str(key) for key in beside if key not in keys]
    return any(nearest(key, keys) == location[-1] for key in strange[:20])


def _number_faults(document: Document, made: Any, location: Location = ()) -> Iterator[Fault]:
    """Truth values and quoted digits that the validator took for numbers.

    It would read ``area_mm2: true`` as 1 mm2.  Keys of a mapping are left alone: JSON has no
    other way to write a number there.
    """
    raw = value_at(location, document.data)
    if isinstance(made, BaseModel) and isinstance(raw, Mapping):
        for key in made.model_fields_set:
            yield from _number_faults(document, getattr(made, key), (*location, key))
    elif isinstance(made, Mapping) and isinstance(raw, Mapping):
        for key in raw:
            yield from _number_faults(document, made.get(key), (*location, key))
    elif isinstance(made, tuple):
        for i, entry in enumerate(made):
            yield from _number_faults(document, entry, (*location, i))
    elif isinstance(raw, bool | str) and type(made) in (int, float):
        finding = Finding("float_type", str(location[-1]), raw, {})
        yield fault_at(document, location, *in_words(finding))


def _salvage(
    data: Mapping[str, Any], bad: Iterable[Location], stand_ins: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, list[int]]]:
    """The data without its faulty parts, and which entries of each cut list are left."""
    entries: dict[str, set[int]] = {}
    keys: set[Any] = set()
    for location in bad:
        if not location:
            continue
        top = str(location[0])
        if (
            len(location) > 1
            and isinstance(location[1], int)
            and isinstance(data.get(top), list | tuple)
        ):
            entries.setdefault(top, set()).add(location[1])
        else:
            keys.add(top)
    left = {k: v for k, v in data.items() if k not in keys}
    left.update({k: stand_ins[k] for k in keys if k in stand_ins})
    kept: dict[str, list[int]] = {}
    for key, gone in entries.items():
        if key in left:
            kept[key] = [i for i in range(len(data[key])) if i not in gone]
            left[key] = [data[key][i] for i in kept[key]]
    return left, kept


def _restored(location: Location, kept: Mapping[str, list[int]]) -> Location:
    """A location in the salvaged data as a location in the data as written."""
    if len(location) > 1 and isinstance(location[0], str) and isinstance(location[1], int):
        places = kept.get(location[0])
        if places is not None and location[1] < len(places):
            return (location[0], places[location[1]], *location[2:])
    return location


def _cross_faults(
    made: M, document: Document, check: CrossCheck[M], kept: Mapping[str, list[int]]
) -> Iterator[Fault]:
    for found in check.problems(made, names_in(document.data)):
        location = _restored(found.location, kept)
        yield fault_at(document, location, found.problem, found.remedy)


def _faults(
    model: type[M], document: Document, error: ValidationError, check: CrossCheck[M] | None
) -> Iterator[Fault]:
    bad: list[Location] = []
    for location, fault in _shape_faults(model, document, error):
        bad.append(location)
        if fault is not None:
            yield fault
    if check is None or not isinstance(document.data, Mapping):
        return
    left, kept = _salvage(document.data, bad, check.stand_ins)
    try:
        made = model.model_validate(left)
    except ValidationError:
        return
    yield from _cross_faults(made, document, check, kept)


def validated(model: type[M], document: Document, check: CrossCheck[M] | None = None) -> M:
    """The document as ``model``, with its parts checked against each other.

    Raises:
        FaultyInput: with every fault: of shape, and between the parts that have a shape.
    """
    try:
        made = model.model_validate(document.data)
    except ValidationError as error:
        raise FaultyInput(_in_order(limited(_faults(model, document, error, check)))) from None
    faults = list(limited(_number_faults(document, made)))
    if check is not None:
        faults += limited(_cross_faults(made, document, check, {}))
    if faults:
        raise FaultyInput(_in_order(limited(faults)))
    return made


def _in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Faults by line, as a person mends a file; those without a line last."""
    return sorted(faults, key=lambda f: (f.line is None, f.line or 0))
