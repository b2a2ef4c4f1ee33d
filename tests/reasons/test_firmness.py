"""Rankings under drawn numbers, against the job rebuilt from the ground with those numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdx.advice.solving import Solved, solve
from leakdx.case.evidence import asked_of
from leakdx.case.read import LoadedJob, load_shipped_job
from leakdx.network.setting import seal_name
from leakdx.network.tables import Array
from leakdx.priors.drawing import SPREADS, drawn, with_values
from leakdx.priors.model import Fixed, Priors
from leakdx.priors.read import shipped_priors
from leakdx.reasons import firmness as firmness_module
from leakdx.reasons.draws import Redrawn, redrawn
from leakdx.reasons.firmness import firmness

PRIORS = shipped_priors()
JOBS = ("rear_of_engine_wet", "front_drip_after_refit", "right_side_two_fluids")
Case = tuple[LoadedJob, Solved, Redrawn]


@pytest.fixture(scope="module", params=JOBS)
def case(request: pytest.FixtureRequest) -> Case:
    loaded = load_shipped_job(request.param)
    solved = solve(loaded, PRIORS)
    return loaded, solved, redrawn(loaded, solved, PRIORS)


def rebuilt(loaded: LoadedJob, solved: Solved, priors: Priors) -> Array:
    """Chances to leak with other priors: the whole job built again, on the same courses."""
    asked = asked_of(loaded.machine, loaded.job, priors, solved.detail, solved.asked.network)
    beliefs = solved.tree.with_tables(asked.network.network).update(asked.evidence)
    generations = asked.story.generations
    return np.array(
        [
            1 - beliefs[seal_name(s.id, generations.get(s.id, 1) - 1)][0]
            for s in loaded.machine.seal_points
        ]
    )


def test_draws_are_those_of_a_complete_rebuild(case: Case) -> None:
    # Two sets of flow numbers, ten of all others under each: twenty draws.
    loaded, solved, job = case
    random = np.random.default_rng(11)
    flow = drawn(PRIORS, job.flow, 2, random)
    others = drawn(PRIORS, job.others, 20, random)
    turn = np.repeat([0, 1], 10)
    tables = job.tables(others | {k: v[turn] for k, v in flow.items()}, 20)
    for k in (0, 1):
        values = {key: float(v[k]) for key, v in flow.items()}
        here = turn == k
        fast = job.chances(
            values,
            {key: v[here] for key, v in others.items()},
            {child: t[..., here] for child, t in tables.items()},
        )
        for column, draw in enumerate(np.flatnonzero(here)):
            told = with_values(PRIORS, values | {x: float(v[draw]) for x, v in others.items()})
            assert fast[:, column] == pytest.approx(rebuilt(loaded, solved, told), abs=1e-9)


def test_every_number_that_matters_is_drawn(case: Case) -> None:
    # All numbers of all files moved a little at once, against only those that are drawn.
    loaded, solved, job = case
    drawn_keys = {*job.flow, *job.others}
    moved = drawn(PRIORS, sorted(PRIORS.numbers), 3, np.random.default_rng(5))
    everything = {k: float(v[1]) for k, v in moved.items()}
    told = {k: v for k, v in everything.items() if k in drawn_keys}
    one = rebuilt(loaded, solved, with_values(PRIORS, everything))
    other = rebuilt(loaded, solved, with_values(PRIORS, told))
    assert one == pytest.approx(other, abs=1e-12)


def test_the_courses_of_stated_numbers_are_the_stated_network(case: Case) -> None:
    loaded, solved, job = case
    assert rebuilt(loaded, solved, PRIORS) == pytest.approx(job.stated, abs=1e-12)


def test_numbers_in_no_doubt_give_back_the_stated_chances(case: Case) -> None:
    loaded, solved, job = case
    sure = Fixed(family="fixed")
    fixed = Priors(
        {
            # How one leak differs from the next is no doubt, and is read as it is.
            k: q if k in SPREADS else q.model_copy(update={"distribution": sure})
            for k, q in PRIORS.numbers.items()
        }
    )
    found = firmness(loaded, solved, fixed, 4)
    assert found.flow_draws == 1
    for each in (found.low, found.median, found.high):
        assert each == pytest.approx(job.stated, abs=1e-12)
    assert found.first[found.seals.index(found.leader)] == 1


@pytest.fixture(scope="module")
def rear() -> Case:
    loaded = load_shipped_job(JOBS[0])
    solved = solve(loaded, PRIORS)
    return loaded, solved, redrawn(loaded, solved, PRIORS)


def test_percentiles_and_firsts_are_those_of_the_draws(
    rear: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded, solved, job = rear
    monkeypatch.setattr(firmness_module, "FLOW_DRAWS", 3)
    pieces: list[Array] = []
    made = Redrawn.chances

    def kept(self: Redrawn, *given: object) -> Array:
        pieces.append(made(self, *given))  # type: ignore[arg-type]
        return pieces[-1]

    monkeypatch.setattr(Redrawn, "chances", kept)
    steps: list[int] = []
    found = firmness(loaded, solved, PRIORS, 25, step=lambda: steps.append(1))
    chances = np.concatenate(pieces, axis=1)
    assert len(steps) == found.flow_draws == 3
    assert chances.shape == (len(job.seals), found.draws) == (len(job.seals), 25)
    assert found.low == pytest.approx(np.quantile(chances, 0.05, axis=1))
    assert found.median == pytest.approx(np.median(chances, axis=1))
    assert found.high == pytest.approx(np.quantile(chances, 0.95, axis=1))
    leads = [job.seals[k] for k in chances.argmax(axis=0)]
    assert found.first == pytest.approx([leads.count(s) / 25 for s in job.seals])
    assert found.leader == job.seals[int(job.stated.argmax())]


def test_one_seed_one_answer(rear: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded, solved, _ = rear
    monkeypatch.setattr(firmness_module, "FLOW_DRAWS", 2)
    one, same, other = (firmness(loaded, solved, PRIORS, 10, seed) for seed in (1, 1, 2))
    assert (one.median == same.median).all()
    assert (one.median != other.median).any()


def test_it_is_told_in_a_sentence(rear: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded, solved, _ = rear
    monkeypatch.setattr(firmness_module, "FLOW_DRAWS", 1)
    found = firmness(loaded, solved, PRIORS, 3)
    k = found.seals.index(found.leader)
    first = np.zeros(len(found.seals))
    first[k] = 0.83
    low, high = first * 0 + 0.41, first * 0 + 0.92
    told = replace(found, first=first, low=low, high=high, leader_name="Head cover gasket")
    assert told.sentences[0] == (
        "The head cover gasket stays first in 83 of 100 draws of the numbers; "
        "its chance lies between 41 and 92 % in nine of ten."
    )


def test_no_draws_are_refused(rear: Case) -> None:
    loaded, solved, _ = rear
    with pytest.raises(ValueError, match="0 draws"):
        firmness(loaded, solved, PRIORS, 0)
