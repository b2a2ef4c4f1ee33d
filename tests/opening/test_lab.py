"""``leakdx open``: JupyterLab on a copy of the notebook, with nothing that asks elsewhere."""

from __future__ import annotations

import json
import re
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.opening.served import ROOT, Opened, started


@pytest.fixture(scope="module")
def lab(folder: Path) -> Iterator[Opened]:
    with started(folder, "-m", "leakdx.cli", "open", "--no-browser") as opened:
        yield opened


@pytest.fixture(scope="module")
def told(lab: Opened) -> dict[str, object]:
    answer = lab.get(lab.entrance)
    assert answer.status == 200
    found = re.search(r'id="jupyter-config-data"[^>]*>(.*?)</script>', answer.text, re.S)
    assert found
    config: dict[str, object] = json.loads(found[1])
    return config


def test_without_the_token_it_is_refused(lab: Opened) -> None:
    for path in ("/lab/tree/diagnose.ipynb", "/lab?token=wrong", "/"):
        stranger = lab.stranger()
        answer = stranger.get(path)
        while answer.status == 302:
            answer = stranger.get(answer.where)
        assert answer.status == 403
        assert "whole address that leakdx printed" in answer.text
    assert lab.stranger().get("/api/contents").status == 403


def test_no_news_no_updates_no_terminals_no_extension_manager(
    lab: Opened, told: dict[str, object]
) -> None:
    assert told["news"] == {"disabled": True}
    assert told["terminalsAvailable"] is False
    disabled = told["disabledExtensions"]
    assert isinstance(disabled, list)
    assert "@jupyterlab/apputils-extension:announcements" in disabled
    assert "@jupyterlab/extensionmanager-extension" in disabled
    names = {each["name"] for each in told["federated_extensions"]}  # type: ignore[attr-defined]
    assert names == {"anywidget", "@jupyter-widgets/jupyterlab-manager"}
    assert lab.get("/api/terminals").status == 404


def test_the_kernel_is_that_of_this_leakdx(lab: Opened, told: dict[str, object]) -> None:
    specs = json.loads(lab.get("/api/kernelspecs").text)
    assert list(specs["kernelspecs"]) == ["python3"]
    assert "leakdx.opening.kernel" in specs["kernelspecs"]["python3"]["spec"]["argv"]


def test_the_notebook_is_a_copy(lab: Opened, told: dict[str, object]) -> None:
    listed = json.loads(lab.get("/api/contents").text)
    assert [each["name"] for each in listed["content"]] == ["diagnose.ipynb"]
    [run] = lab.run_folders
    copy = run / "notebooks" / "diagnose.ipynb"
    shipped = ROOT / "notebooks" / "diagnose.ipynb"
    assert copy.read_bytes() == shipped.read_bytes()
    assert not copy.is_symlink()
    before = shipped.read_bytes()
    copy.write_text("changed")
    assert shipped.read_bytes() == before


def test_being_told_to_end_leaves_nothing(lab: Opened) -> None:
    """The last of this module: it stops the server."""
    family = lab.family()
    assert family
    assert lab.end(signal.SIGTERM) == 130
    lab.assert_nothing_left(family)
    assert not (lab.store.parent / "mine").exists()
