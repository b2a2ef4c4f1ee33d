"""Ranks which seal of a machine leaks, from what was seen wet, what was dry, and how it stood.

import leakdx
job = leakdx.load_job("job.yaml")
leakdx.rank_job(job)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from leakdx.advice.cure import cure
    from leakdx.advice.next_look import next_look
    from leakdx.advice.ranking import rank_job
    from leakdx.case.read import load_job, load_shipped_job
    from leakdx.kit.read import load_machine, load_shipped
    from leakdx.reasons.account import why

__version__ = "0.1.0"
__all__ = [
    "cure",
    "load_job",
    "load_machine",
    "load_shipped",
    "load_shipped_job",
    "next_look",
    "rank_job",
    "why",
]

# Looked up when first asked for, so that "import leakdx" stays quick.
_WHERE = {
    "load_job": "leakdx.case.read",
    "load_shipped_job": "leakdx.case.read",
    "load_machine": "leakdx.kit.read",
    "load_shipped": "leakdx.kit.read",
    "rank_job": "leakdx.advice.ranking",
    "next_look": "leakdx.advice.next_look",
    "why": "leakdx.reasons.account",
    "cure": "leakdx.advice.cure",
}


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'leakdx' has no attribute {name!r}")
