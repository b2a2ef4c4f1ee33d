"""What is said of a drawing: as one JSON document, and as lines for a terminal."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leakdx.drawing.scene import Scene
from leakdx.drawing.seeing import Look, Side
from leakdx.drawing.sheet import Arrow, Sheet
from leakdx.drawing.words import name_of, percent, stands
from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.flow.courses import Way

FORMAT = "leakdx-show/1"


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawing that was written, and the zones that no listed seal point can wet."""

    file: str
    scene: Scene
    sheet: Sheet
    unreached: tuple[str, ...]


def document_of(drawn: Drawn) -> dict[str, Any]:
    """The drawing as plain data, numbers as they are in the picture."""
    scene, sheet = drawn.scene, drawn.sheet
    wind = scene.wind
    return {
        "format": FORMAT,
        "file": drawn.file,
        "machine": {"id": scene.machine.id, "version": scene.machine.version},
        "stands": {
            "pitch_deg": wind.attitude.pitch_deg,
            "roll_deg": wind.attitude.roll_deg,
            "airflow_m_s": wind.airflow_m_s,
        },
        "views": [str(p.side) for p in sheet.panels],
        "zones": _zones(scene, sheet),
        "seal_points": _seals(scene, sheet),
        "ways": _ways(scene, sheet),
        "unreached": list(drawn.unreached),
        "followed": _followed(scene),
    }


def _zones(scene: Scene, sheet: Sheet) -> list[dict[str, Any]]:
    views: dict[int, list[str]] = defaultdict(list)
    for panel in sheet.panels:
        for patch in panel.patches:
            if patch.look is Look.FACE:
                views[patch.zone].append(str(panel.side))
    return [
        {"number": k + 1, "id": z.id, "name": name_of(z), "views": views[k]}
        for k, z in enumerate(scene.machine.zones)
    ]


def _seals(scene: Scene, sheet: Sheet) -> list[dict[str, Any]]:
    views: dict[int, list[str]] = defaultdict(list)
    for panel in sheet.panels:
        for mark in panel.marks:
            if mark.seen:
                views[mark.seal].append(str(panel.side))
    return [
        {"number": k + 1, "id": s.id, "name": name_of(s), "fluid": s.fluid, "views": views[k]}
        for k, s in enumerate(scene.machine.seal_points)
    ]


def _ways(scene: Scene, sheet: Sheet) -> list[dict[str, Any]]:
    views: dict[Arrow, list[str]] = defaultdict(list)
    for panel in sheet.panels:
        for arrow in panel.arrows:
            views[_bare(arrow)].append(str(panel.side))
    ids = [z.id for z in scene.machine.zones]
    return [
        {
            "source": ids[a.source],
            "target": None if a.target is None else ids[a.target],
            "way": str(a.way),
            "amount": round(a.amount, 4),
            "views": found,
        }
        for a, found in views.items()
    ]


def _bare(arrow: Arrow) -> Arrow:
    return Arrow(arrow.source, arrow.target, arrow.way, arrow.amount, ())


def _followed(scene: Scene) -> dict[str, Any] | None:
    if scene.followed is None:
        return None
    trail = scene.followed.trail
    parts: Mapping[str, float] = {
        z.id: round(float(part), 4)
        for z, part in zip(scene.machine.zones, trail.zones, strict=True)
        if part >= 0.0005
    }
    return {
        "seal_point": scene.followed.seal.id,
        "zones": parts,
        "to_ground": round(trail.to_ground, 4),
    }


def text_of(drawn: Drawn, columns: int) -> str:
    """The drawing in words, within ``columns``."""
    scene, sheet = drawn.scene, drawn.sheet
    ways = len({(a.source, a.target, a.way) for p in sheet.panels for a in p.arrows})
    views = len(sheet.panels)
    said = [
        f"{drawn.file}: {len(scene.machine.zones)} zones, "
        f"{len(scene.machine.seal_points)} seal points and {ways} ways of the fluid, "
        f"{views} view{'s' if views > 1 else ''}. {stands(scene.wind)}"
    ]
    if scene.followed is not None:
        trail = scene.followed.trail
        most = sorted(enumerate(trail.zones), key=lambda kv: -kv[1])[:6]
        names = ", ".join(
            f"{scene.machine.zones[k].id} {percent(float(part))}"
            for k, part in most
            if part > 0.005
        )
        said.append(
            f"A leak of {scene.followed.seal.id} is expected to reach: {names}; "
            f"{percent(trail.to_ground)} falls to the ground."
        )
    if drawn.unreached:
        said.append(f"No listed seal point can wet: {', '.join(drawn.unreached)}.")
    else:
        said.append("Each zone can be wetted by a listed seal point.")
    said += [
        "Numbers are zones, numbers in a shape seal points; the shape says the fluid.",
        "Arrows are where fluid goes next: the thicker the more of it, and the line says how.",
    ]
    if views > 1:
        said.append("Where it is crowded, --view front (or another) draws one view larger.")
    return "\n".join(line for text in said for line in textwrap.wrap(text, max(columns - 1, 40)))


def json_schema() -> Schema:
    """The schema of what ``leakdx show --json`` prints."""
    text: Schema = {"type": "string"}
    number: Schema = {"type": "number"}
    place: Schema = {"type": "integer", "minimum": 1, "description": "number in the picture"}
    part: Schema = {"type": "number", "minimum": 0, "maximum": 1}
    side: Schema = {"enum": [str(s) for s in Side]}
    views: Schema = {"type": "array", "items": side, "description": "where it is to be seen"}
    zone = closed({"number": place, "id": text, "name": text, "views": views})
    seal = closed({"number": place, "id": text, "name": text, "fluid": text, "views": views})
    way = closed(
        {
            "source": text | {"description": "zone"},
            "target": {"type": ["string", "null"], "description": "zone; null: the ground"},
            "way": {"enum": [str(w) for w in Way]},
            "amount": part
            | {"description": "share of what leaves the source; or part of the leak followed"},
            "views": views | {"description": "where its arrow is"},
        }
    )
    followed = closed(
        {
            "seal_point": text,
            "zones": {
                "type": "object",
                "additionalProperties": part,
                "description": "zone -> expected part of the leak that gets there",
            },
            "to_ground": part | {"description": "part that falls clear of the machine"},
        }
    )
    stands_so = {
        "pitch_deg": number | {"description": "nose up positive"},
        "roll_deg": number | {"description": "left side up positive"},
        "airflow_m_s": number | {"description": "from the front"},
    }
    return {
        "$schema": DIALECT,
        "$id": "leakdx:show/1",
        "title": "Show",
        "description": "A drawing of a machine that was written.",
        **closed(
            {
                "format": {"const": FORMAT},
                "file": text | {"description": "the drawing that was written"},
                "machine": closed({"id": text, "version": text}),
                "stands": closed(stands_so),
                "views": {"type": "array", "items": side, "minItems": 1},
                "zones": {"type": "array", "items": zone},
                "seal_points": {"type": "array", "items": seal},
                "ways": {"type": "array", "items": way, "description": "those that are drawn"},
                "unreached": {
                    "type": "array",
                    "items": text,
                    "description": "zones that no listed seal point can wet",
                },
                "followed": {
                    "anyOf": [{"type": "null"}, followed],
                    "description": "the one leak that is drawn; null: all ways",
                },
            }
        ),
    }
