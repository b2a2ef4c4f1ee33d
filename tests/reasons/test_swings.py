"""Each number by itself, against the job rebuilt with that one number changed."""

from __future__ import annotations

import pytest

from leakdx.advice.solving import solve
from leakdx.case.read import load_shipped_job
from leakdx.priors.drawing import at_level, with_values
from leakdx.priors.read import shipped_priors
from leakdx.reasons import swings as swings_module
from leakdx.reasons.draws import Redrawn, redrawn
from leakdx.reasons.swings import HIGH, LOW, Swing, swings
from tests.reasons.test_firmness import rebuilt

PRIORS = shipped_priors()
LOADED = load_shipped_job("right_side_two_fluids")
SOLVED = solve(LOADED, PRIORS)
JOB = redrawn(LOADED, SOLVED, PRIORS)
# Numbers of each sort: tables, readings, shares of the flow, how it spreads, how it looks.
KEYS = (
    "base_rates.o_ring",
    "causes.chance.tired",
    "base_rates.unlisted",
    "detection.eyes.miss",
    "detection.sure.good",
    "signs.said",
    "flow.film_mm",
    "flow.sideways_spread",
    "flow.visible_ml",
    "flow.run_ml_h",
    "leak_rates.drops.share",
    "fluids.coolant.viscosity_40C",
    "signs.pressure_loss.without",
)


@pytest.fixture(scope="module")
def found() -> dict[str, Swing]:
    return {s.key: s for s in swings(LOADED, SOLVED, PRIORS)}


@pytest.mark.parametrize("key", KEYS)
def test_both_ends_are_those_of_a_complete_rebuild(found: dict[str, Swing], key: str) -> None:
    leader = int(JOB.stated.argmax())
    for level, got in ((LOW, found[key].low), (HIGH, found[key].high)):
        told = with_values(PRIORS, {key: at_level(PRIORS, key, level)})
        assert got == pytest.approx(rebuilt(LOADED, SOLVED, told)[leader], abs=1e-9)


def test_all_numbers_in_doubt_are_there_the_weightiest_first(found: dict[str, Swing]) -> None:
    assert found.keys() == {*JOB.flow, *JOB.others}
    sizes = [abs(s.high - s.low) for s in found.values()]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 0.1
    first = next(iter(found.values()))
    assert first.swing == first.high - first.low
    quantity = PRIORS.quantity(first.key)
    assert (first.unit, first.source) == (quantity.unit, quantity.source)


def test_another_seal_point_may_be_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(swings_module, "redrawn", lambda *_: few())
    seal = JOB.seals[int(JOB.stated.argsort()[-2])]
    steps: list[int] = []
    got = swings(LOADED, SOLVED, PRIORS, seal, lambda: steps.append(1))
    assert len(steps) == 1
    assert {s.key for s in got} == {"base_rates.o_ring", "flow.visible_ml"}
    for s in got:
        told = with_values(PRIORS, {s.key: at_level(PRIORS, s.key, LOW)})
        expected = rebuilt(LOADED, SOLVED, told)[JOB.seals.index(seal)]
        assert s.low == pytest.approx(expected, abs=1e-9)


def few() -> Redrawn:
    return Redrawn(
        JOB.machine,
        JOB.job,
        JOB.solved,
        JOB.priors,
        ("flow.visible_ml",),
        ("base_rates.o_ring",),
        JOB.courses,
        JOB.spreading,
        JOB.tables_read,
    )


def test_a_seal_point_that_is_not_there_is_refused() -> None:
    with pytest.raises(KeyError):
        swings(LOADED, SOLVED, PRIORS, "no_such_seal")
