"""Asking a referee the same question, within limits of time and memory."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import mean, median
from tempfile import TemporaryFile
from typing import IO, Any

import numpy as np

from leakdx.bench.problem import Problem
from leakdx.bench.referee import Question
from leakdx.bench.report import Against
from leakdx.bench.timing import installed, own_environment, threads
from leakdx.network.noisymax import plain
from leakdx.network.tables import Array

MEMORY_BYTES = 6_000_000_000
# Time in which a referee may answer, its start included, s.
BUDGET_s = {"pyagrum": 60.0, "pgmpy": 120.0}
# pgmpy finds one posterior at a time; so many are asked for.
SINGLES = 5

Event = dict[str, Any]


@dataclass(frozen=True)
class Reply:
    """What came of asking.

    seconds: for all posteriors, or None where there is no telling; at_least: it was
    stopped, and would have taken longer than ``seconds``.
    """

    seconds: float | None
    at_least: bool
    notes: tuple[str, ...]

    def against(self, ours: float) -> Against | None:
        """How many times faster a time of ours (s) is."""
        return None if self.seconds is None else Against(self.seconds / ours, self.at_least)


def ask(referee: str, problem: Problem, ours: Mapping[str, Array]) -> Reply:
    """Ask a referee for all posteriors of a problem; ``ours`` are those for variant 0."""
    if not installed(referee):
        return missing(referee)
    compared = problem.seals
    if referee == "pgmpy":
        compared = compared[:: max(len(compared) // SINGLES, 1)][:SINGLES]
    network = problem.asked.network.network
    question = Question(plain(network), problem.columns, network.names, compared, threads()[0])
    budget_s = BUDGET_s[referee]
    print(f"  asking {referee}, {budget_s:.0f} s at most", file=sys.stderr, flush=True)
    events = told_by(referee, question, budget_s)
    seconds, at_least, notes = _judged(referee, events, len(question.targets))
    return Reply(seconds, at_least, (*notes, *_agreement(referee, events, ours)))


def missing(referee: str) -> Reply:
    """The reply of a referee that is not installed."""
    extra = " (it comes with the extra 'tests')" if referee == "pyagrum" else ""
    return Reply(None, False, (f"{referee} is not installed{extra}, so it was not asked",))


def told_by(
    referee: str, question: object, budget_s: float, worker: str = "leakdx.bench.referee"
) -> list[Event]:
    """What the referee told until it was done, failed or was stopped.

    worker: module that is run to ask it and understands the question.
    """
    with TemporaryFile() as asked, TemporaryFile() as told, TemporaryFile() as errors:
        pickle.dump(question, asked)
        asked.seek(0)
        # Files, not pipes: nobody has to read along for the referee to go on.
        child = subprocess.Popen(
            [sys.executable, "-m", worker, referee, str(MEMORY_BYTES)],
            stdin=asked,
            stdout=told,
            stderr=errors,
            env=own_environment(),
        )
        try:
            code = child.wait(budget_s)
            end = {"event": "ended", "at": time.time()}
        except subprocess.TimeoutExpired:
            code = 0
            end = {"event": "stopped", "at": time.time(), "budget_s": budget_s}
        finally:
            child.kill()
            child.wait()
        events = [json.loads(line) for line in _lines(told) if line.startswith("{")]
        if code != 0:
            said = _lines(errors) or [f"exit code {code}"]
            events.append({"event": "failed", "at": end["at"], "why": said[-1][:200]})
        return [*events, end]


def _lines(file: IO[bytes]) -> list[str]:
    file.seek(0)
    # A referee that was stopped may leave half a line behind.
    return [
        line.strip()
        for line in file.read().decode(errors="replace").splitlines(keepends=True)
        if line.endswith("\n") and line.strip()
    ]


def _judged(
    referee: str, events: Sequence[Event], posteriors: int
) -> tuple[float | None, bool, tuple[str, ...]]:
    """Seconds for all posteriors, whether at least that, and why so."""
    kinds = {e["event"]: e for e in events}
    singles = [e["seconds"] for e in events if e["event"] == "posterior" and e["seconds"]]
    updates = [e["seconds"] for e in events if e["event"] == "update"]
    if "failed" in kinds and not updates:
        return None, False, (cannot(referee, kinds, singles),)
    if updates:
        # The first is the warm-up, as it is for us.
        counted = updates[1:] or updates
        said = f"{referee} {median(counted):.3g} s, median of {len(counted)}"
        return median(counted), False, (said,)
    if singles:
        scaled = mean(singles) * posteriors
        said = (
            f"{referee} was asked {len(singles)} single posteriors, {mean(singles):.3g} s each, "
            f"scaled to {posteriors}"
        )
        return scaled, False, (said,)
    if "ready" not in kinds:
        return None, False, (f"{referee} was not ready to answer when its time was over",)
    waited = kinds["stopped"]["at"] - kinds["ready"]["at"]
    what = "one posterior" if referee == "pgmpy" else "one update"
    said = f"{referee} was stopped after {waited:.0f} s without {what}: a lower bound, not scaled"
    return waited, True, (said,)


def cannot(referee: str, kinds: Mapping[str, Event], singles: Sequence[float]) -> str:
    """Why a referee gave no answer, in words; kinds: its events by name, the last of each."""
    why = kinds["failed"]["why"]
    if why != "memory":
        return f"{referee} cannot: {why}"
    text = f"{referee} cannot: {MEMORY_BYTES / 1e9:.0f} GB of memory are too little for it"
    largest = kinds.get("ready", {}).get("largest")
    if largest:
        text += f", its largest clique has {largest:.2g} entries"
    if singles:
        text += f", after {len(singles)} single posteriors, {mean(singles):.3g} s each"
    return text


def _agreement(referee: str, events: Sequence[Event], ours: Mapping[str, Array]) -> tuple[str, ...]:
    told = {e["name"]: np.array(e["values"]) for e in events if e["event"] == "posterior"}
    if not told:
        return ()
    largest = max(float(np.abs(ours[name] - values).max()) for name, values in told.items())
    return (f"largest difference from {referee} in {len(told)} seal points: {largest:.1e}",)
