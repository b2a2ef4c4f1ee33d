"""Checks of part and layout files, and of how the parts of a layout fit together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from leakdx.files.checked import CrossCheck, Names, Problem
from leakdx.files.locations import Location
from leakdx.files.words import choose, listed, shown
from leakdx.kit.choices import When, offers
from leakdx.kit.model import Layout, Option, Part, Per, Placement
from leakdx.kit.placing import Parts, hosts_first, mounts_of, name_of
from leakdx.machine.model import Box


def _box_problems(box: Box, at: Location) -> Iterator[Problem]:
    for axis, low, high in zip("xyz", box.low, box.high, strict=True):
        if low > high:
            yield Problem(
                at,
                f"has its low corner above its high corner in {axis}: "
                f"{shown(low)} is above {shown(high)}",
                "Swap the two.",
            )


def _part_references(part: Part) -> Iterator[tuple[Location, str, str]]:
    """Every use of an id in a part: where, of what, and the id."""
    for i, path in enumerate(part.paths):
        yield ("paths", i, "source"), "zones", path.source
        yield ("paths", i, "target"), "zones", path.target
    for i, seal in enumerate(part.seal_points):
        for k, name in enumerate(seal.zones):
            yield ("seal_points", i, "zones", k), "zones", name
        for k, name in enumerate(seal.access):
            yield ("seal_points", i, "access", k), "access_steps", name
        for key, fluid in (("fluid", seal.fluid), ("leaks_into", seal.leaks_into)):
            if fluid is not None:
                yield ("seal_points", i, key), "fluids", fluid
    for i, cause in enumerate(part.causes):
        for k, name in enumerate(cause.raises):
            yield ("causes", i, "raises", k), "seal_points", name
        if cause.fluid is not None:
            yield ("causes", i, "fluid"), "fluids", cause.fluid
    for i, step in enumerate(part.access_steps):
        for k, name in enumerate(step.after):
            yield ("access_steps", i, "after", k), "access_steps", name
    for i, look in enumerate(part.inspections):
        for k, name in enumerate(look.reads.zones):
            yield ("inspections", i, "reads", "zones", k), "zones", name
        for k, name in enumerate(look.reads.seal_points):
            yield ("inspections", i, "reads", "seal_points", k), "seal_points", name
        for k, name in enumerate(look.access):
            yield ("inspections", i, "access", k), "access_steps", name
        if look.reads.fluid is not None:
            yield ("inspections", i, "reads", "fluid"), "fluids", look.reads.fluid


_WHAT = {
    "zones": "zone",
    "seal_points": "seal point",
    "access_steps": "access step or way in",
    "fluids": "fluid",
}


def part_problems(part: Part, names: Names) -> Iterator[Problem]:
    """What does not fit together within one part."""
    known: dict[str, tuple[str, ...]] = {
        "zones": names.of("zones"),
        "seal_points": names.of("seal_points"),
        "access_steps": (*names.of("access_steps"), *part.ways_in),
        "fluids": part.fluids,
    }
    for at, kind, name in _part_references(part):
        if name not in known[kind]:
            yield Problem(
                at,
                f"names the {_WHAT[kind]} '{name}', which this part does not have",
                choose(name, known[kind], what=_WHAT[kind]),
            )
    for key in ("zones", "seal_points", "access_steps", "inspections", "causes", "mounts"):
        first: dict[str, int] = {}
        for i, name in names.counted(key):
            if name in first:
                yield Problem((key, i, "id"), f"'{name}' is used twice", "Rename one of them.")
            first.setdefault(name, i)
    for i, zone in enumerate(part.zones):
        yield from _box_problems(zone.bbox_mm, ("zones", i, "bbox_mm"))
        if not any(zone.normal):
            yield Problem(("zones", i, "normal"), "has no length", "Point it out of the surface.")
    for i, box in enumerate(part.solid_mm):
        yield from _box_problems(box, ("solid_mm", i))


PART_CHECK: CrossCheck[Part] = CrossCheck(
    part_problems,
    {"format": "leakdx-part/1", "id": "part", "version": "1", "name": "part", "fluids": ["oil"]},
)


def _when_problems(when: When, options: Mapping[str, Option], at: Location) -> Iterator[Problem]:
    for name, wanted in when.items():
        if name not in options:
            yield Problem(
                (*at, name),
                f"is no option of this layout: '{name}'",
                choose(name, options, what="option"),
            )
            continue
        for choice in wanted if isinstance(wanted, tuple) else (wanted,):
            if not offers(options[name], choice):
                yield Problem(
                    (*at, name),
                    f"is {shown(choice)}, which '{name}' does not offer",
                    f"Use one of: {listed(map(_said, options[name].choices))}.",
                )


def _said(choice: object) -> str:
    return shown(choice).strip("'")


def _placement_problems(
    layout: Layout, parts: Parts, i: int, fluids: tuple[str, ...]
) -> Iterator[Problem]:
    placement = layout.parts[i]
    at: Location = ("parts", i)
    options = {option.id: option for option in layout.options}
    yield from _when_problems(placement.when, options, (*at, "when"))
    yield from _number_options(placement, options, at)
    part = parts.get(placement.part)
    if part is None:
        yield Problem(
            (*at, "part"),
            f"names the part '{placement.part}', which is not there",
            choose(placement.part, parts, what="part")
            + " A part of your own goes in a folder 'parts' beside the layout.",
        )
        return
    yield from _joint_problems(layout, parts, i)
    if placement.by is not None and placement.by not in mounts_of(part):
        yield Problem(
            (*at, "by"),
            f"is '{placement.by}', a mount that the part '{part.id}' does not have",
            choose(placement.by, mounts_of(part), what="mount"),
        )
    for side in placement.stretch:
        if side not in part.stretches:
            yield Problem(
                (*at, "stretch", side),
                f"stretches '{part.id}' along {side}, which it does not allow",
                f"It stretches along: {listed(part.stretches) or 'nothing'}.",
            )
    for way in placement.ways_in:
        if way not in part.ways_in:
            yield Problem(
                (*at, "ways_in", way),
                f"binds '{way}', a way in that '{part.id}' does not have",
                choose(way, part.ways_in, what="way in"),
            )
    for role in placement.fluids:
        if role not in part.fluids:
            yield Problem(
                (*at, "fluids", role),
                f"binds '{role}', a fluid that '{part.id}' does not have",
                choose(role, part.fluids, what="fluid"),
            )
    for role in part.fluids:
        fluid = placement.fluids.get(role, role)
        if fluid not in fluids:
            yield Problem(
                (*at, "fluids"),
                f"leaves '{role}' of '{part.id}' to '{fluid}', a fluid this layout does not have",
                f"Bind it, as in {{{role}: {next(iter(fluids), 'oil')}}}, or add the fluid.",
            )


def _number_options(
    placement: Placement, options: Mapping[str, Option], at: Location
) -> Iterator[Problem]:
    asked: list[tuple[Location, str]] = [
        ((*at, "stretch", side), factor.option)
        for side, factor in placement.stretch.items()
        if isinstance(factor, Per)
    ]
    if placement.repeat is not None and isinstance(placement.repeat.count, str):
        asked.append(((*at, "repeat", "count"), placement.repeat.count))
    for location, name in asked:
        if name not in options:
            yield Problem(
                location,
                f"is no option of this layout: '{name}'",
                choose(name, options, what="option"),
            )
        elif any(isinstance(c, bool) or not isinstance(c, int) for c in options[name].choices):
            yield Problem(
                location,
                f"needs a number, and '{name}' offers {listed(map(_said, options[name].choices))}",
                "Use an option whose choices are whole numbers.",
            )
        elif any(isinstance(c, int) and not 1 <= c <= 32 for c in options[name].choices):
            yield Problem(
                location, f"needs 1 to 32, and '{name}' offers others", "Correct the choices."
            )


def _joint_problems(layout: Layout, parts: Parts, i: int) -> Iterator[Problem]:
    placement = layout.parts[i]
    base = next((k for k, p in enumerate(layout.parts) if p.onto is None), None)
    if placement.onto is None:
        if i != base and base is not None:
            yield Problem(
                ("parts", i),
                f"joins '{name_of(placement)}' to nothing, and '{name_of(layout.parts[base])}' "
                "already stands on nothing",
                "Add onto: {part: ..., mount: ...} to one of the two.",
            )
        return
    hosts = {name_of(p): p for p in layout.parts}
    host = hosts.get(placement.onto.part)
    if host is None:
        yield Problem(
            ("parts", i, "onto", "part"),
            f"joins '{name_of(placement)}' to '{placement.onto.part}', which is not placed here",
            choose(placement.onto.part, hosts, what="placed part"),
        )
        return
    part = parts.get(host.part)
    if part is not None and placement.onto.mount not in mounts_of(part):
        yield Problem(
            ("parts", i, "onto", "mount"),
            f"is '{placement.onto.mount}', a mount that '{part.id}' does not have",
            choose(placement.onto.mount, mounts_of(part), what="mount"),
        )


def structure_problems(layout: Layout, parts: Parts, names: Names) -> Iterator[Problem]:
    """What keeps a layout from being put together at all."""
    fluids = names.of("fluids")
    options = {option.id: option for option in layout.options}
    if not np.any(layout.down):
        yield Problem(
            ("down",), "has no length", "Say where fluid falls; [0, 0, -1] for z pointing up."
        )
    yield from _twice(layout)
    for i, option in enumerate(layout.options):
        if not offers(option, option.usual):
            yield Problem(
                ("options", i, "usual"),
                f"is {shown(option.usual)}, which is not among its choices",
                f"Use one of: {listed(map(_said, option.choices))}.",
            )
    for i in range(len(layout.parts)):
        yield from _placement_problems(layout, parts, i, fluids)
    for i, own in enumerate(layout.own):
        yield from _when_problems(own.when, options, ("own", i, "when"))
        placed = [name_of(p) for p in layout.parts]
        if own.of is not None and own.of not in placed:
            yield Problem(
                ("own", i, "of"),
                f"is '{own.of}', which is not placed here",
                choose(own.of, placed, what="placed part"),
            )
    if all(p.onto is not None for p in layout.parts):
        yield Problem(
            ("parts",),
            "joins every part to another, so that nothing stands on its own",
            "Leave 'onto' out of the part that all others hang on.",
        )
    else:
        held = {i for i, _ in hosts_first(layout)}
        known = {name_of(p) for p in layout.parts}
        for i, p in enumerate(layout.parts):
            if i not in held and p.onto is not None and p.onto.part in known:
                yield Problem(
                    ("parts", i, "onto"),
                    f"joins '{name_of(p)}' to parts that lead back to it or to nothing",
                    "Follow 'onto' from part to part: it must end at the one without.",
                )


def _twice(layout: Layout) -> Iterator[Problem]:
    lists: list[tuple[Location, list[str], str]] = [
        (("parts",), [name_of(p) for p in layout.parts], "Give one of them an id of its own."),
        (("options",), [o.id for o in layout.options], "Rename one of them."),
        (("fluids",), [f.id for f in layout.fluids], "Rename one of them."),
        (("stands",), [s.id for s in layout.stands], "Rename one of them."),
    ]
    for at, every, remedy in lists:
        for i, name in enumerate(every):
            if name in every[:i]:
                yield Problem((*at, i), f"'{name}' is there twice", remedy)
