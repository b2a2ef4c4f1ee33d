"""Checks of the parts of a machine against each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise

import numpy as np

from leakdx.files.checked import CrossCheck, Names, Problem
from leakdx.files.locations import Location
from leakdx.files.words import choose, listed, plain, shown
from leakdx.machine.boxes import box_of
from leakdx.machine.model import CauseKind, Machine, Vector, Zone

# Boxes and centroids are measured separately and rounded to the millimetre.
BOX_TOLERANCE_MM = 1.0
# Nothing in a seal point says which fasteners hold it.
NEEDS_A_LIST = frozenset({CauseKind.FASTENERS_LOOSE, CauseKind.FASTENER_TOO_LONG})
_AXES = ("x", "y", "z")
_LISTS = {
    "fluids": "fluid",
    "zones": "zone",
    "seal_points": "seal point",
    "causes": "cause",
    "access_steps": "access step",
    "inspections": "inspection",
    "stands": "stand",
}


def unknown(
    names: Names, key: str, uses: Iterable[tuple[Location, str | None]]
) -> Iterator[Problem]:
    """A problem for every use of an id that the list ``key`` does not hold."""
    known = names.of(key)
    there = set(known)
    what = _LISTS[key]
    for location, name in uses:
        if name is not None and name not in there:
            yield Problem(
                location,
                f"names the {what} '{name}', which the machine does not have",
                choose(name, known, what=what),
            )


def _each(location: Location, names: Iterable[str]) -> Iterator[tuple[Location, str]]:
    for i, name in enumerate(names):
        yield (*location, i), name


def _zone_uses(machine: Machine) -> Iterator[tuple[Location, str]]:
    for i, pair in enumerate(machine.neighbours or ()):
        yield from _each(("neighbours", i, "between"), pair.between)
    for i, path in enumerate(machine.paths):
        yield ("paths", i, "source"), path.source
        yield ("paths", i, "target"), path.target
    for i, seal in enumerate(machine.seal_points):
        yield from _each(("seal_points", i, "zones"), seal.zones)
    for i, inspection in enumerate(machine.inspections):
        yield from _each(("inspections", i, "reads", "zones"), inspection.reads.zones)


def _seal_uses(machine: Machine) -> Iterator[tuple[Location, str]]:
    for i, cause in enumerate(machine.causes):
        yield from _each(("causes", i, "raises"), cause.raises)
    for i, inspection in enumerate(machine.inspections):
        yield from _each(("inspections", i, "reads", "seal_points"), inspection.reads.seal_points)


def _fluid_uses(machine: Machine) -> Iterator[tuple[Location, str | None]]:
    for i, seal in enumerate(machine.seal_points):
        yield ("seal_points", i, "fluid"), seal.fluid
        yield ("seal_points", i, "leaks_into"), seal.leaks_into
    for i, cause in enumerate(machine.causes):
        yield ("causes", i, "fluid"), cause.fluid
    for i, inspection in enumerate(machine.inspections):
        yield ("inspections", i, "reads", "fluid"), inspection.reads.fluid


def _step_uses(machine: Machine) -> Iterator[tuple[Location, str]]:
    for i, seal in enumerate(machine.seal_points):
        yield from _each(("seal_points", i, "access"), seal.access)
    for i, step in enumerate(machine.access_steps):
        yield from _each(("access_steps", i, "after"), step.after)
    for i, inspection in enumerate(machine.inspections):
        yield from _each(("inspections", i, "access"), inspection.access)


def _repeated_ids(names: Names) -> Iterator[Problem]:
    for key, what in _LISTS.items():
        first: dict[str, int] = {}
        for i, name in names.counted(key):
            if name in first:
                yield Problem(
                    (key, i, "id"),
                    f"'{plain(name)}' is the id of two {what}s, "
                    f"number {first[name] + 1} and number {i + 1}",
                    "Rename one of them.",
                )
            first.setdefault(name, i)
    zones = set(names.of("zones"))
    for i, name in names.counted("seal_points"):
        if name in zones:
            yield Problem(
                ("seal_points", i, "id"),
                f"'{plain(name)}' is the id of a zone too",
                f"Rename one, for example this one to '{plain(name)}_seal'.",
            )


def _no_length(vector: Vector) -> bool:
    return not any(vector)


def _zone_shapes(machine: Machine) -> Iterator[Problem]:
    for i, zone in enumerate(machine.zones):
        if _no_length(zone.normal):
            yield Problem(
                ("zones", i, "normal"),
                "has no length",
                "Point it out of the surface; a floor that looks up is [0, 0, 1].",
            )
        if zone.spins is not None and _no_length(zone.spin_axis):
            yield Problem(
                ("zones", i, "spin_axis"),
                "has no length",
                "Point it along the shaft; [1, 0, 0] is along the machine.",
            )
        if zone.turn is not None and zone.bbox_mm is None:
            yield Problem(
                ("zones", i, "turn"),
                "turns a box that is not there",
                "Give bbox_mm too; a patch without a box lies square to its normal.",
            )
        yield from _box_problems(i, zone)


def _box_problems(i: int, zone: Zone) -> Iterator[Problem]:
    box = zone.bbox_mm
    if box is None:
        return
    sound = True
    for axis, low, high in zip(_AXES, box.low, box.high, strict=True):
        if low > high:
            sound = False
            yield Problem(
                ("zones", i, "bbox_mm"),
                f"has its low corner above its high corner in {axis}: "
                f"{shown(low)} is above {shown(high)}",
                "Swap the two.",
            )
    if zone.turn is not None and _no_length(zone.turn.axis):
        sound = False
        yield Problem(
            ("zones", i, "turn", "axis"),
            "has no length",
            "Point it along what the box turns about; [1, 0, 0] is along the machine.",
        )
    if not sound:
        return
    turned = box_of(zone)
    assert turned is not None
    # In the box's own axes; without a turn these are the numbers of the file.
    inside = turned.axes @ (np.array(zone.centroid_mm) - turned.middle) + turned.middle
    for axis, low, high, middle in zip(_AXES, box.low, box.high, inside, strict=True):
        if not low - BOX_TOLERANCE_MM <= middle <= high + BOX_TOLERANCE_MM:
            own = "its box" if zone.turn is None else "its turned box"
            yield Problem(
                ("zones", i, "centroid_mm"),
                f"lies outside {own} in {axis}: {shown(float(middle))} is not between "
                f"{shown(low)} and {shown(high)}",
                "Correct the centroid, bbox_mm or turn.",
            )


def _neighbour_problems(machine: Machine) -> Iterator[Problem]:
    first: dict[frozenset[str], int] = {}
    for i, pair in enumerate(machine.neighbours or ()):
        both = frozenset(pair.between)
        if len(both) == 1:
            yield Problem(
                ("neighbours", i, "between"),
                f"makes '{pair.between[0]}' a neighbour of itself",
                "Name two zones.",
            )
        elif both in first:
            yield Problem(
                ("neighbours", i, "between"),
                f"repeats the pair of entry number {first[both] + 1}",
                "Keep one, with the whole shared edge in mm.",
            )
        first.setdefault(both, i)


def first_cycles(edges: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, ...]]:
    """Cycles in a directed graph, each as its nodes with the first one again at the end.

    One cycle for every edge that closes one on a walk in depth, so not all there are, but at
    least one in every knot.  Without recursion: a chain may be thousands of steps long.
    """
    done: set[str] = set()
    for start in edges:
        trail: list[str] = []
        on_trail: set[str] = set()
        waiting: list[tuple[str, Iterator[str]]] = []
        if start not in done:
            trail.append(start)
            on_trail.add(start)
            waiting.append((start, iter(edges[start])))
        while waiting:
            node, ahead = waiting[-1]
            following = next(ahead, None)
            if following is None:
                waiting.pop()
                trail.pop()
                on_trail.discard(node)
                done.add(node)
            elif following in on_trail:
                yield (*trail[trail.index(following) :], following)
            elif following not in done and following in edges:
                trail.append(following)
                on_trail.add(following)
                waiting.append((following, iter(edges[following])))


def _cycles(machine: Machine) -> Iterator[Problem]:
    steps: dict[str, Sequence[str]] = {step.id: step.after for step in machine.access_steps}
    places = {step.id: i for i, step in enumerate(machine.access_steps)}
    for cycle in first_cycles(steps):
        yield Problem(
            ("access_steps", places[cycle[-2]], "after"),
            f"closes a cycle, {_arrows(cycle)}: none of these can be done first",
            "Take one of them out of 'after'.",
        )
    ahead: dict[str, list[str]] = {}
    drawn: dict[tuple[str, str], int] = {}
    for i, path in enumerate(machine.paths):
        ahead.setdefault(path.source, []).append(path.target)
        drawn.setdefault((path.source, path.target), i)
    for cycle in first_cycles(ahead):
        yield Problem(
            ("paths", drawn[cycle[-2], cycle[-1]]),
            f"closes a cycle, {_arrows(cycle)}: fluid would run in a ring",
            "Remove one of these paths.",
        )


def _arrows(cycle: Sequence[str]) -> str:
    if len(cycle) <= 9:
        return " -> ".join(cycle)
    return " -> ".join((*cycle[:4], f"({len(cycle) - 8} more)", *cycle[-4:]))


def _fluid_problems(machine: Machine) -> Iterator[Problem]:
    for i, fluid in enumerate(machine.fluids):
        points = fluid.viscosity_mm2_s
        if points is None:
            continue
        here: Location = ("fluids", i, "viscosity_mm2_s")
        if len(points) < 2:
            yield Problem(
                here,
                f"has {len(points)} temperatures, needs two at least",
                "Give the viscosity in mm2/s at two temperatures in degrees C, "
                "often 40 and 100, or leave it out.",
            )
        by_heat = sorted(points.items())
        for (cooler, thick), (warmer, thin) in pairwise(by_heat):
            if thin >= thick:
                yield Problem(
                    here,
                    f"does not fall from {shown(cooler)} to {shown(warmer)} degrees C: "
                    f"{shown(thick)}, then {shown(thin)} mm2/s",
                    "A fluid thins when it warms; check for swapped values.",
                )
    for i, seal in enumerate(machine.seal_points):
        if seal.leaks_into is not None and seal.leaks_into == seal.fluid:
            yield Problem(
                ("seal_points", i, "leaks_into"),
                f"is '{seal.fluid}', the fluid that leaks",
                "Name the other fluid, or leave it out where the leak runs outside.",
            )


def _cause_problems(machine: Machine) -> Iterator[Problem]:
    for i, cause in enumerate(machine.causes):
        if cause.kind in NEEDS_A_LIST and not cause.raises:
            yield Problem(
                ("causes", i, "kind"),
                f"is '{cause.kind}', which does not say what it acts on",
                "Add 'raises:' with the ids of the joints that these fasteners hold.",
            )


def _inspection_problems(machine: Machine) -> Iterator[Problem]:
    for i, inspection in enumerate(machine.inspections):
        reads = inspection.reads
        if not (reads.zones or reads.seal_points or reads.signs):
            yield Problem(
                ("inspections", i, "reads"),
                "reads nothing",
                f"Name what it shows under one of: {listed(('zones', 'seal_points', 'signs'))}.",
            )


def problems(machine: Machine, names: Names) -> Iterator[Problem]:
    """Everything that does not fit together; ``names`` are the ids as written."""
    yield from _repeated_ids(names)
    yield from unknown(names, "zones", _zone_uses(machine))
    yield from unknown(names, "seal_points", _seal_uses(machine))
    yield from unknown(names, "fluids", _fluid_uses(machine))
    yield from unknown(names, "access_steps", _step_uses(machine))
    yield from _zone_shapes(machine)
    yield from _neighbour_problems(machine)
    yield from _cycles(machine)
    yield from _fluid_problems(machine)
    yield from _cause_problems(machine)
    yield from _inspection_problems(machine)


MACHINE_CHECK: CrossCheck[Machine] = CrossCheck(
    problems,
    {
        "format": "leakdx-machine/1",
        "id": "machine",
        "version": "1",
        "name": "machine",
    },
)
