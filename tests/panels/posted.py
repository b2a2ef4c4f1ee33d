"""Errands done here and now, and what was told of them, for tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

from leakdx.case.read import LoadedJob, job_from, load_job, load_shipped_job
from leakdx.kit.read import load_machine
from leakdx.panels.doing import do
from leakdx.panels.latest import Latest
from leakdx.panels.messages import Dropped, Errand

DATA = Path(__file__).parent.parent / "data"
SHIPPED = (
    "rear_of_engine_wet",
    "rear_of_engine_renewed",
)
WET_FOOT = load_job(DATA / "wet_foot.yaml")
STAND = load_machine(DATA / "pump_stand.yaml")


@dataclass
class Posted:
    """Remembers all that is told.  drops: raise Dropped at that stage."""

    drops: str | None = None
    stages: list[tuple[str, int, int]] = field(default_factory=list)
    answers: list[tuple[str, Any]] = field(default_factory=list)

    def running(self, said: str, done: int, of: int) -> None:
        if said == self.drops:
            raise Dropped
        self.stages.append((said, done, of))

    def answer(self, part: str, answer: object) -> None:
        self.answers.append((part, answer))

    def last(self, part: str) -> dict[str, Any]:
        return cast("dict[str, Any]", [a for p, a in self.answers if p == part][-1])


def on_stand(*timeline: dict[str, Any]) -> LoadedJob:
    """A job on the pump stand of the tests."""
    return job_from(
        {
            "format": "leakdx-job/1",
            "id": "asked",
            "machine": {"id": STAND.id, "version": STAND.version},
            "timeline": list(timeline),
        },
        STAND,
    )


# Each job is worked out once for all tests that ask of it.
_LATEST: dict[str, Latest] = {}
_DONE: dict[tuple[object, ...], Posted] = {}


def shipped(job: str, name: str, which: str | None = None, renew: Sequence[str] = ()) -> Posted:
    """An errand for a shipped job, done once."""
    key = (job, name, which, tuple(renew))
    if key not in _DONE:
        errand = Errand(name, 7, load_shipped_job(job), which=which, renew=tuple(renew))
        _DONE[key] = posted(errand, _LATEST.setdefault(job, Latest()))
    return _DONE[key]


def posted(errand: Errand, latest: Latest | None = None) -> Posted:
    """All that is told of an errand."""
    post = Posted()
    do(latest or Latest(), errand, post)
    return post
