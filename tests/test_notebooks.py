"""The shipped notebooks: no outputs kept, and they run from the first cell to the last."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
# What one cell may take on a machine that does ten other things.
CELL_S = 90


def cells(path: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return found


def source(cell: dict[str, Any]) -> str:
    return "".join(cell["source"])


def test_all_are_there() -> None:
    assert [path.stem for path in NOTEBOOKS] == ["diagnose", "rank_a_job"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_outputs_are_stripped_and_the_first_cell_says_what_it_is_for(path: Path) -> None:
    first, *others = cells(path)
    assert first["cell_type"] == "markdown"
    assert source(first).startswith("# ")
    assert re.search(r"\bFor (any|who)", source(first))
    assert "Takes about" in source(first)
    for cell in others:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_they_are_thin(path: Path) -> None:
    code = [source(cell) for cell in cells(path) if cell["cell_type"] == "code"]
    assert sum(len(text.splitlines()) for text in code) <= 6
    # What is worked out is worked out by the library.
    assert not re.search(r"^\s*(def|class|for|while|if|with)\b", "\n".join(code), re.M)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_they_run_from_the_first_cell_to_the_last(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.setenv("LEAKDX_HOME", str(tmp_path / "store"))
    for name in ("JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    monkeypatch.delenv("LEAKDX_OPEN", raising=False)
    kernel = tmp_path / "jupyter_data_dir" / "kernels" / "this" / "kernel.json"
    kernel.parent.mkdir(parents=True)
    argv = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
    kernel.write_text(json.dumps({"argv": argv, "display_name": "", "language": "python"}))
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=CELL_S,
        kernel_name="this",
        resources={"metadata": {"path": str(tmp_path)}},
    )
    client.execute()
    last = [cell for cell in notebook.cells if cell.cell_type == "code"][-1]
    [shown] = last.outputs
    wanted = {"diagnose": "application/vnd.jupyter.widget-view+json", "rank_a_job": "text/html"}
    assert wanted[path.stem] in shown.data
    assert (tmp_path / "store").is_dir() == (path.stem == "diagnose")
