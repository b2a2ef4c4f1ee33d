"""The shipped notebooks: no outputs kept, and their code runs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


def cells(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return found


def test_there_is_one() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_outputs_are_stripped_and_the_first_cell_says_what_it_is_for(path: Path) -> None:
    first, *others = cells(path)
    assert first["cell_type"] == "markdown"
    assert "Takes about" in "".join(first["source"])
    for cell in others:
        assert not cell.get("outputs")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_the_code_runs(path: Path) -> None:
    names: dict[str, Any] = {}
    for cell in cells(path):
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), path.name, "exec"), names)
    assert names["ranking"].rows
