"""Heavy programs imported without a part that nothing here uses."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

# It works out a whole grammar at import (two thirds of the time that Voila takes to import), for
# checking addresses with letters beyond ASCII; who would use it does without where it is missing.
UNUSED = "rfc3987_syntax"


@contextmanager
def unburdened() -> Iterator[None]:
    """While this holds, importing the unused part fails at once; afterwards all is as it was."""
    if UNUSED in sys.modules:
        yield
        return
    sys.modules[UNUSED] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[UNUSED]
