"""The row of several epochs: what is measured.  No times are tested."""

from __future__ import annotations

import pytest

from leakdx.advice.cure import known_of
from leakdx.advice.ranking import not_these
from leakdx.bench.cure_rows import READINGS, VARIANTS, Epochs
from leakdx.bench.rows import ROWS
from leakdx.priors.read import shipped_priors


@pytest.fixture(scope="module")
def ready() -> Epochs:
    return Epochs.of(shipped_priors())


def test_the_row_is_there() -> None:
    assert "epochs" in ROWS


def test_it_is_as_large_as_said(ready: Epochs) -> None:
    assert len(ready.solved.asked.readings) == READINGS
    story = ready.solved.asked.story
    assert len(story.epochs) >= 3
    assert {t.epoch for t in story.taken} >= {0, 1, len(story.epochs) - 1}
    assert len(ready.loaded.machine.seal_points) == 51


def test_a_refresh_says_what_the_whole_job_says(ready: Epochs) -> None:
    rows, dry, holds = ready.once(3)
    variant = ready.variants[3]
    beliefs = variant.tree.update(variant.evidence)
    assert dry == pytest.approx(
        not_these(type(variant)(**{**vars(variant), "beliefs": beliefs}), ready.priors)[2], rel=1e-9
    )
    known = known_of(ready.loaded, variant, ready.priors)
    assert dry == pytest.approx(known.dry, rel=1e-9)
    assert holds == pytest.approx([h.now for h in known.held], rel=1e-9)
    leaks = {r.seal_point: r.leaks for r in rows}
    assert [1 - leaks[s] for s in ready.renewed] == pytest.approx(list(holds), rel=1e-9)


def test_no_two_variants_are_alike(ready: Epochs) -> None:
    found = {ready.once(k)[1] for k in range(VARIANTS)}
    assert len(found) == VARIANTS
