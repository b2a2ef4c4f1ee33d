"""A kernel that imports what it will need while the server is still starting.

Most of the wait for a page is imports: the server's here and the kernel's there. Begun at the
same time, on two cores, the shorter is for nothing.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

MODULE = "leakdx.opening.kernel"
# Without the folder it is started in: a file there may have the name of a library.
COMMAND = (sys.executable, "-P", "-m", MODULE)


@dataclass
class WarmKernel:
    """One process that waits to be told which kernel it is to be; used at most once."""

    process: subprocess.Popen[bytes] | None = None

    @classmethod
    def begin(cls) -> WarmKernel:
        """Start the process; it ends by itself where this one ends."""
        return cls(
            subprocess.Popen(
                [*COMMAND, "--wait"],
                stdin=subprocess.PIPE,
                # The parent is named at once: the kernel looks whether it is still there.
                env=os.environ | {"JPY_PARENT_PID": str(os.getpid())},
                # As of any kernel: what interrupts the server does not reach it.
                start_new_session=True,
            )
        )

    def take(
        self, command: Sequence[str], env: Mapping[str, str], cwd: str
    ) -> subprocess.Popen[bytes] | None:
        """The process, now the kernel that ``command`` would start, or None where none is left."""
        process, self.process = self.process, None
        if process is None or process.stdin is None:
            return None
        # What the module is given, without the program and the module themselves.
        arguments = list(command[command.index(MODULE) + 1 :])
        told = {"arguments": arguments, "env": dict(env), "cwd": cwd}
        try:
            if process.poll() is not None:
                raise BrokenPipeError
            process.stdin.write(json.dumps(told).encode() + b"\n")
            process.stdin.close()
        except OSError:
            _ended(process)
            return None
        return process

    def close(self) -> None:
        """End the process where nobody has taken it."""
        process, self.process = self.process, None
        if process is not None:
            _ended(process)


def _ended(process: subprocess.Popen[bytes]) -> None:
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()
    process.kill()
    process.wait()
