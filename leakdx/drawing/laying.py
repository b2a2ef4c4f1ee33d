"""From a scene to the sheet: every view, mark, arrow and line of the key in its place."""

from __future__ import annotations

from collections.abc import Sequence

from leakdx.drawing.arrows import arrows_in
from leakdx.drawing.frame import Frame, frames_of
from leakdx.drawing.key import Listed, key_of
from leakdx.drawing.labels import homes, labels_in, marks_in
from leakdx.drawing.legend import legend_of
from leakdx.drawing.scene import Scene
from leakdx.drawing.seeing import Look, Seen, Side, views_of
from leakdx.drawing.sheet import MARGIN, WIDTH, Arrow, Mark, Panel, Patch, Sheet

SHADES = (0.02, 0.1, 0.3, 0.6)  # from which part of the leak each shade of a zone begins


def sheet_of(scene: Scene, only: Side | None = None) -> Sheet:
    """The whole drawing of a scene: all six views, or only one, larger."""
    views = views_of(scene.flow.surfaces)
    found = homes(scene, views)
    sides = tuple(Side) if only is None else (only,)
    covered = any(False in found[side].values() for side in sides)
    legend, top = legend_of(scene, unseen=covered)
    frames, end = frames_of(views, top, only)
    drawn = [found[f.view.side] for f in frames]
    marks = [marks_in(frame, scene, drawn[n]) for n, frame in enumerate(frames)]
    arrows = arrows_in(frames, scene, marks, everywhere=only is not None)
    panels = tuple(
        _panel(frame, scene, marks[n], arrows[n])
        for n, frame in enumerate(frames)
        if frame.view.side in sides
    )
    headings, entries, end = key_of(scene, _listed(panels), end)
    return Sheet((WIDTH, end + MARGIN), frames[0].scale, panels, headings, entries, legend)


def _listed(panels: Sequence[Panel]) -> Listed:
    """The zones and seal points that are to be seen in these views, or pointed to."""
    looks = [(p.zone, p.look) for panel in panels for p in panel.patches]
    ends = (z for panel in panels for a in panel.arrows for z in (a.source, a.target))
    return Listed(
        zones=frozenset({zone for zone, _ in looks} | {z for z in ends if z is not None}),
        covered=frozenset(zone for zone, look in looks if look is Look.GHOST),
        seals=frozenset(m.seal for panel in panels for m in panel.marks),
    )


def _panel(frame: Frame, scene: Scene, marks: tuple[Mark, ...], arrows: tuple[Arrow, ...]) -> Panel:
    patches = tuple(_patch(frame, scene, z) for z in frame.view.zones)
    labels = labels_in(frame, scene, marks, arrows)
    return Panel(frame.view.side, frame.at, frame.size, patches, arrows, marks, labels)


def _patch(frame: Frame, scene: Scene, seen: Seen) -> Patch:
    outline = tuple((float(x), float(y)) for x, y in frame.place(seen.outline))
    layer = min(int(3 * seen.near), 2)
    return Patch(seen.zone, seen.look, outline, layer, _shade(scene, seen.zone))


def _shade(scene: Scene, zone: int) -> int:
    if scene.followed is None:
        return 0
    part = float(scene.followed.trail.zones[zone])
    return sum(part >= least for least in SHADES)
