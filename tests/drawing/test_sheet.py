"""The sheet: one scale, marks and labels where they belong, and a key to all of them."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from leakdx.drawing.key import COLUMNS, INDENT
from leakdx.drawing.labels import half_size
from leakdx.drawing.laying import sheet_of
from leakdx.drawing.seeing import Look, Side
from leakdx.drawing.shapes import NAMES, mark_path
from leakdx.drawing.sheet import MARGIN, MARK, WIDTH, Panel
from leakdx.drawing.text import SIZE, width_of, wrapped
from leakdx.machine.model import Fluid, FluidKind, SealKind, SealPoint
from tests.drawing.drawn import panel, reference, scene
from tests.flow.boxes import box, machine, patch, tray


def test_all_views_have_one_scale() -> None:
    made = scene(machine((*box(size=(400, 300, 200)), tray())))
    sheet = sheet_of(made)
    ids = [z.id for z in made.machine.zones]
    sides = [np.ptp(np.array(p.outline), axis=0) for v in sheet.panels for p in v.patches]
    assert np.min(sides) >= 4 * sheet.scale - 0.01
    for side, name, size in (
        (Side.LEFT, "left", (400, 200)),
        (Side.TOP, "top", (400, 300)),
        (Side.FRONT, "front", (300, 200)),
    ):
        patches = panel(sheet, side).patches
        outline = np.array(next(p for p in patches if ids[p.zone] == name).outline)
        # No side of a patch is drawn thinner than two rays of the view are apart.
        assert np.ptp(outline, axis=0) / sheet.scale == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize("only", [None, Side.RIGHT])
def test_nothing_leaves_the_sheet_and_views_do_not_overlap(only: Side | None) -> None:
    made, _ = reference()
    sheet = sheet_of(made, only)
    wide, tall = sheet.size
    corners = [(p.at[0], p.at[1], p.at[0] + p.size[0], p.at[1] + p.size[1]) for p in sheet.panels]
    for (a, b, c, d), (e, f, g, h) in combinations(corners, 2):
        assert c <= e + 0.01 or g <= a + 0.01 or d <= f + 0.01 or h <= b + 0.01
    for each, (left, top, right, bottom) in zip(sheet.panels, corners, strict=True):
        assert left >= 0 and right <= wide
        assert bottom <= min(h.at[1] for h in sheet.headings) <= tall
        points = [q for p in each.patches for q in p.outline] + [m.at for m in each.marks]
        points += [label.at for label in each.labels]
        assert all(left - 20 <= x <= right + 20 and top + 40 <= y <= bottom for x, y in points)
    for item in sheet.legend:
        assert item.at[0] + width_of(item.text, SIZE) < WIDTH
        assert item.at[1] < min(p.at[1] for p in sheet.panels)


def test_the_key_names_each_zone_and_seal_point_once() -> None:
    made, sheet = reference()
    zones = [e.number for e in sheet.entries if e.mark is None]
    seals = [e.number for e in sheet.entries if e.mark is not None and e.number is not None]
    assert zones == list(range(1, len(made.machine.zones) + 1))
    assert sorted(seals) == list(range(1, len(made.machine.seal_points) + 1))
    by_number = {e.number: " ".join(e.lines) for e in sheet.entries if e.mark is None}
    assert by_number[1] == made.machine.zones[0].name
    fluids = [" ".join(e.lines) for e in sheet.entries if e.number is None]
    assert fluids == [f.name for f in made.machine.fluids]


def test_seal_points_in_the_key_have_the_shape_of_their_fluid() -> None:
    made, sheet = reference()
    fluids = [f.id for f in made.machine.fluids]
    for entry in sheet.entries:
        if entry.mark is not None and entry.number is not None:
            assert fluids[entry.mark] == made.machine.seal_points[entry.number - 1].fluid
    for each in sheet.panels:
        for mark in each.marks:
            assert fluids[mark.shape] == made.machine.seal_points[mark.seal].fluid


def test_lines_of_the_key_fit_their_columns_and_do_not_overlap() -> None:
    _, sheet = reference()
    room = (WIDTH - 2 * MARGIN) / COLUMNS - INDENT
    for entry in sheet.entries:
        assert all(width_of(line, SIZE) <= room for line in entry.lines)
    for one, other in combinations(sheet.entries, 2):
        if one.at[0] == other.at[0]:
            upper, lower = sorted((one, other), key=lambda e: e.at[1])
            assert lower.at[1] >= upper.at[1] + 16 * len(upper.lines)
    assert len({e.at[0] for e in sheet.entries}) == COLUMNS


def test_each_seal_point_is_drawn_and_where_it_is() -> None:
    made, sheet = reference()
    drawn = {m.seal for p in sheet.panels for m in p.marks}
    assert drawn == set(range(len(made.machine.seal_points)))
    height = {k: s.position_mm[2] for k, s in enumerate(made.machine.seal_points) if s.position_mm}
    for side in (Side.LEFT, Side.RIGHT, Side.FRONT, Side.REAR):
        marks = [m for m in panel(sheet, side).marks if m.seal in height]
        for one, other in combinations(marks, 2):
            down = (other.anchor[1] - one.anchor[1]) / sheet.scale
            assert down == pytest.approx(height[one.seal] - height[other.seal], abs=0.1)


def test_a_covered_seal_point_is_marked_as_such_once() -> None:
    made, sheet = reference()
    for k, seal in enumerate(made.machine.seal_points):
        seen = [m.seen for p in sheet.panels for m in p.marks if m.seal == k]
        assert all(seen) or seen == [False], seal.id
    hidden = next(k for k, s in enumerate(made.machine.seal_points) if s.zones == ("bell_inside",))
    rear = {m.seal: m.seen for m in panel(sheet, Side.REAR).marks}
    assert hidden in rear


def test_a_seal_point_behind_a_body_is_covered_though_its_zone_shows() -> None:
    body = patch("body", (150, 300, 400), (0, 1, 0), (90, 90, 90))
    seals = tuple(
        SealPoint(
            id=f"at_{x}",
            kind=SealKind.O_RING,
            zones=("left",),
            fluid="oil",
            position_mm=(float(x), 200.0, 400.0),
        )
        for x in (150, 0)
    )
    sheet = sheet_of(scene(machine((*box(), body), seal_points=seals)))
    marks = {m.seal: (p.side, m.seen) for p in sheet.panels for m in p.marks}
    assert marks == {0: (Side.LEFT, False), 1: (Side.LEFT, True)}


def _overlaps(each: Panel) -> tuple[int, int]:
    """Pairs of labels that lie on one another, and labels that lie on a mark."""
    labels = [(np.array(label.at), half_size(label.lines)) for label in each.labels]
    twice = sum(
        bool((np.abs(a - b) < 0.8 * (p + q)).all()) for (a, p), (b, q) in combinations(labels, 2)
    )
    on_marks = sum(
        bool((np.abs(a - np.array(m.at)) < 0.7 * (p + MARK)).all())
        for a, p in labels
        for m in each.marks
    )
    return twice, on_marks


@pytest.mark.parametrize("seal", [None, "head_cover_gasket_rear"])
def test_labels_keep_clear_of_one_another_and_of_marks(seal: str | None) -> None:
    _, sheet = reference(seal)
    for each in sheet.panels:
        twice, on_marks = _overlaps(each)
        assert twice <= 1, each.side
        assert on_marks <= 1, each.side


def test_a_label_lies_on_its_zone_or_is_tied_to_it() -> None:
    _, sheet = reference()
    for each in sheet.panels:
        shapes = {p.zone: np.array(p.outline) for p in each.patches}
        for label in each.labels:
            place = np.array(label.at if label.tied is None else label.tied)
            low, high = shapes[label.zone].min(axis=0), shapes[label.zone].max(axis=0)
            assert (place >= low - 3).all() and (place <= high + 3).all()


def test_a_zone_that_faces_the_viewer_has_its_number() -> None:
    _, sheet = reference()
    for each in sheet.panels:
        numbered = {label.zone for label in each.labels}
        for zone in each.patches:
            if zone.look is not Look.EDGE:
                assert zone.zone in numbered


def test_fluids_differ_in_shape() -> None:
    shapes = {mark_path(n, (0.0, 0.0), 8.0) for n in range(16)}
    assert len(shapes) == 16
    assert len(set(NAMES)) == 8


def test_more_fluids_than_shapes_are_still_told_apart() -> None:
    fluids = tuple(Fluid(id=f"f{n}", kind=FluidKind.GEAR_OIL) for n in range(10))
    seals = tuple(
        SealPoint(id=f"s{n}", kind=SealKind.O_RING, zones=("left",), fluid=f"f{n}")
        for n in range(10)
    )
    sheet = sheet_of(scene(machine(box(), fluids=fluids, seal_points=seals)))
    marks = panel(sheet, Side.LEFT).marks
    assert len({mark_path(m.shape, (0.0, 0.0), 8.0) for m in marks}) == 10
    # All ten have the same place, so they had to move apart.
    assert min(np.hypot(*np.subtract(a.at, b.at)) for a, b in combinations(marks, 2)) > 2 * MARK


def test_words_are_wrapped_and_what_is_too_long_is_cut() -> None:
    assert wrapped("", 100) == ("",)
    lines = wrapped("one two three " + "x" * 200, 120)
    assert "".join(lines).replace(" ", "") == "onetwothree" + "x" * 200
    assert all(width_of(line, SIZE) <= 120 for line in lines)
    assert width_of("\u6cb9\u6cb9", 10) > width_of("aa", 10)
