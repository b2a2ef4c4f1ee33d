"""The picture of a route: one arrow a step, its chance in words, nothing by colour alone."""

from __future__ import annotations

import re
from functools import lru_cache
from xml.etree import ElementTree

import numpy as np
import pytest

from leakdx.advice.solving import Solved, solve
from leakdx.case.read import load_shipped_job
from leakdx.drawing.route_sheet import route_sheet
from leakdx.drawing.route_text import WORDS as DRAWN_WORDS
from leakdx.drawing.words import TITLES, percent
from leakdx.flow.attitude import Attitude
from leakdx.flow.courses import Wind
from leakdx.machine.model import Machine, SealKind, SealPoint
from leakdx.network.tables import Array
from leakdx.priors.read import shipped_priors
from leakdx.reasons.route import WORDS, Route, Step, epoch_of, marks_of, routes_of
from tests.drawing.drawn import SVG
from tests.flow.boxes import box, machine, tray

MOST_LIKELY = {
    "rear_of_engine_wet": "head_cover_gasket_rear",
    "front_drip_after_refit": "sump_joint_front",
    "right_side_two_fluids": "filter_housing_gasket",
}
ROUTE = Route(
    "joint",
    "tray",
    "oil",
    (
        Step("joint", "top", "shows", 0.91),
        Step("top", "left", "run", 0.62),
        Step("left", "tray", "drip", 0.4),
    ),
    0.2257,
    0.97,
)
OTHER = Route(
    "joint",
    "left",
    "oil",
    (Step("joint", "top", "shows", 0.91), Step("top", "left", "run", 0.62)),
    0.5642,
    0.98,
)
MARKS = {"tray": True, "left": False}


def house(name: str = "Lid joint") -> Machine:
    seal = SealPoint(
        id="joint",
        name=name,
        kind=SealKind.FLAT_GASKET,
        zones=("top",),
        fluid="oil",
        position_mm=(0, 50, 500),
    )
    return machine((*box(), tray()), seal_points=(seal,))


def drawn(*routes: Route, wind: Wind | None = None) -> ElementTree.Element:
    return ElementTree.fromstring(route_sheet(house(), wind or Wind(), routes, MARKS))


def steps(root: ElementTree.Element) -> dict[int, ElementTree.Element]:
    groups = [g for g in root.iter(f"{SVG}g") if "data-step" in g.attrib]
    found = {int(g.attrib["data-step"]): g for g in groups}
    assert len(found) == len(groups)
    return found


def shafts(group: ElementTree.Element) -> list[ElementTree.Element]:
    return [p for p in group.iter(f"{SVG}path") if "shaft" in p.attrib["class"].split()]


def words(element: ElementTree.Element) -> list[str]:
    return [t.text or "" for t in element.iter(f"{SVG}text")]


@lru_cache
def job(name: str) -> tuple[Solved, tuple[Route, ...]]:
    solved = solve(load_shipped_job(name), shipped_priors())
    return solved, routes_of(solved, MOST_LIKELY[name])


def sheet_of_job(name: str) -> str:
    solved, routes = job(name)
    epoch = epoch_of(solved, routes[0].zone)
    setting = solved.asked.network.setting
    wind = setting.epochs[epoch].wind
    return route_sheet(setting.machine, wind, routes, marks_of(solved, epoch))


def test_one_arrow_a_step_with_its_number_and_its_chance() -> None:
    found = steps(drawn(ROUTE))
    assert sorted(found) == [1, 2, 3]
    for step, group in zip(ROUTE.steps, (found[n] for n in (1, 2, 3)), strict=True):
        assert len(shafts(group)) == 1
        assert words(group) == [group.attrib["data-step"], percent(step.chance)]
    assert [words(found[n])[1] for n in (1, 2, 3)] == ["91 %", "62 %", "40 %"]


def test_a_step_that_routes_share_is_drawn_once() -> None:
    root = drawn(ROUTE, OTHER)
    assert sorted(steps(root)) == [1, 2, 3]
    told = " ".join(words(root))
    assert "To tray: 1, 2, 3. The whole route 23 %" in told
    assert "To left: 1, 2. The whole route 56 %" in told


def test_drops_are_dashed_and_what_runs_is_not() -> None:
    found = steps(drawn(ROUTE))
    dashed = {n: "stroke-dasharray" in shafts(g)[0].attrib for n, g in found.items()}
    assert dashed == {1: False, 2: False, 3: True}
    patterns = set()
    for way in ("run", "drip", "carry", "fling"):
        route = Route("joint", "left", "oil", (ROUTE.steps[0], Step("top", "left", way, 0.5)), 1, 1)
        patterns.add(shafts(steps(drawn(route))[2])[0].attrib.get("stroke-dasharray"))
    assert len(patterns) == 4


def test_wet_and_dry_differ_in_shape_and_letter() -> None:
    groups = [g for g in drawn(ROUTE).iter(f"{SVG}g") if "data-read" in g.attrib]
    assert {g.attrib["data-read"] for g in groups} == {"wet", "dry"}
    for group in groups:
        wet = group.attrib["data-read"] == "wet"
        assert words(group) == ["W" if wet else "D"]
        assert (group.find(f"{SVG}rect") is None) is wet
        assert ("tray: read wet" if wet else "left: read dry") == group[0].text


def test_the_seal_point_is_marked_and_named() -> None:
    root = drawn(ROUTE)
    marks = [g for g in root.iter(f"{SVG}g") if g.attrib.get("data-seal") == "joint"]
    assert len(marks) == 1 and words(marks[0]) == ["S"]
    assert "Lid joint" in words(root)
    assert any("Lid joint shows on top: 91 %" in w for w in words(root))


@pytest.mark.parametrize("pitch,roll", [(0, 0), (20, 0), (0, -30)])
def test_drops_fall_down_in_the_picture(pitch: float, roll: float) -> None:
    root = drawn(ROUTE, wind=Wind(Attitude(pitch, roll)))
    for view in (g for g in root.iter(f"{SVG}g") if "data-view" in g.attrib):
        if view.attrib["data-view"] not in ("left", "right", "front", "rear"):
            continue
        for number, group in steps(view).items():
            if number == 3:
                path = shafts(group)[0].attrib["d"]
                ends = np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", path), float)
                assert ends[-1][1] > ends[-2][1] + 5


def test_each_arrow_begins_where_the_one_before_ended_or_has_a_ring() -> None:
    for name in MOST_LIKELY:
        _, routes = job(name)
        found = steps(ElementTree.fromstring(sheet_of_job(name)))
        numbers = {}
        for route in routes:
            for n, step in enumerate(route.steps):
                numbers.setdefault((step.source, step.target, n == 0), len(numbers) + 1)
        assert sorted(found) == sorted(numbers.values())
        tips = {n: tip(g) for n, g in found.items()}
        for route in routes:
            for n, (before, after) in enumerate(zip(route.steps, route.steps[1:], strict=False)):
                here = numbers[before.source, before.target, n == 0]
                there = found[numbers[after.source, after.target, False]]
                start = points(shafts(there)[0])[0]
                ringed = any(c.attrib["class"] != "tip" for c in there.iter(f"{SVG}circle"))
                others = [tips[k] for (_, t, _), k in numbers.items() if t == before.target]
                assert here in found
                assert ringed or min(np.hypot(*(start - o)) for o in others) < 1


def points(path: ElementTree.Element) -> list[Array]:
    pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.attrib["d"])
    return [np.array(p, float) for p in pairs]


def tip(group: ElementTree.Element) -> Array:
    heads = [p for p in group.iter(f"{SVG}path") if p.attrib["class"].endswith("-tip")]
    return points(heads[0])[0]


@pytest.mark.parametrize("name", MOST_LIKELY)
def test_a_shipped_job_gives_a_sheet_that_stands_alone(name: str) -> None:
    text = sheet_of_job(name)
    root = ElementTree.fromstring(text)
    _, routes = job(name)
    distinct = {(s.source, s.target, n == 0) for r in routes for n, s in enumerate(r.steps)}
    groups = steps(root)
    assert len(groups) == len(distinct)
    assert all(len(shafts(g)) == 1 and len(words(g)) == 2 for g in groups.values())
    assert "prefers-color-scheme: dark" in text
    assert re.findall(r"(?:href|src|url\()\s*=?\s*[\"']?(?!#)[^\"')]+", text) == []
    assert "http" not in text.replace(SVG.strip("{}"), "")
    wide, tall = (float(root.attrib[k]) for k in ("width", "height"))
    for element in root.iter(f"{SVG}text"):
        assert 0 <= float(element.attrib["x"]) <= wide
        assert 0 <= float(element.attrib["y"]) <= tall
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids))
    views = [g.attrib["data-view"] for g in root.iter(f"{SVG}g") if "data-view" in g.attrib]
    assert 1 <= len(views) <= 3
    assert set(views) <= {str(s) for s in TITLES}


def test_a_route_round_the_machine_is_drawn_in_the_views_that_show_it() -> None:
    solved, _ = job("rear_of_engine_wet")
    routes = routes_of(solved, "oil_filler_cap")
    setting = solved.asked.network.setting
    text = route_sheet(setting.machine, setting.epochs[-1].wind, routes, {})
    root = ElementTree.fromstring(text)
    views = {g.attrib["data-view"]: g for g in root.iter(f"{SVG}g") if "data-view" in g.attrib}
    # From the filler on top, and by the rear, where the wet zones are.
    assert next(iter(views)) == "top" and "rear" in views
    assert 1 in steps(views["top"])
    first = [min(steps(v)) for v in views.values()]
    assert first == sorted(first)
    assert any("(seen from the rear)" in w for w in words(root))


def test_awkward_names_give_sound_xml_and_what_cannot_be_drawn_is_refused() -> None:
    name = "Pump <A> & \"B\" 'C' \x07 ]]>"
    root = ElementTree.fromstring(route_sheet(house(name), Wind(), [ROUTE], MARKS))
    assert any("<A> & \"B\" 'C'" in w for w in words(root))
    with pytest.raises(ValueError, match="no route"):
        route_sheet(house(), Wind(), [], MARKS)
    with pytest.raises(KeyError):
        route_sheet(house(), Wind(), [ROUTE], {"nowhere": True})


def test_the_picture_says_it_as_the_sentence_does() -> None:
    assert DRAWN_WORDS == WORDS
