"""Scenes and sheets of small made-up machines, and what is in a drawing."""

from __future__ import annotations

from functools import lru_cache
from xml.etree import ElementTree

from leakdx.drawing.asked import Asked, scene_of
from leakdx.drawing.laying import sheet_of
from leakdx.drawing.scene import Scene
from leakdx.drawing.seeing import Look, Side, View, views_of
from leakdx.drawing.sheet import Panel, Sheet
from leakdx.drawing.svg import svg_of
from leakdx.flow.surfaces import surfaces_of
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Machine
from leakdx.priors.read import shipped_priors

SVG = "{http://www.w3.org/2000/svg}"
REFERENCE = "forestry_carrier_five"


def scene(machine: Machine, asked: Asked | None = None) -> Scene:
    return scene_of(machine, asked or Asked(), shipped_priors())


@lru_cache
def reference(seal_point: str | None = None) -> tuple[Scene, Sheet]:
    made = scene(load_shipped(REFERENCE), Asked(seal_point=seal_point))
    return made, sheet_of(made)


def drawing(made: Scene, only: Side | None = None) -> ElementTree.Element:
    """The root of the drawing, read back."""
    return ElementTree.fromstring(svg_of(sheet_of(made, only), made))


def view_of(machine: Machine, side: Side) -> View:
    return next(v for v in views_of(surfaces_of(machine)) if v.side is side)


def faces(machine: Machine, side: Side) -> set[str]:
    """Ids of the zones that face the viewer and are not covered."""
    return {machine.zones[z.zone].id for z in view_of(machine, side).zones if z.look is Look.FACE}


def panel(sheet: Sheet, side: Side) -> Panel:
    return next(p for p in sheet.panels if p.side is side)
