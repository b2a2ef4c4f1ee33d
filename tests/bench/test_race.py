"""The race of the next look against rules of the trade: made-up jobs, and that it runs."""

from __future__ import annotations

import json

import numpy as np
import pytest

from leakdx.bench import race
from leakdx.bench.race import RULES, Bench, Finish, Run, made_up, raced, sampled, summary

MACHINE = "clutch_hydraulics"


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench.of(MACHINE)


def test_states_are_drawn_as_often_as_they_are_likely(bench: Bench) -> None:
    ahead = bench.weigher.ahead
    rng = np.random.default_rng(0)
    draws = [sampled(ahead.asked.network.network, rng) for _ in range(1500)]
    beliefs = ahead.tree.update({})
    for name in beliefs:
        often = np.bincount([d[name] for d in draws], minlength=len(beliefs[name])) / len(draws)
        # Four standard deviations and a bit of room.
        assert np.abs(often - beliefs[name]).max() < 4 * np.sqrt(0.25 / len(draws)) + 0.01, name


def test_a_made_up_job_has_a_leak_and_begins_with_a_wet_place(bench: Bench) -> None:
    rng = np.random.default_rng(1)
    for _ in range(5):
        truth = made_up(bench, rng)
        assert any(truth.states[n] for n in bench.weigher.ahead.seals)
        look, thing = truth.start
        assert not truth.dry[look][thing]
        # A place, neither a seal point nor a sign such as a level.
        assert bench.reads[look].things[thing] in {z.id for z in bench.machine.zones}


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_comes_to_an_end_and_counts_its_minutes(bench: Bench, rule: str) -> None:
    rng = np.random.default_rng(2)
    for _ in range(2):
        done = raced(bench, made_up(bench, rng), rule)
        assert 0 < done.minutes <= race.BUDGET_MIN
        assert done.looks >= 1


def test_steps_are_paid_for_once(bench: Bench) -> None:
    run = Run(bench, made_up(bench, np.random.default_rng(3)), [], frozenset(), set(), set())
    dear = max(range(len(bench.looks)), key=lambda k: len(bench.looks[k].steps))
    run.take(dear)
    assert run.minutes == bench.looks[dear].minutes
    other = next(
        k
        for k in range(len(bench.looks))
        if k != dear
        and bench.looks[k].steps
        and set(bench.looks[k].steps) <= set(bench.looks[dear].steps)
    )
    before = run.minutes
    run.take(other)
    assert run.minutes - before == bench.looks[other].inspection.minutes


def test_a_summary_by_hand() -> None:
    said = summary([Finish(10, 2, True), Finish(30, 4, False)])
    # Forty minutes in all for the one leak that was found.
    assert said == {
        "minutes_mean": 20,
        "minutes_median": 20,
        "hit_rate": 0.5,
        "minutes_a_find": 40,
        "looks": 3,
    }


def test_who_knows_the_leak_is_not_slower_than_who_does_not(bench: Bench) -> None:
    """The bound is one: of jobs that both find, knowing never takes longer in all."""
    rng = np.random.default_rng(4)
    rules = ("highest wet point", "cheapest look", "knows already")
    ends = [
        {r: raced(bench, truth, r) for r in rules}
        for truth in (made_up(bench, rng) for _ in range(12))
    ]
    both = [e for e in ends if all(f.found for f in e.values())]
    assert both
    for end in both:
        assert end["knows already"].minutes <= min(end[r].minutes for r in rules)


def test_the_command_prints_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert race.main([MACHINE, "--jobs", "1"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format"] == "leakdx-race/1"
    assert set(document["machines"][MACHINE]) == set(RULES)
