"""A machine that does not exist, invented to be as large as one likes: cases side by side.

Each case is a closed box with a cover in two stretches, a shaft end, a port and a plug.  They
stand in one row and touch, so that fluid runs from one to the next.  Sizes and minutes are
invented.
"""

from __future__ import annotations

from typing import Any

from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Machine

SEALS_EACH = 5
# Of one case, mm: along x, half its width along y, its height.
LENGTH, HALF, HEIGHT = 400.0, 100.0, 200.0
# How thick the faces are drawn, mm.
SKIN = 5.0
_FACES: dict[str, tuple[tuple[float, float, float], tuple[float, float, float], list[int]]] = {
    # Corners as shares of length, half width and height; outward normal.
    "top": ((0, -1, 1), (1, 1, 1), [0, 0, 1]),
    "left": ((0, 1, 0), (1, 1, 1), [0, 1, 0]),
    "right": ((0, -1, 0), (1, -1, 1), [0, -1, 0]),
    "bottom": ((0, -1, 0), (1, 1, 0), [0, 0, -1]),
}


def loaded_row(seal_points: int) -> LoadedJob:
    """A job on a row of cases with that many seal points, a multiple of five."""
    cases = seal_points // SEALS_EACH
    return LoadedJob(job_of(cases), machine_of(cases))


def machine_of(cases: int) -> Machine:
    """A row of so many cases."""
    every = [_case(k) for k in range(cases)]
    parts = {key: [x for case in every for x in case[key]] for key in every[0]}
    return Machine.model_validate(
        {
            "format": "leakdx-machine/1",
            "id": f"row_of_{cases}_cases",
            "version": "1",
            "name": f"Row of {cases} cases, invented",
            "note": "A machine that does not exist, invented to measure with.",
            "fluids": [{"id": "oil", "kind": "gear_oil", "grade": "VG 220"}],
            **parts,
        }
    )


def job_of(cases: int) -> Job:
    """Every third case is wet below, the one after it was found dry on its left."""
    timeline: list[dict[str, Any]] = [{"run_minutes": 60}]
    for k in range(0, cases, 3):
        timeline.append({"zone": f"bottom_{k}", "state": "wet", "fluid": "oil"})
        if k + 1 < cases:
            timeline.append({"zone": f"left_{k + 1}", "state": "dry"})
    return Job.model_validate(
        {
            "format": "leakdx-job/1",
            "id": f"row_of_{cases}_cases_wet",
            "machine": {"id": f"row_of_{cases}_cases", "version": "1"},
            "conditions": {"pitch_deg": 1, "hours": 60},
            "timeline": timeline,
        }
    )


def _case(k: int) -> dict[str, list[dict[str, Any]]]:
    x = k * LENGTH
    return {
        "zones": [_zone(k, name) for name in _FACES],
        "seal_points": [
            _seal(k, "cover_left", "flat_gasket", "left", [x + 200, HALF, 190]),
            _seal(k, "cover_right", "flat_gasket", "right", [x + 200, -HALF, 190]),
            _seal(k, "shaft_end", "shaft_lip_seal", "left", [x + 120, HALF, 110]),
            _seal(k, "port", "pipe_union", "right", [x + 280, -HALF, 120], "pressure_fed"),
            _seal(k, "plug", "threaded_plug", "bottom", [x + 200, 0, 0], "static_head"),
        ],
        "causes": [
            {
                "id": f"breather_stuck_{k}",
                "kind": "ventilation_blocked",
                "fluid": "oil",
                "raises": [f"cover_left_{k}", f"cover_right_{k}", f"shaft_end_{k}"],
            }
        ],
        "access_steps": [{"id": f"take_guard_off_{k}", "minutes": 6}],
        "inspections": [
            _look(k, "look_at_sides", "eyes", 2, [f"left_{k}", f"right_{k}"]),
            _look(k, "mirror_below", "mirror", 3, [f"bottom_{k}"]),
            _look(k, "look_on_top", "eyes", 1, [f"top_{k}"]),
            {
                "id": f"wipe_joints_{k}",
                "method": "wipe",
                "reads": {"seal_points": [f"shaft_end_{k}", f"cover_left_{k}", f"port_{k}"]},
                "minutes": 8,
                "access": [f"take_guard_off_{k}"],
                "destroys": ["residue"],
            },
        ],
    }


def _zone(k: int, name: str) -> dict[str, Any]:
    low, high, normal = _FACES[name]
    scale = (LENGTH, HALF, HEIGHT)
    a = [s * v for s, v in zip(scale, low, strict=True)]
    b = [s * v for s, v in zip(scale, high, strict=True)]
    sizes = [v - u for u, v in zip(a, b, strict=True) if v > u]
    for axis in range(3):
        if a[axis] == b[axis]:
            a[axis], b[axis] = a[axis] - SKIN, b[axis] + SKIN
    a[0], b[0] = a[0] + k * LENGTH, b[0] + k * LENGTH
    return {
        "id": f"{name}_{k}",
        "centroid_mm": [(u + v) / 2 for u, v in zip(a, b, strict=True)],
        "normal": normal,
        "area_mm2": sizes[0] * sizes[1],
        "bbox_mm": {"low": a, "high": b},
    }


def _seal(
    k: int, name: str, kind: str, zone: str, at: list[float], drive: str = "splash"
) -> dict[str, Any]:
    return {
        "id": f"{name}_{k}",
        "kind": kind,
        "zones": [f"{zone}_{k}"],
        "position_mm": at,
        "fluid": "oil",
        "drive": drive,
        "access": [f"take_guard_off_{k}"],
    }


def _look(k: int, name: str, method: str, minutes: float, zones: list[str]) -> dict[str, Any]:
    return {
        "id": f"{name}_{k}",
        "method": method,
        "reads": {"zones": zones},
        "minutes": minutes,
    }
