"""The file: sound, on its own, readable by eye and by machine."""

from __future__ import annotations

import re
from itertools import product

import pytest

from leakdx.drawing import style
from leakdx.drawing.asked import Asked
from leakdx.drawing.laying import sheet_of
from leakdx.drawing.seeing import Side
from leakdx.drawing.svg import svg_of
from leakdx.machine.model import Fluid, FluidKind, SealKind, SealPoint
from tests.drawing.drawn import SVG, drawing, panel, reference, scene
from tests.flow.boxes import box, machine, patch, tray

AWKWARD = "Pump <A> & \"B\" 'C' \x07 ]]> \u6cb9"


def test_the_reference_is_drawn_with_every_zone_and_seal_point() -> None:
    made, _ = reference()
    root = drawing(made)
    assert root.tag == f"{SVG}svg" and root.attrib["role"] == "img"
    assert root[0].tag == f"{SVG}title" and root[1].tag == f"{SVG}desc"
    assert made.machine.name in (root[0].text or "")
    named = root.attrib["aria-labelledby"].split()
    assert named == [root[0].attrib["id"], root[1].attrib["id"]]
    for key, things in (("zone", made.machine.zones), ("seal", made.machine.seal_points)):
        groups = [g for g in root.iter(f"{SVG}g") if f"data-{key}" in g.attrib]
        assert {g.attrib[f"data-{key}"] for g in groups} == {t.id for t in things}
        names = {t.id: t.name for t in things}
        for group in groups:
            assert group[0].tag == f"{SVG}title"
            assert names[group.attrib[f"data-{key}"]] in (group[0].text or "")
    views = [g.attrib["data-view"] for g in root.iter(f"{SVG}g") if "data-view" in g.attrib]
    assert sorted(views) == sorted(Side)


def test_any_name_gives_sound_xml() -> None:
    made = machine(
        [z.model_copy(update={"name": AWKWARD}) for z in (*box(), tray())],
        name=AWKWARD,
        fluids=(Fluid(id="oil", kind=FluidKind.ENGINE_OIL, name=AWKWARD),),
        seal_points=(
            SealPoint(id="joint", name=AWKWARD, kind=SealKind.O_RING, zones=("left",), fluid="oil"),
        ),
    )
    for asked in (Asked(), Asked(seal_point="joint")):
        root = drawing(scene(made, asked))
        shown = AWKWARD.replace("\x07", " ")
        titles = [t.text for t in root.iter(f"{SVG}title")]
        assert f"1: {shown}" in titles
        assert any(shown in (t or "") for t in titles if (t or "").startswith("Seal point"))


def test_the_file_asks_for_nothing_from_outside() -> None:
    made, sheet = reference()
    text = svg_of(sheet, made)
    assert text.count("http") == 1 and 'xmlns="http://www.w3.org/2000/svg"' in text
    assert not re.search(r"href|@import|@font-face|<script|<image|<foreignObject|data:", text)
    urls = re.findall(r"url\(([^)]*)\)", text)
    ids = set(re.findall(r'id="([^"]*)"', text))
    assert urls and all(u.startswith("#") and u[1:] in ids for u in urls)


def test_rules_of_the_style_reach_nothing_outside_the_drawing() -> None:
    # A notebook holds the drawing in its own page.
    rules = re.findall(r"^([^\n{}@]+)\{", style.css(), re.M)
    assert rules and all(rule.startswith(".ldx ") for rule in rules)
    assert "@media (prefers-color-scheme: dark)" in style.css()


def test_each_class_that_is_used_has_a_rule() -> None:
    made, sheet = reference("head_cover_gasket_rear")
    used = set(" ".join(re.findall(r'class="([^"]*)"', svg_of(sheet, made))).split()) - {"ldx"}
    ruled = set(re.findall(r"\.([a-z0-9-]+)", style.css()))
    assert used <= ruled | {"on"} and "shade4" in used


def _luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _contrast(one: str, other: str) -> float:
    """Source: WCAG 2.1, relative luminance and contrast ratio."""
    a, b = sorted((_luminance(one), _luminance(other)))
    return (b + 0.05) / (a + 0.05)


@pytest.mark.parametrize("n", [0, 1], ids=["light", "dark"])
def test_text_stands_out_from_all_it_may_lie_on(n: int) -> None:
    assert _contrast("#ffffff", "#000000") == pytest.approx(21)
    grounds = [style.PAPER[n], *(c[n] for c in style.LAYERS), *(c[n] for c in style.SHADES)]
    for ground in grounds:
        assert _contrast(style.INK[n], ground) >= 4.5, ground
    # Quiet words lie on what the leak does not reach.
    for ground in [style.PAPER[n], *(c[n] for c in style.LAYERS), style.SHADES[0][n]]:
        assert _contrast(style.QUIET[n], ground) >= 4.5, ground
    # Numbers of marks: paper on the fluid's colour, or the other way round.
    for colour in style.FLUIDS:
        assert _contrast(style.PAPER[n], colour[n]) >= 4.5
    # Lines that mean something: 3 to 1 (WCAG 2.1, 1.4.11).
    lines = [*(c[n] for c in style.WAYS.values()), style.ZONE_LINE[n]]
    for line, ground in product(lines, [style.PAPER[n], *(c[n] for c in style.LAYERS)]):
        assert _contrast(line, ground) >= 3, (line, ground)


def test_only_the_followed_leak_is_drawn() -> None:
    made, sheet = reference("head_cover_gasket_rear")
    assert made.followed is not None
    seals = {made.machine.seal_points[m.seal].id for p in sheet.panels for m in p.marks}
    assert seals == {"head_cover_gasket_rear"}
    parts = made.followed.trail.zones
    shades = {}
    for each in sheet.panels:
        for zone in each.patches:
            assert shades.setdefault(zone.zone, zone.shade) == zone.shade
    ranked = sorted(shades, key=lambda k: parts[k])
    assert [shades[k] for k in ranked] == sorted(shades.values())
    assert set(shades.values()) == {0, 1, 2, 3, 4}
    # Not by colour alone: a hatch that grows denser, and the part in figures.
    text = svg_of(sheet, made)
    in_views = text[text.index("data-view") :]
    assert all(f"url(#ldx-h{k})" in in_views for k in (1, 2, 3, 4))
    rear = panel(sheet, Side.REAR)
    ids = [z.id for z in made.machine.zones]
    label = next(label for label in rear.labels if ids[label.zone] == "head_rear")
    assert label.lines[1] == f"{100 * parts[label.zone]:.0f} %"


def test_arrows_of_a_followed_leak_are_as_thick_as_its_part() -> None:
    made, sheet = reference("head_cover_gasket_rear")
    assert made.followed is not None
    courses = {
        (c.source, c.target, c.way): part
        for c, part in zip(made.flow.courses, made.followed.trail.courses, strict=True)
    }
    arrows = [a for p in sheet.panels for a in p.arrows if a.target is not None]
    assert len(arrows) > 10
    for arrow in arrows:
        assert arrow.target is not None
        assert arrow.amount == pytest.approx(courses[arrow.source, arrow.target, arrow.way])


def test_one_view_alone_is_larger_and_lists_only_what_is_in_it() -> None:
    made, sheet = reference()
    alone = sheet_of(made, Side.FRONT)
    assert [p.side for p in alone.panels] == [Side.FRONT]
    assert alone.scale > 1.5 * sheet.scale
    listed = {e.number for e in alone.entries if e.mark is None}
    shown = {p.zone + 1 for p in alone.panels[0].patches}
    assert shown <= listed and len(listed) < len(made.machine.zones)
    # What is seen from elsewhere only is not drawn here as if it were covered.
    assert {p.zone: p.look for p in alone.panels[0].patches} == {
        p.zone: p.look for p in panel(sheet, Side.FRONT).patches
    }


@pytest.mark.parametrize("only", [None, *Side])
def test_the_smallest_machine_is_drawn(only: Side | None) -> None:
    zone = patch("plate", (0, 0, 0), (0, 0, 1), (10, 10, 0)).model_copy(update={"bbox_mm": None})
    made = machine((zone,))
    root = drawing(scene(made), only)
    assert float(root.attrib["height"]) > 100
    drawn = [g for g in root.iter() if g.attrib.get("data-zone") == "plate"]
    assert drawn or only is Side.BELOW
