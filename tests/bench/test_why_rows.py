"""Reasons and firmness are measured on what they say: twenty readings, five hundred draws."""

from __future__ import annotations

import numpy as np
import pytest

from leakdx.bench import why_rows
from leakdx.bench.look_asking import settings_of
from leakdx.bench.problem import Bench
from leakdx.bench.rows import ROWS
from leakdx.bench.why_rows import READINGS, Reasoning, with_readings
from leakdx.case.model import ZoneReading, ZoneState

QUICK = Bench(job="right_side_two_fluids", quick=True, referees=False)


@pytest.fixture(scope="module")
def ready() -> Reasoning:
    return Reasoning.of(QUICK)


def test_readings_are_filled_up_with_zones_nobody_had_read() -> None:
    machine, job = QUICK.loaded.machine, QUICK.loaded.job
    more = with_readings(machine, job, READINGS).timeline[len(job.timeline) :]
    read = {e.zone for e in job.timeline if isinstance(e, ZoneReading)}
    added = [e.zone for e in more if isinstance(e, ZoneReading) and e.state is ZoneState.DRY]
    assert len(added) == len(more) == len(set(added))
    assert not read & set(added)
    assert with_readings(machine, job, 0).timeline == job.timeline


def test_variants_differ_and_keep_the_readings(ready: Reasoning) -> None:
    one, other = ready.variants[:2]
    assert list(one.asked.readings) == list(other.asked.readings)
    assert one.evidence.keys() == other.evidence.keys()
    assert any(not np.allclose(one.evidence[n], other.evidence[n]) for n in one.evidence)


def test_a_referee_is_asked_what_the_weights_ask(ready: Reasoning) -> None:
    settings = settings_of(ready.calls)
    count = len(ready.solved.asked.readings)
    # All, none, those before, each alone, all but each; two of them twice.
    assert len(settings) == 3 * count - 1
    seals = {f"seal__{s.id}" for s in QUICK.loaded.machine.seal_points}
    assert set(settings[0].targets) == seals


@pytest.mark.parametrize("name", ["reasons", "firmness"])
def test_a_row_is_measured(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(why_rows, "DRAWS", 40)
    made = ROWS[name](QUICK)
    assert made.name == name
    assert made.median is not None and made.median > 0
    assert made.repeats >= 3
