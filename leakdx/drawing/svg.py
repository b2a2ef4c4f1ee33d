"""A sheet as SVG text: one file that asks for nothing from outside."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from leakdx.drawing.key import INDENT, LINE
from leakdx.drawing.legend import SIGN_WIDTH
from leakdx.drawing.scene import Scene
from leakdx.drawing.seeing import Look, Side
from leakdx.drawing.shapes import mark_path
from leakdx.drawing.sheet import (
    LABEL,
    MARGIN,
    MARK,
    WIDTH,
    Arrow,
    Entry,
    Item,
    Label,
    Mark,
    Panel,
    Patch,
    Point,
    Sheet,
    Sign,
)
from leakdx.drawing.style import FLUIDS, css, dashes
from leakdx.drawing.text import SIZE, width_of, wrapped
from leakdx.drawing.words import TITLES, WAYS, across_on, down_on, name_of, percent, stands
from leakdx.flow.courses import Way, Wind
from leakdx.machine.model import Zone

DASHED = ' stroke-dasharray="5 3"'
NAMESPACE = "http://www.w3.org/2000/svg"


def svg_of(sheet: Sheet, scene: Scene) -> str:
    """The drawing as the text of an SVG file."""
    wide, tall = sheet.size
    title = f"{scene.machine.name}: where fluid runs"
    parts = [
        f'<svg xmlns="{NAMESPACE}" class="ldx" viewBox="0 0 {wide:g} {tall:.0f}" '
        f'width="{wide:g}" height="{tall:.0f}" role="img" '
        'aria-labelledby="ldx-title ldx-desc">',
        f'<title id="ldx-title">{escape(clean(title))}</title>',
        f'<desc id="ldx-desc">{escape(clean(_description(sheet, scene)))}</desc>',
        f"<style>{css()}</style>",
        f"<defs>{''.join(patterns())}</defs>",
        f'<rect class="paper" width="{wide:g}" height="{tall:.0f}"/>',
        *_head(sheet, scene),
        *_legend(sheet, scene),
    ]
    for panel in sheet.panels:
        parts += _panel(panel, scene)
    parts += [text_at(h.text, h.at, 16, weight=700) for h in sheet.headings]
    for entry in sheet.entries:
        parts += _entry(entry)
    return "\n".join([*parts, "</svg>\n"])


def clean(text: str) -> str:
    """Text without the control characters that XML has no way to hold."""
    return "".join(c if c.isprintable() else " " for c in text)


def _description(sheet: Sheet, scene: Scene) -> str:
    said = [", ".join(TITLES[p.side] for p in sheet.panels) + ", all to one scale."]
    said.append(stands(scene.wind))
    if scene.followed is not None:
        said.append(f"Only where a leak of {name_of(scene.followed.seal)} goes.")
    said.append("Arrows show where fluid goes next; thick ones are likely.")
    return " ".join(said)


def text_at(
    text: str, at: Point, size: float, *, css_class: str = "", anchor: str = "", weight: int = 400
) -> str:
    """One line of text."""
    more = f' class="{css_class}"' if css_class else ""
    more += f' text-anchor="{anchor}"' if anchor else ""
    more += f' font-weight="{weight}"' if weight != 400 else ""
    place = f'x="{at[0]:.1f}" y="{at[1]:.1f}"'
    return f'<text {place} font-size="{size:g}"{more}>{escape(clean(text))}</text>'


def _head(sheet: Sheet, scene: Scene) -> Iterator[str]:
    yield text_at(_cut(scene.machine.name, 20), (MARGIN, 32), 20, weight=700)
    said = stands(scene.wind)
    if scene.followed is not None:
        said += f" Only where a leak of '{name_of(scene.followed.seal)}' goes."
    yield text_at(_cut(said, 14), (MARGIN, 54), 14, css_class="quiet")


def _cut(text: str, size: float) -> str:
    """What fits on a line beside the scale."""
    lines = wrapped(text, WIDTH - 2 * MARGIN - 180, size)
    return lines[0] + (" ..." if len(lines) > 1 else "")


def _legend(sheet: Sheet, scene: Scene) -> Iterator[str]:
    for item in sheet.legend:
        yield from _sample(item)
        x, y = item.at
        yield text_at(item.text, (x + SIGN_WIDTH[item.sign] + 8, y + 4.5), SIZE)
    yield from scale_bar(sheet.scale)


def _sample(item: Item) -> Iterator[str]:
    (x, y), wide = item.at, SIGN_WIDTH[item.sign]
    ends = ((x, y), (x + wide, y))
    match item.sign:
        case Sign.WAY:
            yield from _arrow(Arrow(0, 0, tuple(Way)[int(item.which)], 0.45, ends))
        case Sign.PART:
            yield from _arrow(Arrow(0, 0, Way.RUN, item.which, ends))
        case Sign.FAINT:
            yield from _arrow(Arrow(0, 0, Way.RUN, 0.3, ends, faint=True))
        case Sign.GROUND:
            middle = x + wide / 2
            yield from _arrow(Arrow(0, None, Way.DRIP, 0.3, ((middle, y - 10), (middle, y + 9))))
        case Sign.FLUID:
            yield from mark_at((x + wide / 2, y), int(item.which), "", seen=True)
        case Sign.UNSEEN:
            yield from mark_at((x + wide / 2, y), 0, "7", seen=False)
        case Sign.HIDDEN | Sign.SHADE:
            corners = f"{x:.1f},{y - 8:.1f} {x + wide:.1f},{y - 8:.1f} "
            corners += f"{x + wide:.1f},{y + 8:.1f} {x:.1f},{y + 8:.1f}"
            shade = int(item.which)
            kind = f"shade{shade}" if shade else "layer1"
            dash = "" if shade else DASHED
            yield f'<polygon class="zone {kind}" points="{corners}"{dash}/>'
            yield _filled(f"h{shade}" if shade else "off", corners)


def _filled(pattern: str, corners: str) -> str:
    return f'<polygon fill="url(#ldx-{pattern})" opacity="0.5" points="{corners}"/>'


def scale_bar(scale: float, top: float = 0.0) -> Iterator[str]:
    """A length in mm at the right, below ``top``; ``scale`` is units of the sheet a mm."""
    size = next(s for s in (500, 200, 100, 50, 20, 10, 5, 2, 1) if s * scale < 150 or s == 1)
    long = size * scale
    right = WIDTH - MARGIN
    yield (
        f'<path class="line" stroke-width="2" d="M{right - long:.1f} {top + 50:g}'
        f'v8m0-4h{long:.1f}m0-4v8"/>'
    )
    yield text_at(f"{size} mm", (right - long / 2, top + 44), SIZE, anchor="middle")


def patterns() -> Iterator[str]:
    """The hatchings."""
    for name, gap, angle in (
        ("off", 7, 45),
        ("h1", 12, -45),
        ("h2", 8, -45),
        ("h3", 5.5, -45),
        ("h4", 4, -45),
    ):
        yield (
            f'<pattern id="ldx-{name}" width="{gap}" height="{gap}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({angle})"><path class="hatch" stroke-width="0.7" '
            f'd="M0 0V{gap}"/></pattern>'
        )


def _panel(panel: Panel, scene: Scene) -> Iterator[str]:
    x, y = panel.at
    yield f'<g data-view="{panel.side}">'
    yield text_at(TITLES[panel.side], (x + 4, y + 16), 16, weight=700)
    yield from compass(panel.side, panel.at, scene.wind)
    for patch in panel.patches:
        yield from patch_of(patch, scene.machine.zones[patch.zone])
    for arrow in reversed(panel.arrows):
        yield from _arrow_with_title(arrow, scene)
    for mark in panel.marks:
        yield from _tie(mark)
    for mark in panel.marks:
        yield from _mark(mark, scene)
    for label in panel.labels:
        yield from _label(label)
    yield "</g>"


def compass(side: Side, at: Point, wind: Wind) -> Iterator[str]:
    """Below a view's title: what lies to its side, and where down is; ``at`` is its corner."""
    x, y = at[0] + 4, at[1] + 34
    name, way = across_on(side)
    ends = ((x, y), (x + 26, y)) if way > 0 else ((x + 26, y), (x, y))
    yield from _plain_arrow(*ends)
    yield text_at(name, (x + 32, y + 4.5), SIZE)
    x += 32 + width_of(name, SIZE) + 22
    down = down_on(side, wind.attitude)
    if isinstance(down, str):
        yield text_at(down, (x, y + 4.5), SIZE)
        return
    middle = np.array([x + 9, y])
    step = 10 * np.array([down[0], -down[1]])
    yield from _plain_arrow(tuple(middle - step), tuple(middle + step))
    yield text_at("down", (x + 24, y + 4.5), SIZE)


def _plain_arrow(start: Point, stop: Point) -> Iterator[str]:
    yield _shaft(start, stop, 1.6, "line", None)
    yield f'<path class="tip" d="{tip_of(start, stop, 1.6)}"/>'


def patch_of(patch: Patch, zone: Zone) -> Iterator[str]:
    """What is seen of a zone, with its name for whoever points at it."""
    name = f"{patch.zone + 1}: {name_of(zone)}"
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in patch.outline)
    ghost = patch.look is Look.GHOST
    kind = f"layer{patch.layer}" if not patch.shade else f"shade{patch.shade}"
    kind = "ghost" if ghost else f"zone {kind}"
    dash = DASHED if ghost or zone.hidden else ""
    yield f"<g data-zone={quoteattr(zone.id)}><title>{escape(clean(name))}</title>"
    yield f'<polygon class="{kind}" stroke-width="1" points="{points}"{dash}/>'
    pattern = f"h{patch.shade}" if patch.shade else "off" if zone.hidden and not ghost else ""
    if pattern:
        yield _filled(pattern, points)
    yield "</g>"


def _arrow_with_title(arrow: Arrow, scene: Scene) -> Iterator[str]:
    zones = scene.machine.zones
    target = "the ground" if arrow.target is None else name_of(zones[arrow.target])
    of_what = "of what leaves it" if scene.followed is None else "of the leak"
    said = (
        f"{name_of(zones[arrow.source])}: {percent(arrow.amount)} {of_what} "
        f"{WAYS[arrow.way]} to {target}"
    )
    yield f'<g data-way="{arrow.way}"><title>{escape(clean(said))}</title>'
    yield from _arrow(arrow)
    if arrow.faint and arrow.target is not None:
        x, y = arrow.past
        number = str(arrow.target + 1)
        yield text_at(number, (x, y + 3.8), 10.5, css_class="quiet", anchor="middle")
    yield "</g>"


def _arrow(arrow: Arrow) -> Iterator[str]:
    start, stop = arrow.points[0], arrow.points[-1]
    w = arrow.width
    yield _shaft(start, stop, w + 1.8, "halo", None)
    if arrow.way is Way.WICK:
        yield _shaft(start, stop, w + 2.4, str(arrow.way), None)
        yield _shaft(start, stop, 1.6, "core", None)
    else:
        yield _shaft(start, stop, w, str(arrow.way), dashes(arrow.way, w))
    yield f'<path class="{arrow.way}-tip" d="{tip_of(start, stop, w)}"/>'
    if arrow.target is None:
        yield f'<path class="{arrow.way}" stroke-width="1.6" d="{_ground(start, stop)}"/>'


def _ground(start: Point, stop: Point) -> str:
    """Two strokes square to an arrow, past its tip."""
    a, b = np.array(start), np.array(stop)
    way = (b - a) / (float(np.linalg.norm(b - a)) or 1.0)
    side = np.array([-way[1], way[0]])
    strokes = []
    for past, half in ((1.5, 7.0), (4.5, 4.0)):
        one, other = b + past * way - half * side, b + past * way + half * side
        strokes.append(f"M{one[0]:.1f} {one[1]:.1f}L{other[0]:.1f} {other[1]:.1f}")
    return "".join(strokes)


def _shaft(start: Point, stop: Point, width: float, kind: str, dash: str | None) -> str:
    a, b = np.array(start), np.array(stop)
    length = float(np.linalg.norm(b - a)) or 1.0
    end = b - (b - a) / length * min(3 + 1.2 * width, 0.6 * length)
    more = f' stroke-dasharray="{dash}"' if dash else ""
    if dash and "0.1 " in dash:
        more += ' stroke-linecap="round"'
    return (
        f'<path class="{kind}" stroke-width="{width:.2f}"{more} '
        f'd="M{a[0]:.1f} {a[1]:.1f}L{end[0]:.1f} {end[1]:.1f}"/>'
    )


def tip_of(start: Point, stop: Point, width: float) -> str:
    """The head of an arrow."""
    a, b = np.array(start), np.array(stop)
    way = (b - a) / (float(np.linalg.norm(b - a)) or 1.0)
    side = np.array([-way[1], way[0]])
    long, wide = 5 + 1.7 * width, 2.6 + 1.1 * width
    one, other = b - long * way + wide * side, b - long * way - wide * side
    return f"M{b[0]:.1f} {b[1]:.1f}L{one[0]:.1f} {one[1]:.1f}L{other[0]:.1f} {other[1]:.1f}Z"


def _mark(mark: Mark, scene: Scene) -> Iterator[str]:
    seal = scene.machine.seal_points[mark.seal]
    fluid = next(f for f in scene.machine.fluids if f.id == seal.fluid)
    said = f"Seal point {mark.seal + 1}: {name_of(seal)} ({name_of(fluid)})"
    yield f"<g data-seal={quoteattr(seal.id)}><title>{escape(clean(said))}</title>"
    yield from mark_at(mark.at, mark.shape, str(mark.seal + 1), seen=mark.seen)
    yield "</g>"


def _tie(mark: Mark) -> Iterator[str]:
    """From a mark that had to move to where its seal point is."""
    (x, y), (u, v) = mark.anchor, mark.at
    if np.hypot(u - x, v - y) > MARK:
        yield f'<path class="line" stroke-width="0.9" d="M{x:.1f} {y:.1f}L{u:.1f} {v:.1f}"/>'
        yield f'<circle class="tip" cx="{x:.1f}" cy="{y:.1f}" r="1.8"/>'


def mark_at(at: Point, shape: int, number: str, *, seen: bool, size: float = MARK) -> Iterator[str]:
    """The mark of a seal point, in the shape of its fluid."""
    colour = shape % len(FLUIDS)
    kind = f"f{colour}" if seen else f"u{colour}"
    yield f'<path class="{kind}" stroke-width="1.2" d="{mark_path(shape, at, size)}"/>'
    if number:
        text = "number" if seen else f"un{colour}"
        letters = size * (1.24 if len(number) < 3 else 1.0)
        place = (at[0], at[1] + 0.36 * letters)
        yield text_at(number, place, letters, css_class=text, anchor="middle", weight=700)


def _label(label: Label) -> Iterator[str]:
    x, y = label.at
    if label.tied is not None:
        u, v = label.tied
        yield f'<path class="rule" stroke-width="0.8" d="M{u:.1f} {v:.1f}L{x:.1f} {y:.1f}"/>'
        yield f'<circle class="quiet" cx="{u:.1f}" cy="{v:.1f}" r="1.7"/>'
    kind = "on quiet" if label.quiet else "on"
    top = y - LABEL * 0.45 * (len(label.lines) - 1)
    for n, line in enumerate(label.lines):
        size = LABEL if n == 0 else 0.85 * LABEL
        weight = 600 if n == 0 and not label.quiet else 400
        yield (
            f'<text x="{x:.1f}" y="{top + size * 0.36 + n * LABEL * 0.92:.1f}" '
            f'font-size="{size:g}" text-anchor="middle" class="{kind}" font-weight="{weight}" '
            f'stroke-width="3" stroke-linejoin="round" paint-order="stroke">'
            f"{escape(clean(line))}</text>"
        )


def _entry(entry: Entry) -> Iterator[str]:
    x, y = entry.at
    number = "" if entry.number is None else str(entry.number)
    if entry.mark is None:
        yield text_at(number, (x + INDENT - 10, y + 12), SIZE, anchor="end", weight=700)
    else:
        place = (x + MARK + 4, y + 8)
        yield from mark_at(place, entry.mark, number, seen=True, size=0.86 * MARK)
    weight = 400 if number else 700
    for n, line in enumerate(entry.lines):
        yield text_at(line, (x + INDENT, y + 12 + n * LINE), SIZE, weight=weight)
