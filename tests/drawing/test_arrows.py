"""Arrows: where they are, how thick, and in which line."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from leakdx.drawing.asked import Asked
from leakdx.drawing.laying import sheet_of
from leakdx.drawing.seeing import Look, Side
from leakdx.drawing.sheet import Arrow
from leakdx.drawing.style import dashes
from leakdx.drawing.svg import svg_of
from leakdx.drawing.words import across_on, down_on
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Course, Way
from leakdx.machine.model import DrawnPath
from tests.drawing.drawn import drawing, panel, reference, scene
from tests.flow.boxes import box, machine, patch, tray

ENDS = ((0.0, 0.0), (40.0, 0.0))


def test_the_more_takes_a_way_the_thicker_its_arrow() -> None:
    widths = [Arrow(0, 1, Way.RUN, part, ENDS).width for part in (0.02, 0.15, 0.4, 0.8, 1.0)]
    assert all(a < b for a, b in pairwise(widths))
    assert widths[-1] > 2 * widths[1]


def test_each_way_has_a_line_of_its_own() -> None:
    for width in (1.0, 4.6):
        patterns = {way: dashes(way, width) for way in Way}
        # A run and a wicked way have unbroken lines; the wicked one is drawn double.
        broken = [patterns[w] for w in (Way.DRIP, Way.CARRY, Way.FLING)]
        assert None not in broken and len(set(broken)) == 3
    made = machine(
        (*box(), tray()),
        paths=(DrawnPath(source="top", target="left", share=0.9, wicks=True),),
    )
    groups = [g for g in drawing(scene(made)).iter() if "data-way" in g.attrib]
    cores = {
        g.attrib["data-way"]: any("core" in e.attrib.get("class", "").split() for e in g.iter())
        for g in groups
    }
    assert cores["wick"] and not cores["run"]


def test_drops_fall_down_the_page_and_end_on_what_lies_below() -> None:
    _made, sheet = reference()
    falls = [
        (p.side, a)
        for p in sheet.panels
        for a in p.arrows
        if a.way is Way.DRIP and not a.faint and p.side not in (Side.TOP, Side.BELOW)
    ]
    assert len(falls) > 20
    for _, arrow in falls:
        (x, y), (u, v) = arrow.points[0], arrow.points[-1]
        assert v > y + 5
        if arrow.target is not None:
            assert abs(u - x) < 30


def test_a_drop_lets_go_at_the_lowest_of_its_zone() -> None:
    body = patch("body", (0, 0, 500), (0, 0, 1), (200, 200, 100))
    made = scene(machine((body, tray())))
    falls = [(p, a) for p in sheet_of(made).panels for a in p.arrows if a.target == 1]
    assert falls
    for each, arrow in falls:
        low = {p.zone: max(y for _, y in p.outline) for p in each.patches}
        high = {p.zone: min(y for _, y in p.outline) for p in each.patches}
        assert arrow.points[0][1] == pytest.approx(low[0], abs=12)
        assert arrow.points[-1][1] == pytest.approx(high[1], abs=12)


def test_a_run_goes_from_its_source_into_its_target() -> None:
    made = scene(machine((*box(), tray())))
    view = panel(sheet_of(made), Side.LEFT)
    ids = [z.id for z in made.machine.zones]
    outlines = {p.zone: np.array(p.outline) for p in view.patches}
    arrow = next(a for a in view.arrows if ids[a.source] == "top" and a.target == ids.index("left"))
    stop = np.array(arrow.points[-1])
    target = outlines[ids.index("left")]
    assert (stop > target.min(axis=0)).all() and (stop < target.max(axis=0)).all()
    assert arrow.points[0][1] < arrow.points[-1][1]


def test_weak_ways_are_left_out_and_strong_ones_are_all_there() -> None:
    made, sheet = reference()
    drawn = {(a.source, a.target, a.way) for p in sheet.panels for a in p.arrows}
    strong = {
        (c.source, c.target, c.way) for c in made.flow.courses if c.share >= 0.3 and not c.sideways
    }
    weak = {(c.source, c.target, c.way) for c in made.flow.courses if c.share < 0.1}
    assert strong <= drawn
    assert not weak & drawn
    assert not any(a.amount < 0.15 for p in sheet.panels for a in p.arrows)


def test_a_way_that_no_stream_takes_is_not_drawn() -> None:
    made = scene(machine((*box(), tray())))
    courses = (Course(0, 1, 0.5, Way.RUN), Course(1, 0, 0.5, Way.RUN, sideways=True))
    looped = replace(made, flow=replace(made.flow, courses=courses))
    assert [(p.source, p.target) for p in looped.passages] == [(0, 1)]


def test_an_arrow_is_drawn_only_where_both_its_zones_show() -> None:
    _, sheet = reference()
    for each in sheet.panels:
        looks = {p.zone: p.look for p in each.patches}
        for arrow in each.arrows:
            assert arrow.source in looks
            if arrow.target is not None and not arrow.faint:
                assert Look.GHOST not in (looks[arrow.source], looks[arrow.target])


def test_what_falls_clear_ends_on_the_ground() -> None:
    lone = machine((patch("body", (0, 0, 0), (0, 0, 1), (200, 200, 100)),))
    sheet = sheet_of(scene(lone))
    falls = [a for p in sheet.panels for a in p.arrows]
    assert [a.target for a in falls] == [None]
    assert falls[0].amount == pytest.approx(1)


def test_a_leaning_machine_has_its_drops_leaning_on_the_page() -> None:
    made = machine((*box(), tray()))
    level = scene(made)
    leaning = scene(made, Asked(roll_deg=30))
    for each, slope in ((level, 0.0), (leaning, np.tan(np.radians(30)))):
        arrows = panel(sheet_of(each), Side.REAR).arrows + panel(sheet_of(each), Side.FRONT).arrows
        falls = [a for a in arrows if a.way is Way.DRIP]
        assert falls
        for arrow in falls:
            (x, y), (u, v) = arrow.points[0], arrow.points[-1]
            assert abs(u - x) / (v - y) == pytest.approx(slope, abs=0.02)


def test_long_falls_are_not_drawn_in_every_view() -> None:
    _, sheet = reference()
    falls = Counter(
        (a.source, a.target) for p in sheet.panels for a in p.arrows if a.way is Way.DRIP
    )
    assert max(falls.values()) == 2
    # A body that has a side to look at is drawn dripping only from there.
    for normal, views in (((0, 1, 0), [Side.LEFT]), ((1, 0, 0), [Side.FRONT])):
        body = patch("body", (0, 0, 500), normal, (200, 200, 200))
        made = scene(machine((body, tray())))
        falls_to = [p.side for p in sheet_of(made).panels for a in p.arrows if a.target == 1]
        assert falls_to == views


def test_one_view_alone_has_all_falls_that_show_in_it_and_no_faint_arrows_of_others() -> None:
    made, sheet = reference()
    more = 0
    for side in (Side.LEFT, Side.FRONT, Side.REAR):
        alone = {
            (a.source, a.target, a.way, a.faint) for a in sheet_of(made, side).panels[0].arrows
        }
        among = {(a.source, a.target, a.way, a.faint) for a in panel(sheet, side).arrows}
        assert among <= alone
        assert {a for a in alone if a[3]} == {a for a in among if a[3]}
        more += len(alone - among)
    assert more > 3


def test_what_lies_across_each_view() -> None:
    found = {side: across_on(side) for side in Side}
    assert found[Side.LEFT] == ("front", -1) and found[Side.RIGHT] == ("front", 1)
    assert found[Side.TOP] == found[Side.BELOW] == ("front", 1)
    assert found[Side.FRONT] == ("left side", 1) and found[Side.REAR] == ("left side", -1)


def test_down_in_each_view() -> None:
    assert down_on(Side.LEFT, Attitude()) == pytest.approx((0.0, -1.0))
    assert down_on(Side.TOP, Attitude()) == "down is away from you"
    assert down_on(Side.BELOW, Attitude()) == "down is toward you"
    # Nose up: down leans to the rear, which is right when seen from the left.
    x, y = down_on(Side.LEFT, Attitude(pitch_deg=20))
    assert float(x) > 0.3 and float(y) < -0.9
    # Left side up: down leans to the right side, which is left when seen from the front.
    x, y = down_on(Side.FRONT, Attitude(roll_deg=20))
    assert float(x) < -0.3 and float(y) < -0.9


def test_the_title_of_an_arrow_says_it_in_words() -> None:
    made, sheet = reference()
    text = svg_of(sheet, made)
    assert "Starter motor: " in text and "of what leaves it drips to" in text
