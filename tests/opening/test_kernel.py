"""The kernel that is kept warm: used once, and never left behind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import psutil

from leakdx.opening.warm import MODULE, WarmKernel
from tests.opening.served import ROOT, eventually, running

COMMAND = [sys.executable, "-P", "-m", MODULE, "-f", "connection.json"]


def test_it_is_taken_once(tmp_path: Path) -> None:
    warm = WarmKernel.begin()
    process = warm.take(COMMAND, dict(os.environ), str(tmp_path))
    assert process is not None
    assert process.poll() is None
    assert warm.take(COMMAND, dict(os.environ), str(tmp_path)) is None
    # Closing ends only what nobody took.
    warm.close()
    assert process.poll() is None
    process.kill()
    process.wait()


def test_one_that_died_is_not_taken(tmp_path: Path) -> None:
    warm = WarmKernel.begin()
    assert warm.process is not None
    warm.process.kill()
    warm.process.wait()
    assert warm.take(COMMAND, dict(os.environ), str(tmp_path)) is None


def test_closing_ends_it() -> None:
    warm = WarmKernel.begin()
    assert warm.process is not None
    process = psutil.Process(warm.process.pid)
    warm.close()
    assert not running(process)


def test_it_ends_with_a_server_that_was_killed() -> None:
    program = (
        "from leakdx.opening.warm import WarmKernel\n"
        "import os\n"
        "print(WarmKernel.begin().process.pid, flush=True)\n"
        "os._exit(0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
        timeout=90,
        check=True,
    )
    number = int(done.stdout)
    assert eventually(lambda: not psutil.pid_exists(number) or not running(psutil.Process(number)))
