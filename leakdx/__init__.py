"""Ranks which seal of a machine leaks, from what was seen wet, what was dry, and how it stood.

import leakdx
job = leakdx.load_job("job.yaml")
leakdx.rank_job(job)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from leakdx.advice.ranking import rank_job
    from leakdx.case.read import load_job, load_shipped_job
    from leakdx.kit.read import load_machine, load_shipped

__version__ = "0.1.0"
__all__ = ["load_job", "load_machine", "load_shipped", "load_shipped_job", "rank_job"]

# Looked up when first asked for, so that "import leakdx" stays quick.
_WHERE = {
    "load_job": "leakdx.case.read",
    "load_shipped_job": "leakdx.case.read",
    "load_machine": "leakdx.kit.read",
    "load_shipped": "leakdx.kit.read",
    "rank_job": "leakdx.advice.ranking",
}


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'leakdx' has no attribute {name!r}")
