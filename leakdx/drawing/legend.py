"""How the picture is read: a sample of each sign in it, in rows that fit the sheet."""

from __future__ import annotations

from collections.abc import Iterator

from leakdx.drawing.scene import LEAST_PART, LEAST_SHARE, Scene
from leakdx.drawing.sheet import MARGIN, WIDTH, Item, Sign
from leakdx.drawing.text import SIZE, width_of, wrapped
from leakdx.drawing.words import WAYS, name_of, percent
from leakdx.flow.courses import Way

TOP = 78.0  # below the title
ROW = 22.0
SIGN_WIDTH = {
    Sign.WAY: 46.0,
    Sign.PART: 40.0,
    Sign.GROUND: 26.0,
    Sign.FAINT: 34.0,
    Sign.FLUID: 20.0,
    Sign.UNSEEN: 20.0,
    Sign.HIDDEN: 26.0,
    Sign.SHADE: 26.0,
}
SHADE_WORDS = ("2 to 10 %", "10 to 30 %", "30 to 60 %", "60 % and more of the leak")


def legend_of(scene: Scene, unseen: bool) -> tuple[tuple[Item, ...], float]:
    """The signs in rows, and where they end; ``unseen`` where a seal point shows in no view."""
    found: list[Item] = []
    y = TOP
    for row in (_ways(scene), _things(scene, unseen)):
        x = MARGIN
        for sign, which, text in row:
            said = wrapped(text, WIDTH - 2 * MARGIN - 60)[0]
            wide = SIGN_WIDTH[sign] + 8 + width_of(said, SIZE) + 20
            if x > MARGIN and x + wide - 20 > WIDTH - MARGIN:
                x, y = MARGIN, y + ROW
            found.append(Item(sign, which, said, (x, y)))
            x += wide
        y += ROW
    return tuple(found), y + 6


def _ways(scene: Scene) -> Iterator[tuple[Sign, float, str]]:
    used = {p.way for p in scene.passages}
    ground = _to_ground(scene)
    for n, way in enumerate(Way):
        if way in used or (way is Way.DRIP and ground):
            yield Sign.WAY, n, WAYS[way]
    if ground:
        yield Sign.GROUND, 0, "falls to the ground"
    of_what = "of what leaves a zone" if scene.followed is None else "of the leak"
    least = LEAST_SHARE if scene.followed is None else LEAST_PART
    parts = (max(least, 0.05), 0.5, 1.0)
    for part in parts:
        yield Sign.PART, part, f"{percent(part)}{' ' + of_what if part == 1 else ''}"
    yield Sign.FAINT, 0, f"thin: to a covered zone; ways of less than {percent(least)} are left out"


def _to_ground(scene: Scene) -> bool:
    if scene.followed is None:
        return bool((scene.flow.to_ground >= LEAST_SHARE).any())
    return bool((scene.followed.trail.to_ground_from >= LEAST_PART).any())


def _things(scene: Scene, unseen: bool) -> Iterator[tuple[Sign, float, str]]:
    followed = scene.followed
    for n, fluid in enumerate(scene.machine.fluids):
        if followed is None or followed.seal.fluid == fluid.id:
            yield Sign.FLUID, n, name_of(fluid)
    if unseen:
        yield Sign.UNSEEN, 0, "outlined: a seal point that is covered"
    if any(z.hidden for z in scene.machine.zones):
        yield Sign.HIDDEN, 0, "a zone that is seen only when something is off"
    if followed is not None:
        for n, words in enumerate(SHADE_WORDS, 1):
            yield Sign.SHADE, n, words
