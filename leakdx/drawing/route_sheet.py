"""The likeliest routes of a fluid as one SVG: numbered arrows in the views that show them best.

Nothing is said by colour alone: a step has its number and its chance beside it, drops are
dashed, what was read wet is a drop with a W and what was read dry a square with a D.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from leakdx.drawing.frame import Frame, frames_below
from leakdx.drawing.route_labels import (
    CHANCE,
    DISC,
    NAME,
    SEAL,
    STATE,
    Badge,
    Name,
    Writing,
    writing_in,
)
from leakdx.drawing.route_lines import Line, corners, lines_of
from leakdx.drawing.route_text import Listed, Route, legs_of, sentence_of, tables
from leakdx.drawing.route_views import Ground, chosen_views, cropped
from leakdx.drawing.seeing import views_of
from leakdx.drawing.sheet import MARGIN, WIDTH, Patch, Point
from leakdx.drawing.style import css, dashes
from leakdx.drawing.svg import (
    NAMESPACE,
    clean,
    compass,
    mark_at,
    patch_of,
    patterns,
    scale_bar,
    text_at,
    tip_of,
)
from leakdx.drawing.text import SIZE, width_of, wrapped
from leakdx.drawing.words import TITLES, name_of, stands
from leakdx.flow.courses import Way, Wind
from leakdx.flow.surfaces import shared_edges, surfaces_of
from leakdx.machine.model import Machine

TALLEST = 0.85  # height of one view alone against the width of the sheet; of more, each less
SAMPLES = {
    "shows": "shows, runs or creeps",
    "drip": "drips",
    "carry": "is carried by the air",
    "fling": "is flung off",
    "wick": "is wicked along",
}


@dataclass(frozen=True, eq=False)
class _Picture:
    """All that is drawn, in its place."""

    ground: Ground
    frames: tuple[Frame, ...]
    lines: tuple[Line, ...]
    writing: tuple[Writing, ...]


def route_sheet(
    machine: Machine, wind: Wind, routes: Sequence[Route], marks: Mapping[str, bool]
) -> str:
    """The routes on the machine as it stands, as the text of an SVG file.

    marks: zone -> whether it was read wet, of the zones that were read.  A step that several
    routes share is drawn once.  Raises ValueError where there is no route, KeyError for a seal
    point or zone that the machine does not have.
    """
    if not routes:
        raise ValueError("there is no route to draw")
    surfaces = surfaces_of(machine)
    ground = Ground(machine, surfaces, shared_edges(machine, surfaces), wind.attitude.down)
    legs = legs_of(machine, routes)
    zones = {z.id: k for k, z in enumerate(machine.zones)}
    wet = {zones[z]: is_wet for z, is_wet in marks.items()}
    views, where = chosen_views(ground, views_of(surfaces), legs)
    top = 140.0
    cut = [
        cropped(ground, v, [g for g in legs if where[g.number] == n]) for n, v in enumerate(views)
    ]
    frames = frames_below(cut, top, TALLEST / len(cut) ** 0.5)
    lines = lines_of(ground, frames, where, legs)
    writing = tuple(
        writing_in(ground, frame, [a for a in lines if a.panel == n], wet)
        for n, frame in enumerate(frames)
    )
    return _svg(_Picture(ground, frames, lines, writing), wind, routes, wet)


def _svg(picture: _Picture, wind: Wind, routes: Sequence[Route], wet: Mapping[int, bool]) -> str:
    machine = picture.ground.machine
    end = picture.frames[-1].at[1] + picture.frames[-1].size[1]
    sides = [frame.view.side for frame in picture.frames]
    below, tall = tables(machine, Listed(picture.lines, sides, wet), routes, end + 8)
    seals = {s.id: name_of(s) for s in machine.seal_points}
    names = ", ".join(dict.fromkeys(seals[r.seal_point] for r in routes))
    title = f"{machine.name}: where a leak of {names} would most likely run"
    said = f"{stands(wind)} The steps are listed below the views."
    parts = [
        f'<svg xmlns="{NAMESPACE}" class="ldx" viewBox="0 0 {WIDTH:g} {tall:.0f}" '
        f'width="{WIDTH:g}" height="{tall:.0f}" role="img" '
        'aria-labelledby="ldx-title ldx-desc">',
        f'<title id="ldx-title">{escape(clean(title))}</title>',
        f'<desc id="ldx-desc">{escape(clean(said))}</desc>',
        f"<style>{css()}</style>",
        f"<defs>{''.join(patterns())}{''.join(_clips(picture.frames))}</defs>",
        f'<rect class="paper" width="{WIDTH:g}" height="{tall:.0f}"/>',
        *_head(machine, names, wind),
        *_legend(picture, wet),
    ]
    for n in range(len(picture.frames)):
        parts += _panel(picture, n, wind)
    return "\n".join([*parts, *below, "</svg>\n"])


def _head(machine: Machine, names: str, wind: Wind) -> Iterator[str]:
    room = WIDTH - 2 * MARGIN
    yield text_at(wrapped(machine.name, room, 20)[0], (MARGIN, 32), 20, weight=700)
    said = wrapped(f"Where a leak of '{names}' would most likely run. {stands(wind)}", room, 14)
    for n, line in enumerate(said[:2]):
        yield text_at(line, (MARGIN, 54 + 18 * n), 14, css_class="quiet")


def _clips(frames: Sequence[Frame]) -> Iterator[str]:
    for n, frame in enumerate(frames):
        (x, y), (u, v) = corners(frame)
        yield (
            f'<clipPath id="ldx-clip{n}"><rect x="{x - 3:.1f}" y="{y - 3:.1f}" '
            f'width="{u - x + 6:.1f}" height="{v - y + 6:.1f}"/></clipPath>'
        )


def _legend(picture: _Picture, wet: Mapping[int, bool]) -> Iterator[str]:
    x, y = MARGIN, 94.0
    first = next(line for line in picture.lines if line.leg.seal is not None)
    yield from _seal_mark(picture.ground, first, (x + 11, y))
    x = yield from _said("the seal point", x + 28, y)
    for is_wet in (True, False):
        if is_wet in wet.values():
            yield _state((x + 10, y), wet=is_wet)
            x = yield from _said("read wet" if is_wet else "read dry", x + 26, y)
    x = yield from _said("hatched: on a route", x, y)
    yield from _said("%: chance that enough to be seen takes the step", x, y)
    x, y = MARGIN, y + 24
    ways = {_pattern(line.leg.way) for line in picture.lines}
    for way, words in SAMPLES.items():
        if _pattern(way) in ways:
            yield from _arrow(((x, y), (x + 48, y)), way, 0.5)
            x = yield from _said(words, x + 56, y)
    if not all(line.joined for line in picture.lines):
        yield from _said("a ring: comes from another view", x, y)


def _said(words: str, x: float, y: float) -> Generator[str, None, float]:
    """A text, and where the next thing may begin."""
    yield text_at(words, (x, y + 4.5), SIZE)
    return x + width_of(words, SIZE) + 18


def _pattern(way: str) -> Way:
    """The line that a way is drawn with."""
    return Way(way) if way in tuple(Way) else Way.RUN


def _panel(picture: _Picture, n: int, wind: Wind) -> Iterator[str]:
    ground, frame, writing = picture.ground, picture.frames[n], picture.writing[n]
    lines = [line for line in picture.lines if line.panel == n]
    route = {k for line in picture.lines for k in (line.leg.source, line.leg.target)}
    side = frame.view.side
    yield f'<g data-view="{side}">'
    yield text_at(TITLES[side], (frame.at[0] + 4, frame.at[1] + 16), 16, weight=700)
    yield from compass(side, frame.at, wind)
    yield from scale_bar(frame.scale, frame.at[1] - 30)
    yield f'<g clip-path="url(#ldx-clip{n})">'
    for seen in frame.view.zones:
        outline = tuple((float(x), float(y)) for x, y in frame.place(seen.outline))
        shade = 1 if seen.zone in route else 0
        patch = Patch(seen.zone, seen.look, outline, min(int(3 * seen.near), 2), shade)
        yield from patch_of(patch, ground.machine.zones[seen.zone])
    yield "</g>"
    for name in writing.names:
        yield from _tie(name)
    for line in lines:
        yield from _leg(picture, line, next(b for b in writing.badges if b.line is line))
    for line in lines:
        if line.leg.seal is not None:
            seal = ground.machine.seal_points[line.leg.seal]
            yield f"<g data-seal={quoteattr(seal.id)}>"
            yield from _seal_mark(ground, line, line.points[0])
            yield "</g>"
    for state in writing.states:
        zone = ground.machine.zones[state.zone]
        word = "wet" if state.wet else "dry"
        yield f"<g data-read={quoteattr(word)}><title>{_safe(name_of(zone))}: read {word}</title>"
        yield f"{_state(state.at, wet=state.wet)}</g>"
    for name in writing.names:
        yield from _name(name)
    yield "</g>"


def _leg(picture: _Picture, line: Line, badge: Badge) -> Iterator[str]:
    said = sentence_of(picture.ground.machine, line.leg)
    yield f'<g data-step="{line.leg.number}"><title>{_safe(said)}</title>'
    yield from _arrow(line.points, line.leg.way, line.leg.chance)
    if not line.joined:
        (x, y) = line.points[0]
        kind = str(_pattern(line.leg.way))
        yield f'<circle class="{kind}" stroke-width="2" cx="{x:.1f}" cy="{y:.1f}" r="6"/>'
    x, y = badge.at
    yield f'<circle class="tip" cx="{x:.1f}" cy="{y:.1f}" r="{DISC}"/>'
    number = str(line.leg.number)
    place = (x, y + 4.6)
    yield text_at(number, place, 13, css_class="number", anchor="middle", weight=700)
    yield _haloed(badge.text, (x + DISC + 4, y + 5.3), CHANCE, "start", 700)
    yield "</g>"


def _haloed(text: str, at: Point, size: float, anchor: str, weight: int) -> str:
    return (
        f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'class="on" font-weight="{weight}" stroke-width="4" stroke-linejoin="round" '
        f'paint-order="stroke">{_safe(text)}</text>'
    )


def _safe(text: str) -> str:
    return escape(clean(text))


def _arrow(bends: Sequence[Point], way: str, chance: float) -> Iterator[str]:
    """A thick arrow along some points, dashed as its way is."""
    wide = 3.0 + 3.5 * chance
    kind = _pattern(way)
    a, b = np.array(bends[-2]), np.array(bends[-1])
    long = max(float(np.linalg.norm(b - a)), 1e-9)
    # The shaft ends within the head.
    end = b - (b - a) / long * min(5 + 1.3 * wide, 0.6 * long)
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in (*bends[:-1], tuple(end)))
    dash = dashes(kind, wide)
    more = f' stroke-dasharray="{dash}"' if dash else ""
    more += ' stroke-linecap="round"' if dash and "0.1 " in dash else ""
    yield f'<path class="halo" stroke-width="{wide + 3:.1f}" stroke-linejoin="round" d="{path}"/>'
    yield (
        f'<path class="{kind} shaft" stroke-width="{wide:.1f}" stroke-linejoin="round"{more} '
        f'd="{path}"/>'
    )
    if kind is Way.WICK:
        yield f'<path class="core" stroke-width="1.6" d="{path}"/>'
    yield f'<path class="{kind}-tip" d="{tip_of(bends[-2], bends[-1], wide)}"/>'


def _seal_mark(ground: Ground, line: Line, at: Point) -> Iterator[str]:
    assert line.leg.seal is not None
    fluid = ground.machine.seal_points[line.leg.seal].fluid
    shape = [f.id for f in ground.machine.fluids].index(fluid)
    yield from mark_at(at, shape, "S", seen=True, size=0.85 * SEAL)


def _state(at: Point, *, wet: bool) -> str:
    """A drop with a W, or a square with a D."""
    x, y = at
    r = STATE
    if wet:
        outline = (
            f"M{x:.1f} {y - 1.5 * r:.1f}C{x + 0.5 * r:.1f} {y - 0.8 * r:.1f} {x + r:.1f} "
            f"{y - 0.3 * r:.1f} {x + r:.1f} {y + 0.15 * r:.1f}A{r:.1f} {0.9 * r:.1f} 0 0 1 "
            f"{x - r:.1f} {y + 0.15 * r:.1f}C{x - r:.1f} {y - 0.3 * r:.1f} {x - 0.5 * r:.1f} "
            f"{y - 0.8 * r:.1f} {x:.1f} {y - 1.5 * r:.1f}Z"
        )
        letter = text_at("W", (x, y + 4.6), 11, css_class="number", anchor="middle", weight=700)
        return f'<path class="tip" d="{outline}"/>{letter}'
    square = (
        f'<rect class="paper" x="{x - 0.9 * r:.1f}" y="{y - 0.9 * r:.1f}" width="{1.8 * r:.1f}" '
        f'height="{1.8 * r:.1f}"/><rect class="line" stroke-width="1.6" x="{x - 0.9 * r:.1f}" '
        f'y="{y - 0.9 * r:.1f}" width="{1.8 * r:.1f}" height="{1.8 * r:.1f}"/>'
    )
    return square + text_at("D", (x, y + 4.2), 11.5, anchor="middle", weight=700)


def _tie(name: Name) -> Iterator[str]:
    if name.leader is not None:
        (x, y), (u, v) = name.leader
        yield f'<path class="rule" stroke-width="1" d="M{x:.1f} {y:.1f}L{u:.1f} {v:.1f}"/>'


def _name(name: Name) -> Iterator[str]:
    x, y = name.at
    top = y - 0.58 * NAME * (len(name.lines) - 1)
    for n, line in enumerate(name.lines):
        place = (x, top + 0.36 * NAME + n * 1.16 * NAME)
        yield _haloed(line, place, NAME, "middle", 700 if name.strong else 500)
