"""``python -m leakdx.drawing``, the same as ``leakdx show``."""

from __future__ import annotations

import sys

from leakdx.cli import main

sys.exit(main(["show", *sys.argv[1:]]))
