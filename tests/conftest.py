"""What tests of several rooms share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium without a window; one for all, since two cannot be driven side by side.

    Where there is none it says what to install.
    """
    from leakdx.bench.page_taps import browser as started

    with started() as window:
        yield window
