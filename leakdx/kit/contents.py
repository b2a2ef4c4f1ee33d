"""What a placed part brings, in the machine's axes and under its ids there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from leakdx.files.locations import Location
from leakdx.kit.frames import Frame, placed_zone, rounded
from leakdx.kit.model import Contents, PartZone
from leakdx.kit.naming import Naming
from leakdx.machine.model import (
    AccessStep,
    Cause,
    DrawnPath,
    Inspection,
    SealPoint,
    Vector,
    Zone,
)

Entry = Zone | DrawnPath | SealPoint | Cause | AccessStep | Inspection
LISTS = ("zones", "paths", "seal_points", "causes", "access_steps", "inspections")
# A seal this long beside its zone runs along it, and is stretched with its longest side.
_RUNS_ALONG = 0.6


@dataclass(frozen=True)
class Brought:
    """One entry of a list of the machine; ``source`` is where the layout or build says so."""

    kind: str
    entry: Entry
    source: Location


def brought(
    contents: Contents, frame: Frame, naming: Naming, source: Location
) -> Iterator[Brought]:
    """Everything a part (or a layout's own entry) brings; ``source`` leads to it."""
    spans = _spans(contents)
    for kind in LISTS:
        for i, entry in enumerate(getattr(contents, kind)):
            made: Entry = entry
            match entry:
                case PartZone():
                    zone = placed_zone(entry, frame)
                    made = zone.model_copy(update=_named(zone.id, zone.name, naming))
                case DrawnPath():
                    ends = {"source": naming.id(entry.source), "target": naming.id(entry.target)}
                    made = entry.model_copy(update=ends)
                case SealPoint():
                    made = _seal(entry, frame, naming, spans)
                case Cause():
                    made = _cause(entry, naming)
                case AccessStep():
                    update = _named(entry.id, entry.name, naming)
                    update["after"] = naming.steps(entry.after)
                    update["cautions"] = tuple(naming.said(c) for c in entry.cautions)
                    update |= _refitting(entry, naming)
                    made = entry.model_copy(update=update)
                case Inspection():
                    made = _inspection(entry, naming)
            yield Brought(kind, made, (*source, kind, i))


def _named(name: str, text: str | None, naming: Naming) -> dict[str, object]:
    return {"id": naming.id(name), "name": naming.text(text or _words(name, naming))}


def _words(name: str, naming: Naming) -> str | None:
    """A name made from an id, where a part that is called something has none."""
    return name.replace("_", " ").capitalize() if naming.called or naming.number else None


def _seal(seal: SealPoint, frame: Frame, naming: Naming, spans: dict[str, Vector]) -> SealPoint:
    update = _named(seal.id, seal.name, naming)
    update |= {
        "zones": tuple(naming.id(z) for z in seal.zones),
        "access": naming.steps(seal.access),
        "fluid": naming.fluid(seal.fluid),
        "leaks_into": naming.fluid(seal.leaks_into) if seal.leaks_into else None,
        "part_of": naming.id(seal.part_of) if seal.part_of else None,
    }
    update |= _refitting(seal, naming)
    if seal.position_mm is not None:
        update["position_mm"] = rounded(frame.point(seal.position_mm))
    if seal.length_mm is not None:
        update["length_mm"] = _grown(seal, seal.length_mm, frame, spans)
    return seal.model_copy(update=update)


def _refitting(entry: SealPoint | AccessStep, naming: Naming) -> dict[str, object]:
    """Words for refitting with the sides turned over; what a part does not say stays unsaid."""
    said: dict[str, object] = {}
    if entry.one_use:
        said["one_use"] = tuple(naming.said(part) for part in entry.one_use)
    words = entry.tighten if isinstance(entry, SealPoint) else entry.refit
    if words is not None:
        said["tighten" if isinstance(entry, SealPoint) else "refit"] = naming.said(words)
    return said


def _grown(seal: SealPoint, length: float, frame: Frame, spans: dict[str, Vector]) -> float:
    sizes = [spans[z] for z in seal.zones if z in spans]
    along = {int(np.argmax(size)) for size in sizes if length >= _RUNS_ALONG * max(size)}
    for k in along:
        length *= float(frame.stretch[k])
    return round(length, 6)


def _spans(contents: Contents) -> dict[str, Vector]:
    """The size of each zone's box along the part's axes, mm."""
    found = {}
    for zone in contents.zones:
        size = np.array(zone.bbox_mm.high) - np.array(zone.bbox_mm.low)
        found[zone.id] = (float(size[0]), float(size[1]), float(size[2]))
    return found


def _cause(cause: Cause, naming: Naming) -> Cause:
    fluid = naming.fluid(cause.fluid) if cause.fluid else None
    raises = tuple(naming.id(s) for s in cause.raises)
    return cause.model_copy(update={"id": naming.id(cause.id), "fluid": fluid, "raises": raises})


def _inspection(inspection: Inspection, naming: Naming) -> Inspection:
    reads = inspection.reads
    update = _named(inspection.id, inspection.name, naming)
    update["access"] = naming.steps(inspection.access)
    update["cautions"] = tuple(naming.said(text) for text in inspection.cautions)
    update["reads"] = reads.model_copy(
        update={
            "zones": tuple(naming.id(z) for z in reads.zones),
            "seal_points": tuple(naming.id(s) for s in reads.seal_points),
            "fluid": naming.fluid(reads.fluid) if reads.fluid else None,
        }
    )
    return inspection.model_copy(update=update)
