"""Placed parts and a layout's own entries put together into one machine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from leakdx.files.checked import Names, Problem
from leakdx.files.locations import Location
from leakdx.files.words import choose
from leakdx.kit.choices import Choices, applies
from leakdx.kit.contents import LISTS, Brought, brought
from leakdx.kit.frames import Frame, still, upright
from leakdx.kit.model import Changes, Contents, Layout, Own
from leakdx.kit.naming import Naming
from leakdx.kit.placing import Parts, Placed, every_naming, name_of, placed_parts
from leakdx.machine.checks import problems as machine_problems
from leakdx.machine.model import Fluid, Machine

R = TypeVar("R", bound=BaseModel)
# Where in the two files a problem is: the first step of its location names the file.
LAYOUT, BUILD = "layout", "build"
_WORDS = {
    "zones": "zone",
    "seal_points": "seal point",
    "access_steps": "access step",
    "inspections": "inspection",
    "causes": "cause",
    "fluids": "fluid",
}


@dataclass(frozen=True)
class Wanted:
    """What is to be built: names for the machine, the choices, and what a build adds."""

    id: str
    version: str
    name: str
    note: str
    choices: Choices
    own: tuple[Own, ...] = ()
    without: tuple[str, ...] = ()
    changes: Changes = field(default_factory=Changes)


@dataclass
class _Known:
    """Ids that are there, and those that would be under some choice, by list."""

    there: dict[str, set[str]] = field(default_factory=dict)
    possible: dict[str, set[str]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def kept(self, kind: str, names: Sequence[str], at: Location) -> tuple[str, ...]:
        """The names that are there; one that never could be is a problem."""
        found = []
        for i, name in enumerate(names):
            if name in self.there[kind]:
                found.append(name)
            elif name not in self.possible[kind]:
                pool = sorted(self.possible[kind])
                self.problems.append(
                    Problem(
                        (*at, i),
                        f"names the {_WORDS[kind]} '{name}', which this layout has under no option",
                        choose(name, pool, what=_WORDS[kind]),
                    )
                )
        return tuple(found)


@dataclass(frozen=True)
class Assembled:
    """A machine and what is wrong with how it was put together; problems name their file first."""

    machine: Machine
    problems: tuple[Problem, ...]


def assemble(layout: Layout, parts: Parts, wanted: Wanted) -> Assembled:
    """One machine of a layout.  The layout has been checked; ``wanted.choices`` are complete."""
    placed = placed_parts(layout, parts, wanted.choices)
    entries = list(_brought(layout, placed, wanted))
    known = _known(layout, parts, wanted)
    gone = {*layout.without, *wanted.without}
    known.problems += _unknown_removals(layout, wanted, known)
    entries = [b for b in entries if getattr(b.entry, "id", None) not in gone]
    known.problems += _repeated(entries)
    entries = _resolved(entries, known)
    fluids = _fluids(layout, wanted, known)
    for tag, changes in ((LAYOUT, layout.changes), (BUILD, wanted.changes)):
        entries = list(_changed(entries, changes, tag, known))
    machine = _machine(layout, wanted, entries, fluids)
    problems = [*known.problems, *_machine_problems(machine, entries)]
    return Assembled(machine, tuple(problems))


def _brought(layout: Layout, placed: Sequence[Placed], wanted: Wanted) -> Iterator[Brought]:
    frames: dict[str, Frame] = {}
    for p in placed:
        frames.setdefault(name_of(p.placement), p.frame)
        yield from brought(p.part, p.frame, p.naming, (LAYOUT, "parts", p.index))
    base = replace(still(), turn=upright(layout.down).turn)
    for tag, every in ((LAYOUT, layout.own), (BUILD, wanted.own)):
        for i, own in enumerate(every):
            if applies(own.when, wanted.choices) and (own.of is None or own.of in frames):
                frame = base if own.of is None else frames[own.of]
                yield from brought(own, frame, Naming(), (tag, "own", i))


def _ids(contents: Contents, naming: Naming) -> Iterator[tuple[str, str]]:
    for kind in LISTS:
        for entry in getattr(contents, kind):
            if kind != "paths":
                yield kind, naming.id(entry.id)


def _known(layout: Layout, parts: Parts, wanted: Wanted) -> _Known:
    known = _Known({kind: set() for kind in LISTS}, {kind: set() for kind in LISTS})
    every: list[tuple[Contents, Naming]] = [*every_naming(layout, parts)]
    every += [(own, Naming()) for own in (*layout.own, *wanted.own)]
    for contents, naming in every:
        for kind, name in _ids(contents, naming):
            known.possible[kind].add(name)
    return known


def _unknown_removals(layout: Layout, wanted: Wanted, known: _Known) -> Iterator[Problem]:
    pool = set().union(*known.possible.values())
    for tag, names in ((LAYOUT, layout.without), (BUILD, wanted.without)):
        for i, name in enumerate(names):
            if name not in pool:
                yield Problem(
                    (tag, "without", i),
                    f"names '{name}', which this layout has under no option",
                    choose(name, sorted(pool), what="id"),
                )


def _repeated(entries: Iterable[Brought]) -> Iterator[Problem]:
    first: dict[tuple[str, str], Brought] = {}
    for b in entries:
        name = getattr(b.entry, "id", None)
        if name is None:
            continue
        # Zones and seal points share one set of ids, as they do in a machine file.
        space = "places" if b.kind in ("zones", "seal_points") else b.kind
        if (space, name) in first:
            other = first[space, name].source
            yield Problem(
                b.source[:3],
                f"brings the {_WORDS[b.kind]} '{name}' again; {'.'.join(map(str, other[1:3]))} "
                "has brought it",
                "Give one of the two a prefix; mirroring changes only the words for the sides.",
            )
        first.setdefault((space, name), b)


def _resolved(entries: list[Brought], known: _Known) -> list[Brought]:
    """The entries without what is not there, first what others lean on."""
    found: list[Brought] = []
    for kinds in (("zones", "access_steps"), ("seal_points",), ("paths", "causes", "inspections")):
        chosen = [b for b in entries if b.kind in kinds]
        for b in chosen:
            if b.kind in ("zones", "access_steps"):
                known.there[b.kind].add(b.entry.id)  # type: ignore[union-attr]
        for b in chosen:
            entry = _TRIMS[b.kind](b, known)
            if entry is not None:
                found.append(replace(b, entry=entry))
                if b.kind == "seal_points":
                    known.there[b.kind].add(entry.id)
    return found


def _trim_zone(b: Brought, known: _Known) -> Any:
    return b.entry


def _trim_step(b: Brought, known: _Known) -> Any:
    entry: Any = b.entry
    after = known.kept("access_steps", entry.after, _at(b, "after"))
    return entry.model_copy(update={"after": after})


def _trim_path(b: Brought, known: _Known) -> Any:
    entry: Any = b.entry
    ends = known.kept("zones", (entry.source, entry.target), b.source)
    return entry if len(ends) == 2 else None


def _trim_seal(b: Brought, known: _Known) -> Any:
    entry: Any = b.entry
    zones = known.kept("zones", entry.zones, _at(b, "zones"))
    access = known.kept("access_steps", entry.access, _at(b, "access"))
    return entry.model_copy(update={"zones": zones, "access": access}) if zones else None


def _trim_cause(b: Brought, known: _Known) -> Any:
    entry: Any = b.entry
    raises = known.kept("seal_points", entry.raises, _at(b, "raises"))
    # A cause whose every listed seal point is gone must not turn into one that raises all.
    if entry.raises and not raises:
        return None
    return entry.model_copy(update={"raises": raises})


def _trim_inspection(b: Brought, known: _Known) -> Any:
    entry: Any = b.entry
    reads = entry.reads.model_copy(
        update={
            "zones": known.kept("zones", entry.reads.zones, _at(b, "reads", "zones")),
            "seal_points": known.kept(
                "seal_points", entry.reads.seal_points, _at(b, "reads", "seal_points")
            ),
        }
    )
    access = known.kept("access_steps", entry.access, _at(b, "access"))
    if not (reads.zones or reads.seal_points or reads.signs):
        return None
    return entry.model_copy(update={"reads": reads, "access": access})


_TRIMS: dict[str, Callable[[Brought, _Known], Any]] = {
    "zones": _trim_zone,
    "paths": _trim_path,
    "seal_points": _trim_seal,
    "causes": _trim_cause,
    "access_steps": _trim_step,
    "inspections": _trim_inspection,
}


def _at(b: Brought, *more: str) -> Location:
    """Where a reference of an entry is written: in the layout, or where it binds a part."""
    if b.source[1] == "parts":
        return (*b.source[:3], "ways_in") if "access" in more or "after" in more else b.source[:3]
    return (*b.source, *more)


def _fluids(layout: Layout, wanted: Wanted, known: _Known) -> list[Fluid]:
    known.there["fluids"] = known.possible["fluids"] = {f.id for f in layout.fluids}
    fluids: list[Fluid] = list(layout.fluids)
    for tag, changes in ((LAYOUT, layout.changes), (BUILD, wanted.changes)):
        for i, fields in enumerate(changes.fluids):
            at: Location = (tag, "changes", "fluids", i)
            made = [_patched(f, fields, at, known) for f in fluids if f.id == fields.get("id")]
            if not made:
                known.kept("fluids", [str(fields.get("id"))], at)
            fluids = [next((m for m in made if m.id == f.id), f) for f in fluids]
    return fluids


def _changed(
    entries: Iterable[Brought], changes: Changes, tag: str, known: _Known
) -> Iterator[Brought]:
    """The entries with the fields that a layout or build states otherwise."""
    asked: dict[tuple[str, str], tuple[int, dict[str, Any]]] = {}
    for kind in LISTS:
        for i, fields in enumerate(getattr(changes, kind, ())):
            name = str(fields.get("id"))
            known.kept(kind, [name], (tag, "changes", kind, i))
            asked[kind, name] = (i, fields)
    for b in entries:
        found = asked.get((b.kind, getattr(b.entry, "id", "")))
        if found is None:
            yield b
        else:
            at: Location = (tag, "changes", b.kind, found[0])
            yield Brought(b.kind, _patched(b.entry, found[1], at, known), at)


def _patched(record: R, fields: dict[str, Any], at: Location, known: _Known) -> R:
    """A record with some fields stated otherwise; what does not fit is a problem."""
    try:
        return type(record).model_validate(record.model_dump() | fields)
    except ValidationError as error:
        for e in error.errors(include_url=False):
            known.problems.append(
                Problem(
                    (*at, *(s for s in e["loc"] if s in fields or isinstance(s, int))),
                    f"cannot be changed so: {e['msg'][:1].lower()}{e['msg'][1:]}",
                    f"Fields of this entry: {', '.join(type(record).model_fields)}.",
                )
            )
        return record


def _machine(
    layout: Layout, wanted: Wanted, entries: Iterable[Brought], fluids: list[Fluid]
) -> Machine:
    lists: dict[str, Any] = {kind: [] for kind in LISTS}
    for b in entries:
        lists[b.kind].append(b.entry)
    used = {f for s in lists["seal_points"] for f in (s.fluid, s.leaks_into)}
    used |= {c.fluid for c in lists["causes"]}
    # The fields are validated records already: only the whole is put together here.
    return Machine.model_construct(
        format="leakdx-machine/1",
        id=wanted.id,
        version=wanted.version,
        name=wanted.name,
        note=wanted.note,
        fluids=tuple(f for f in fluids if f.id in used),
        neighbours=None,
        stands=layout.stands,
        zones=tuple(lists["zones"]),
        paths=tuple(lists["paths"]),
        seal_points=tuple(lists["seal_points"]),
        causes=tuple(lists["causes"]),
        access_steps=tuple(lists["access_steps"]),
        inspections=tuple(lists["inspections"]),
    )


def _machine_problems(machine: Machine, entries: Sequence[Brought]) -> Iterator[Problem]:
    """What a machine file would be told, at the line of the layout that brought it about."""
    by_list: dict[str, list[Brought]] = {kind: [] for kind in LISTS}
    for b in entries:
        by_list[b.kind].append(b)
    ids: dict[str, tuple[tuple[int, str], ...]] = {
        kind: tuple(enumerate(b.entry.id for b in found if not hasattr(b.entry, "target")))
        for kind, found in by_list.items()
        if kind != "paths"
    }
    ids["fluids"] = tuple(enumerate(f.id for f in machine.fluids))
    for found in machine_problems(machine, Names(ids)):
        kind, index = str(found.location[0]), found.location[1]
        if "is the id of" in found.problem or not isinstance(index, int):
            continue
        b = by_list[kind][index]
        if b.source[1] != "parts":
            yield Problem((*b.source, *found.location[2:]), found.problem, found.remedy)
        else:
            name = getattr(b.entry, "id", kind)
            yield Problem(b.source[:3], f"brings '{name}', which {found.problem}", found.remedy)
