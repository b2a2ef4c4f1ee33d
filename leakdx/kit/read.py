"""Machines from files of all three kinds: written out, a layout as it is, or a build of one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from leakdx.files.checked import CrossCheck, Names, Problem, validated
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.places import shipped_document, shipped_ids
from leakdx.files.words import choose, listed, plain, shown
from leakdx.files.yaml_lines import Document, read_document
from leakdx.kit.assembling import BUILD, Assembled, Wanted, assemble
from leakdx.kit.checks import PART_CHECK, structure_problems
from leakdx.kit.choices import Choices, chosen, offers
from leakdx.kit.model import BUILD_FORMAT, LAYOUT_FORMAT, Build, Layout, Part
from leakdx.kit.overlaps import overlapping
from leakdx.kit.placing import Parts, name_of, placed_parts
from leakdx.machine.model import Machine
from leakdx.machine.read import machine_of as written_machine

_LAYOUT_STAND_INS: Mapping[str, Any] = {
    "format": LAYOUT_FORMAT,
    "id": "layout",
    "version": "1",
    "name": "layout",
    "down": [0, 0, -1],
}
_BUILD_STAND_INS: Mapping[str, Any] = {
    "format": BUILD_FORMAT,
    "id": "machine",
    "version": "1",
    "name": "machine",
}


@dataclass(frozen=True)
class LoadedLayout:
    """A layout and the parts it places, checked against each other."""

    layout: Layout
    parts: Parts


def part_of(document: Document) -> Part:
    """The part in a document.

    Raises:
        FaultyInput: with everything that is wrong with it.
    """
    return validated(Part, document, PART_CHECK)


@lru_cache(maxsize=256)
def shipped_part(part_id: str) -> Part:
    """A part that comes with the library.

    Raises:
        FaultyInput: where there is none of that id; the nearest is named.
    """
    return part_of(shipped_document("parts", part_id))


def _parts_of(document: Document, folder: Path | None) -> tuple[dict[str, Part], list[Fault]]:
    """The parts a layout names, from beside it or from the library, and their faults."""
    data = document.data.get("parts") if isinstance(document.data, Mapping) else None
    entries = data if isinstance(data, list | tuple) else []
    names = {e["part"] for e in entries if isinstance(e, Mapping) and _named(e.get("part"))}
    parts: dict[str, Part] = {}
    faults: list[Fault] = []
    for name in sorted(names):
        beside = None if folder is None else folder / "parts" / f"{name}.yaml"
        try:
            if beside is not None and beside.is_file():
                parts[name] = part_of(read_document(beside))
            elif name in shipped_ids("parts"):
                parts[name] = shipped_part(name)
        except FaultyInput as error:
            faults += error.faults
    return parts, faults


def _named(value: Any) -> bool:
    return isinstance(value, str) and value.isidentifier()


def wanted_as_is(layout: Layout, choices: Choices) -> Wanted:
    """A layout's own machine under some choices."""
    return Wanted(layout.id, layout.version, layout.name, layout.note, choices)


def _fit_problems(loaded: LoadedLayout, made: Assembled, choices: Choices) -> Iterator[Problem]:
    """What is wrong with a layout as put together; locations begin with the file's name."""
    yield from made.problems
    for one, other, depth in overlapping(placed_parts(loaded.layout, loaded.parts, choices)):
        yield Problem(
            ("layout", "parts", other.index),
            f"puts '{name_of(other.placement)}' {depth:.0f} mm into '{name_of(one.placement)}'",
            "Move one of them with at_mm, or make their solid_mm smaller if they do fit.",
        )
    if not made.machine.seal_points:
        yield Problem(("layout", "parts"), "has no seal point", "Place a part that has one.")


def layout_of(document: Document, folder: Path | None) -> LoadedLayout:
    """The layout in a document, and its parts; ``folder`` may hold a folder of own parts.

    Raises:
        FaultyInput: with everything that is wrong with it under its usual options.
    """
    parts, faults = _parts_of(document, folder)

    def problems(layout: Layout, names: Names) -> Iterator[Problem]:
        structural = list(structure_problems(layout, parts, names))
        if faults:
            # A part with faults of its own is not there to be joined to: that is told already.
            structural = [p for p in structural if p.location[-1:] != ("part",)]
        yield from structural
        if not structural and not faults:
            choices = chosen(layout, {})
            made = assemble(layout, parts, wanted_as_is(layout, choices))
            for p in _fit_problems(LoadedLayout(layout, parts), made, choices):
                yield Problem(p.location[1:], p.problem, p.remedy)

    try:
        layout = validated(Layout, document, CrossCheck(problems, _LAYOUT_STAND_INS))
    except FaultyInput as error:
        raise FaultyInput((*faults, *error.faults)) from None
    if faults:
        raise FaultyInput(faults)
    return LoadedLayout(layout, parts)


def load_layout(path: str | Path) -> LoadedLayout:
    """The layout in the file at ``path``.

    Raises:
        FaultyInput: where a file cannot be read, or with everything that is wrong.
    """
    return layout_of(read_document(path), Path(path).parent)


def shipped_layouts() -> tuple[str, ...]:
    """Ids of the layouts that come with the library."""
    return shipped_ids("layouts")


@lru_cache(maxsize=64)
def load_shipped_layout(layout_id: str) -> LoadedLayout:
    """A layout that comes with the library.

    Raises:
        FaultyInput: where there is none of that id; the nearest is named.
    """
    return layout_of(shipped_document("layouts", layout_id), None)


def machine_as_is(loaded: LoadedLayout, options: Choices | None = None) -> Machine:
    """A layout's own machine: its usual options, but for those given.

    Raises:
        FaultyInput: where an option is not the layout's, or does not go with it.
    """
    made = chosen(loaded.layout, options or {})
    problems = list(_option_problems(loaded.layout, options or {}))
    if not problems:
        assembled = assemble(loaded.layout, loaded.parts, wanted_as_is(loaded.layout, made))
        problems = list(_fit_problems(loaded, assembled, made))
        if not problems:
            return assembled.machine
    raise FaultyInput(
        Fault("", None, ".".join(map(str, p.location)), p.problem, p.remedy) for p in problems
    )


def _option_problems(layout: Layout, options: Choices) -> Iterator[Problem]:
    known = {option.id: option for option in layout.options}
    for name, choice in options.items():
        if name not in known:
            yield Problem(
                ("options", name),
                f"is no option of the layout '{layout.id}'",
                choose(name, known, what="option"),
            )
        elif not offers(known[name], choice):
            said = listed(shown(c).strip("'") for c in known[name].choices)
            yield Problem(
                ("options", name),
                f"is {shown(choice)}, which the layout '{layout.id}' does not offer",
                f"Use one of: {said}.",
            )


def _layout_for(document: Document, folder: Path | None) -> LoadedLayout | list[Fault]:
    """The layout a build names, or what is wrong with it."""
    data = document.data.get("layout") if isinstance(document.data, Mapping) else None
    name, file = (data.get("id"), data.get("file")) if isinstance(data, Mapping) else (None, None)
    if not isinstance(name, str):
        return []
    try:
        if isinstance(file, str):
            return load_layout(Path(file) if folder is None else folder / file)
        if name in shipped_layouts():
            return load_shipped_layout(name)
    except FaultyInput as error:
        return list(error.faults)
    return []


def build_of(document: Document, folder: Path | None) -> Machine:
    """The machine that a build describes; ``folder`` is where a layout's file is looked for.

    Raises:
        FaultyInput: with everything that is wrong with the build, or with its layout.
    """
    loaded = _layout_for(document, folder)
    if isinstance(loaded, list) and loaded:
        raise FaultyInput(loaded)
    kept: list[Machine] = []

    def problems(build: Build, names: Names) -> Iterator[Problem]:
        if isinstance(loaded, list):
            yield Problem(
                ("layout", "id"),
                f"names the layout '{build.layout.id}', which does not come with the library",
                choose(build.layout.id, shipped_layouts(), what="layout")
                + " For a layout of your own, add 'file:' with the path to its file.",
            )
            return
        layout = loaded.layout
        if (build.layout.id, build.layout.version) != (layout.id, layout.version):
            yield Problem(
                ("layout", "version" if build.layout.id == layout.id else "id"),
                f"is '{plain(build.layout.id)}' version '{plain(build.layout.version)}', but the "
                f"layout there is '{layout.id}' version '{layout.version}'",
                "Check the machine against the new layout, then write its id and version here.",
            )
        wrong = list(_option_problems(layout, build.options))
        yield from wrong
        yield from _own_problems(build, layout)
        if not wrong:
            yield from _built(build, loaded, kept)

    validated(Build, document, CrossCheck(problems, _BUILD_STAND_INS))
    return kept[0]


def _own_problems(build: Build, layout: Layout) -> Iterator[Problem]:
    placed = [name_of(p) for p in layout.parts]
    for i, own in enumerate(build.own):
        if own.of is not None and own.of not in placed:
            yield Problem(
                ("own", i, "of"),
                f"is '{own.of}', which the layout '{layout.id}' does not place",
                choose(own.of, placed, what="placed part"),
            )


def _built(build: Build, loaded: LoadedLayout, kept: list[Machine]) -> Iterator[Problem]:
    choices = chosen(loaded.layout, build.options)
    wanted = Wanted(
        id=build.id,
        version=build.version,
        name=build.name,
        note=build.note,
        choices=choices,
        own=build.own,
        without=build.without,
        changes=build.changes,
    )
    made = assemble(loaded.layout, loaded.parts, wanted)
    for p in _fit_problems(loaded, made, choices):
        if p.location[0] == BUILD:
            yield Problem(p.location[1:], p.problem, p.remedy)
        else:
            yield Problem(
                ("options",),
                f"lead to a fault of the layout '{loaded.layout.id}': "
                f"{'.'.join(map(str, p.location[1:]))} {p.problem}",
                f"Choose otherwise, or mend the layout. {p.remedy}",
            )
    kept.append(made.machine)


def machine_of(document: Document, folder: Path | None = None) -> Machine:
    """The machine in a document of any of the three kinds.

    Raises:
        FaultyInput: with everything that is wrong with it.
    """
    kind = document.data.get("format") if isinstance(document.data, Mapping) else None
    if kind == BUILD_FORMAT:
        return build_of(document, folder)
    if kind == LAYOUT_FORMAT:
        return machine_as_is(layout_of(document, folder))
    return written_machine(document)


def load_machine(path: str | Path) -> Machine:
    """The machine in the file at ``path``: written out, a layout as it is, or a build.

    Raises:
        FaultyInput: where the file cannot be read, or with everything that is wrong with it.
    """
    return machine_of(read_document(path), Path(path).parent)


def machine_from(data: Mapping[str, Any]) -> Machine:
    """The machine in plain data of any of the three kinds, keys and units as in a file.

    Raises:
        FaultyInput: with everything that is wrong with it; its faults have no file and line.
    """
    return machine_of(Document("", data))


def shipped_machines() -> tuple[str, ...]:
    """Ids of the machines that come with the library, the layouts as they are among them."""
    return tuple(sorted({*shipped_ids("machines"), *shipped_layouts()}))


@lru_cache(maxsize=64)
def load_shipped(machine_id: str) -> Machine:
    """A machine that comes with the library: a machine file, or a layout as it is.

    Raises:
        FaultyInput: where there is none of that id; the nearest is named.
    """
    if machine_id in shipped_layouts():
        return machine_as_is(load_shipped_layout(machine_id))
    if machine_id not in shipped_machines():
        known = shipped_machines()
        raise FaultyInput(
            [
                Fault(
                    "",
                    None,
                    "",
                    f"no machine '{plain(machine_id)}' comes with the library",
                    choose(machine_id, known, what="machine"),
                )
            ]
        )
    return machine_of(shipped_document("machines", machine_id))


def chosen_machine(name: str) -> Machine:
    """The machine that a person names: a file, or the id of one that comes with the library.

    Raises:
        FaultyInput: with what is wrong with it.
    """
    path = Path(name)
    if name in shipped_machines() and not path.exists():
        return load_shipped(name)
    if not path.suffix and not path.exists():
        return load_shipped(name)
    return load_machine(path)
