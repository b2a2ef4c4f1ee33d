"""A small made-up kit: a case, a pump that hangs on its side, a tray; written to a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

Data = dict[str, Any]


def flat(name: str, low: list[float], high: list[float], normal: list[float], **more: Any) -> Data:
    return {"id": name, "bbox_mm": {"low": low, "high": high}, "normal": normal} | more


def case() -> Data:
    """A closed case 400 long, 200 wide, 200 high, its foot at z = 0."""
    return {
        "format": "leakdx-part/1",
        "id": "case",
        "version": "1",
        "name": "Case",
        "fluids": ["oil"],
        "solid_mm": [{"low": [-200, -100, 0], "high": [200, 100, 200]}],
        "stretches": ["x"],
        "mounts": [
            {"id": "left_side", "at_mm": [100, 100, 150]},
            {"id": "right_side", "at_mm": [100, -100, 150]},
            {"id": "foot", "at_mm": [0, 0, 0]},
            {"id": "left_deck", "at_mm": [0, 50, 200], "turn": {"axis": [1, 0, 0], "degrees": -45}},
        ],
        "zones": [
            flat("top", [-200, -100, 195], [200, 100, 205], [0, 0, 1]),
            flat("left", [-200, 95, 0], [200, 105, 200], [0, 1, 0]),
            flat("right", [-200, -105, 0], [200, -95, 200], [0, -1, 0]),
            flat("front", [195, -100, 0], [205, 100, 200], [1, 0, 0]),
            flat("rear", [-205, -100, 0], [-195, 100, 200], [-1, 0, 0]),
            flat("bottom", [-200, -100, -5], [200, 100, 5], [0, 0, -1]),
        ],
        "seal_points": [
            {
                "id": "top_joint_left",
                "name": "Top joint, left",
                "kind": "flat_gasket",
                "zones": ["left"],
                "position_mm": [0, 102, 190],
                "fluid": "oil",
                "length_mm": 400,
                "access": ["take_top_off"],
            },
            {
                "id": "plug",
                "kind": "threaded_plug",
                "zones": ["bottom"],
                "position_mm": [100, 0, -3],
                "fluid": "oil",
                "drive": "static_head",
                "length_mm": 60,
            },
        ],
        "access_steps": [{"id": "take_top_off", "minutes": 20}],
        "inspections": [
            {"id": "look_left", "reads": {"zones": ["left"]}, "minutes": 2},
        ],
    }


def pump() -> Data:
    """A pump body that hangs on a left side; its own origin lies on the face."""
    return {
        "format": "leakdx-part/1",
        "id": "pump",
        "version": "1",
        "name": "Pump",
        "fluids": ["oil"],
        "solid_mm": [{"low": [-40, 0, -40], "high": [40, 60, 40]}],
        "ways_in": {"side": "reach the side"},
        "zones": [flat("pump_body", [-40, 0, -40], [40, 60, 40], [0, 1, 0])],
        "seal_points": [
            {
                "id": "pump_ring_left",
                "name": "Pump ring, left of the case",
                "kind": "o_ring",
                "zones": ["pump_body"],
                "position_mm": [0, 30, 40],
                "fluid": "oil",
                "access": ["side", "take_pump_off"],
            }
        ],
        "access_steps": [{"id": "take_pump_off", "minutes": 5, "after": ["side"]}],
        "inspections": [
            {
                "id": "look_pump",
                "name": "Look at the pump",
                "reads": {"zones": ["pump_body"], "seal_points": ["pump_ring_left"]},
                "minutes": 1,
                "access": ["side"],
            }
        ],
    }


def tray() -> Data:
    return {
        "format": "leakdx-part/1",
        "id": "tray",
        "version": "1",
        "name": "Tray",
        "fluids": ["oil"],
        "zones": [
            flat("tray", [-300, -200, -10], [300, 200, 0], [0, 0, 1], surface="tray", holds_ml=100)
        ],
        "inspections": [{"id": "look_tray", "reads": {"zones": ["tray"]}, "minutes": 1}],
        "mounts": [{"id": "rim", "at_mm": [0, 0, 0]}],
    }


def layout() -> Data:
    return {
        "format": "leakdx-layout/1",
        "id": "toy",
        "version": "1",
        "name": "Invented toy machine",
        "down": [0, 0, -1],
        "fluids": [{"id": "engine_oil", "kind": "engine_oil"}],
        "options": [
            {"id": "length", "ask": "How long?", "choices": [1, 2], "usual": 1},
            {"id": "tray", "ask": "Is there a tray?", "choices": [True, False], "usual": True},
        ],
        "stands": [{"id": "nose_up", "pitch_deg": 10}],
        "parts": [
            {
                "part": "case",
                "fluids": {"oil": "engine_oil"},
                "stretch": {"x": {"option": "length", "drawn_for": 1}},
            },
            {
                "part": "pump",
                "onto": {"part": "case", "mount": "left_side"},
                "fluids": {"oil": "engine_oil"},
                "ways_in": {"side": ["open_panel"]},
            },
            {
                "part": "pump",
                "id": "pump_right",
                "onto": {"part": "case", "mount": "right_side"},
                "mirror": "y",
                "prefix": "other",
                "called": "the other one",
                "fluids": {"oil": "engine_oil"},
            },
            {
                "part": "tray",
                "onto": {"part": "case", "mount": "foot"},
                "by": "rim",
                "at_mm": [0, 0, -100],
                "when": {"tray": True},
                "fluids": {"oil": "engine_oil"},
            },
        ],
        "own": [
            {
                "access_steps": [{"id": "open_panel", "minutes": 3}],
                "inspections": [
                    {
                        "id": "look_all_over",
                        "reads": {"zones": ["top", "tray"]},
                        "minutes": 4,
                        "access": ["open_panel"],
                    },
                    {
                        "id": "feel_tray",
                        "method": "finger",
                        "reads": {"zones": ["tray"]},
                        "minutes": 4,
                    },
                ],
                "causes": [
                    {"id": "old", "kind": "hardened_seals", "raises": ["top_joint_left", "plug"]}
                ],
            }
        ],
    }


PARTS = {"case": case, "pump": pump, "tray": tray}


def written(folder: Path, made: Data, **parts: Data) -> Path:
    """The layout (or build) in ``folder``, and the parts in a folder beside it."""
    (folder / "parts").mkdir(exist_ok=True)
    for name, plain in PARTS.items():
        text = yaml.safe_dump(parts.get(name, plain()), sort_keys=False)
        (folder / "parts" / f"{name}.yaml").write_text(text)
    path = folder / f"{made['id']}.yaml"
    path.write_text(yaml.safe_dump(made, sort_keys=False))
    return path
