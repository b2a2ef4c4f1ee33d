"""``python -m leakdx.bench``, the same as ``leakdx bench``."""

from __future__ import annotations

import sys

from leakdx.bench import main

sys.exit(main(sys.argv[1:]))
