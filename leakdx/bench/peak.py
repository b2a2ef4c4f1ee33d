"""Peak memory of a process that loads a job, compiles it and answers; run as a program."""

from __future__ import annotations

import sys
from pathlib import Path


def peak_MB() -> float:
    """Peak resident set of this process, MB (a million bytes).

    On Linux from the process's own status: what getrusage gives there starts from the peak
    of the process that started this one.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024 / 1e6
    # Not there on Windows.
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak * (1 if sys.platform == "darwin" else 1024) / 1e6


def main() -> None:
    """Solve the job named on the command line and print the peak."""
    from leakdx.advice.solving import solve
    from leakdx.bench.problem import job_named
    from leakdx.priors.read import shipped_priors

    solve(job_named(sys.argv[1]), shipped_priors())
    print(peak_MB())


if __name__ == "__main__":
    main()
