"""The parts of a layout in their places, under the choices made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from leakdx.kit.choices import Choices, applies, count, most, stretch_of
from leakdx.kit.frames import SIDES, Array, Frame, upright
from leakdx.kit.model import Layout, Mount, Part, Placement
from leakdx.kit.naming import Naming
from leakdx.machine.boxes import rotation

Parts = Mapping[str, Part]


@dataclass(frozen=True, eq=False)
class Placed:
    """One part where it stands.

    index: of its placement in the layout.  posed: turn (3, 3) that what stands on it takes
    over, with the mirror and without the stretch.
    """

    index: int
    placement: Placement
    part: Part
    frame: Frame
    naming: Naming
    posed: Array


def name_of(placement: Placement) -> str:
    """What a layout calls a placement."""
    return placement.id or placement.part


def hosts_first(layout: Layout) -> list[tuple[int, Placement]]:
    """Placements so that each comes after what it stands on; those on nothing known left out."""
    waiting = list(enumerate(layout.parts))
    done: dict[str, None] = {}
    order: list[tuple[int, Placement]] = []
    while waiting:
        ready = [(i, p) for i, p in waiting if p.onto is None or p.onto.part in done]
        if not ready:
            break
        order += ready
        done |= {name_of(p): None for _, p in ready}
        waiting = [entry for entry in waiting if entry not in ready]
    return order


def standing(layout: Layout, choices: Choices) -> list[tuple[int, Placement]]:
    """The placements that are there: chosen, and what they stand on chosen too."""
    there: set[str] = set()
    found = []
    for i, placement in hosts_first(layout):
        held = placement.onto is None or placement.onto.part in there
        if held and applies(placement.when, choices):
            there.add(name_of(placement))
            found.append((i, placement))
    return found


def placed_parts(layout: Layout, parts: Parts, choices: Choices) -> list[Placed]:
    """Every part that is there, each repeat on its own, in the order of the layout.

    The layout has been checked: its parts, mounts and options are there.
    """
    base = upright(layout.down)
    first: dict[str, Placed] = {}
    found: list[Placed] = []
    for i, placement in standing(layout, choices):
        part = parts[placement.part]
        host = first.get(placement.onto.part) if placement.onto else None
        every = list(_copies(i, placement, part, host, (base, choices)))
        first[name_of(placement)] = every[0]
        found += every
    return sorted(found, key=lambda p: p.index)


def _copies(
    index: int,
    placement: Placement,
    part: Part,
    host: Placed | None,
    given: tuple[Frame, Choices],
) -> Iterator[Placed]:
    base, choices = given
    foot, pose, over = _foot(placement, host, base)
    mirror = np.ones(3)
    if placement.mirror:
        mirror[SIDES.index(placement.mirror)] = -1.0
    turned = pose @ rotation(placement.turn) @ np.diag(mirror)
    stretch = np.array(stretch_of(placement, choices))
    own = mount_of(part, placement.by).at_mm if placement.by else (0.0, 0.0, 0.0)
    anchor = turned @ (stretch * np.array(own))
    times = count(placement.repeat, choices)
    for k in range(1 if times is None else times):
        step = placement.repeat.step_mm if placement.repeat else (0.0, 0.0, 0.0)
        away = pose @ (np.array(placement.at_mm) + k * np.array(step))
        yield Placed(
            index=index,
            placement=placement,
            part=part,
            frame=Frame(turned, stretch, foot + away - anchor),
            naming=naming_of(placement, part, over, None if times is None else k),
            posed=turned,
        )


def _foot(
    placement: Placement, host: Placed | None, base: Frame
) -> tuple[Array, Array, frozenset[str]]:
    """Where a part is joined (3,), how what stands there is turned (3, 3), and mirrored axes."""
    if host is None or placement.onto is None:
        return base.origin, base.turn, frozenset()
    mount = mount_of(host.part, placement.onto.mount)
    pose = host.posed @ rotation(mount.turn)
    return host.frame.point(mount.at_mm), pose, host.naming.turned_over


def naming_of(placement: Placement, part: Part, over: frozenset[str], copy: int | None) -> Naming:
    """How the ids of a placed part are made; ``over`` are the axes its host is mirrored in."""
    own = {placement.mirror} if placement.mirror else set()
    number = None
    if copy is not None and placement.repeat is not None:
        number = placement.repeat.first + copy
    return Naming(
        prefix=placement.prefix,
        called=placement.called,
        number=number,
        turned_over=over ^ frozenset(own),
        ways={way: placement.ways_in.get(way, ()) for way in part.ways_in},
        fluids=placement.fluids,
    )


def every_naming(layout: Layout, parts: Parts) -> list[tuple[Part, Naming]]:
    """All parts with the ids they would have, whatever is chosen, each repeat on its own."""
    over: dict[str, frozenset[str]] = {}
    found: list[tuple[Part, Naming]] = []
    for _, placement in hosts_first(layout):
        part = parts.get(placement.part)
        if part is None:
            continue
        host = over.get(placement.onto.part, frozenset()) if placement.onto else frozenset()
        times = most(placement.repeat, layout.options)
        copies = [None] if times is None else list(range(times))
        namings = [naming_of(placement, part, host, copy) for copy in copies]
        over[name_of(placement)] = namings[0].turned_over
        found += [(part, naming) for naming in namings]
    return found


def mount_of(part: Part, name: str) -> Mount:
    """The mount of that id.  Raises KeyError where there is none."""
    for mount in part.mounts:
        if mount.id == name:
            return mount
    raise KeyError(name)


def mounts_of(part: Part) -> tuple[str, ...]:
    """The ids of a part's mounts."""
    return tuple(mount.id for mount in part.mounts)
