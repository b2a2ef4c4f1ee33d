"""Timing: of calls, of processes, and what is known of the computer."""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from collections.abc import Callable
from importlib import metadata, util
from pathlib import Path
from time import perf_counter

import numpy as np

import leakdx
from leakdx.bench.report import Computer
from leakdx.bench.timed import Timing, timing_of

# No more repeats once they have taken this long together, s; but a few in any case.
PATIENCE_s = 20.0
FEWEST = 3
THREADS_SAID = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")


def timed(run: Callable[[int], object], repeats: int) -> Timing:
    """Time of ``run(0)``, ``run(1)``, ..., s, after one call that is not counted.

    Where that call alone takes too long, it is the only one and is counted.
    """
    first = _seconds(run, 0)
    if first > PATIENCE_s:
        return timing_of([first])
    values: list[float] = []
    while len(values) < repeats and not (len(values) >= FEWEST and sum(values) > PATIENCE_s):
        values.append(_seconds(run, len(values)))
    return timing_of(values)


def _seconds(run: Callable[[int], object], number: int) -> float:
    start = perf_counter()
    run(number)
    return perf_counter() - start


def own_environment() -> dict[str, str]:
    """Environment in which another Python process finds this very library."""
    root = str(Path(leakdx.__file__).resolve().parent.parent)
    known = os.environ.get("PYTHONPATH")
    return os.environ | {"PYTHONPATH": os.pathsep.join([root, known] if known else [root])}


def python(*args: str) -> str:
    """Standard output of a fresh Python process.

    Raises RuntimeError with the last line of its standard error if it fails.
    """
    done = subprocess.run(
        [sys.executable, *args],
        env=own_environment(),
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    if done.returncode != 0:
        said = done.stderr.strip().splitlines() or [f"exit code {done.returncode}"]
        raise RuntimeError(said[-1])
    return done.stdout


def installed(name: str) -> bool:
    """Whether a library can be imported; it is not imported to find out."""
    return util.find_spec(name) is not None


def threads() -> tuple[int, str | None]:
    """Threads that matrix products may use, and the environment variable that says so."""
    for name in THREADS_SAID:
        said = os.environ.get(name, "")
        if said.isdecimal() and int(said) > 0:
            return int(said), name
    return processors(), None


def processors() -> int:
    """Processors that this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def computer() -> Computer:
    """What is known of this computer."""
    used, said = threads()
    return Computer(
        python=platform.python_version(),
        numpy=np.__version__,
        platform=platform.platform(),
        cpu_count=processors(),
        threads=used,
        threads_from=said,
        load=os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
        pyagrum=_version("pyagrum"),
        pgmpy=_version("pgmpy"),
    )


def _version(name: str) -> str | None:
    return metadata.version(name) if installed(name) else None
