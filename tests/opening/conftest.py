"""A folder for each server that the tests start."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for one server, used by all tests of a module."""
    return tmp_path_factory.mktemp("opened")
