"""The ranking as a whole, on a small machine where every sum can be checked."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

import leakdx
from leakdx.advice.ranking import Ranking, json_schema, rank_job, ranking_of
from leakdx.advice.solving import ContradictoryReadings, TooLarge, solve
from leakdx.advice.words import percent
from leakdx.belief.evidence import Evidence, combine
from leakdx.case.read import LoadedJob, load_job
from leakdx.flow.courses import DETAILS
from leakdx.network.setting import seal_name
from leakdx.priors.model import Priors
from leakdx.priors.read import shipped_priors

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def loaded() -> LoadedJob:
    return load_job(DATA / "wet_foot.yaml")


@pytest.fixture(scope="module")
def ranking(loaded: LoadedJob) -> Ranking:
    return rank_job(loaded)


def with_timeline(loaded: LoadedJob, *events: dict[str, Any]) -> LoadedJob:
    whole = loaded.job.model_dump(mode="json", exclude_none=True) | {"timeline": list(events)}
    return LoadedJob(type(loaded.job).model_validate(whole), loaded.machine)


def test_it_is_three_lines_of_python() -> None:
    loaded = leakdx.load_job(DATA / "wet_foot.yaml")
    assert leakdx.rank_job(loaded).table["leaks"].is_monotonic_decreasing


def test_the_json_fits_its_schema(ranking: Ranking) -> None:
    document = json.loads(json.dumps(ranking.to_json_dict()))
    jsonschema.Draft202012Validator.check_schema(json_schema())
    jsonschema.validate(document, json_schema())


def test_classes_add_up_to_the_chance_of_a_leak(ranking: Ranking) -> None:
    for row in ranking.rows:
        assert row.leaks == pytest.approx(row.seeping + row.drops + row.dripping, abs=1e-12)
        assert row.decibans == pytest.approx(10 * np.log10(row.leaks / (1 - row.leaks)))


def test_sets_and_the_rest_agree_with_adding_up_every_pattern(loaded: LoadedJob) -> None:
    """Each pattern of leaking seal points asked on its own: all of them make up one."""
    solved = solve(loaded, shipped_priors())
    ranking = ranking_of(loaded, solved, shipped_priors())
    seals = [s.id for s in loaded.machine.seal_points]
    # A seal point that was renewed or worked on is judged as it is now.
    now = {s: seal_name(s, solved.asked.story.generations.get(s, 1) - 1) for s in seals}
    tight, leaking = np.array([1.0, 0, 0, 0]), np.array([0.0, 1, 1, 1])
    base = float(np.asarray(solved.beliefs.log_evidence))
    patterns = {}
    for leaks in product((False, True), repeat=len(seals)):
        states = {now[s]: leaking if bad else tight for s, bad in zip(seals, leaks, strict=True)}
        asked = combine([solved.evidence, Evidence(states)])
        log = float(np.asarray(solved.tree.log_evidence(asked)))
        patterns[frozenset(s for s, bad in zip(seals, leaks, strict=True) if bad)] = np.exp(
            log - base
        )
    assert sum(patterns.values()) == pytest.approx(1, abs=1e-9)
    assert ranking.none_leaks == pytest.approx(patterns[frozenset()], abs=1e-9)
    assert ranking.sets_proven
    best = sorted(patterns.values(), reverse=True)[: len(ranking.sets)]
    assert [s.probability for s in ranking.sets] == pytest.approx(best, abs=1e-9)
    for one in ranking.sets:
        assert one.probability == pytest.approx(patterns[frozenset(one.seal_points)], abs=1e-9)
    for row in ranking.rows:
        total = sum(p for pattern, p in patterns.items() if row.seal_point in pattern)
        assert row.leaks == pytest.approx(total, abs=1e-9)


def test_nothing_leaks_is_less_likely_than_no_listed_leak(ranking: Ranking) -> None:
    assert 0 <= ranking.nothing_leaks <= ranking.none_leaks <= 1
    assert ranking.none_leaks - ranking.nothing_leaks <= ranking.not_listed


def test_without_readings_it_gives_the_priors_and_says_what_to_do(loaded: LoadedJob) -> None:
    ranking = rank_job(with_timeline(loaded))
    assert ranking.log_evidence == pytest.approx(0, abs=1e-12)
    assert "look" in ranking.next_step.lower()


def test_the_text_is_for_a_technician(ranking: Ranking) -> None:
    for width in (40, 80, 200):
        text = ranking.to_text(width)
        assert ranking.rows[0].name[:15] in text
        for word in ("no listed seal leaks", "not on the list", "probability of these readings"):
            assert word in text
        assert "nan" not in text.lower()
        assert " ".join(text.split()).endswith(ranking.next_step)
        assert max(len(line) for line in text.splitlines()) <= max(width, 60)


def test_the_html_escapes_what_people_wrote(loaded: LoadedJob) -> None:
    seals = tuple(s.model_copy(update={"name": "<b>&\"'"}) for s in loaded.machine.seal_points)
    machine = loaded.machine.model_copy(update={"seal_points": seals})
    page = rank_job(replace(loaded, machine=machine))._repr_html_()
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;" in page


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "< 0.1 %"), (1.0, "> 99.9 %"), (0.0432, "4.3 %"), (0.5, "50 %"), (0.9974, "99.7 %")],
)
def test_no_chance_is_called_nothing_or_certain(chance: float, said: str) -> None:
    assert percent(chance) == said


def test_readings_that_cannot_hold_together_are_named(loaded: LoadedJob) -> None:
    """With looks that never err, dry and dripping at once is impossible; a third is not."""
    numbers = dict(shipped_priors().numbers)
    for key in ("eyes.miss", "eyes.false_call", "grime", "grime_run", "step_off"):
        old = numbers[f"detection.{key}"]
        numbers[f"detection.{key}"] = old.model_copy(update={"value": 0.0})
    zones = [z.id for z in loaded.machine.zones]
    job = with_timeline(
        loaded,
        {"zone": zones[0], "state": "dry"},
        {"zone": zones[1], "state": "dry"},
        {"zone": zones[0], "state": "dripping"},
    )
    with pytest.raises(ContradictoryReadings) as caught:
        rank_job(job, Priors(numbers))
    assert [label[:2] for label in caught.value.labels] == ["1:", "3:"]
    assert caught.value.proven
    assert len(caught.value.faults) == 2


def test_a_machine_too_large_is_an_error_with_a_name(
    loaded: LoadedJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("leakdx.advice.solving.LARGEST", 1)
    with pytest.raises(TooLarge, match="too large"):
        rank_job(loaded)


def with_number(key: str, value: float) -> Priors:
    numbers = dict(shipped_priors().numbers)
    numbers[key] = numbers[key].model_copy(update={"value": value})
    return Priors(numbers)


def test_without_readings_an_unlisted_origin_is_as_likely_as_its_prior(loaded: LoadedJob) -> None:
    """Each fluid has its own chance, whether or not its zones had to be built."""
    chance = shipped_priors()["base_rates.unlisted"]
    expected = 1 - (1 - chance) ** len(loaded.machine.fluids)
    assert rank_job(with_timeline(loaded)).not_listed == pytest.approx(expected, abs=1e-9)


def test_what_cannot_be_unlisted_is_not_called_so(loaded: LoadedJob) -> None:
    # A spill would explain this zone too; it is no origin that the list lacks.
    seen = {"zone": "drip_tray", "state": "running", "fluid": "gear_oil"}
    job = with_timeline(
        loaded, seen, {"zone": "cover_side", "state": "running", "fluid": "gear_oil"}
    )
    never = rank_job(job, with_number("base_rates.unlisted", 0.0))
    assert never.not_listed == pytest.approx(0, abs=1e-12)
    assert never.nothing_leaks == pytest.approx(never.none_leaks, abs=1e-9)


def test_the_barest_detail_is_taken_at_any_size_that_can_be_worked_with(
    loaded: LoadedJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("leakdx.advice.solving.ALL_ENTRIES", 1)
    solved = solve(loaded, shipped_priors())
    assert solved.detail == len(DETAILS) - 1
    assert any("left out" in note for note in ranking_of(loaded, solved, shipped_priors()).notes)


def test_a_zone_not_looked_at_is_still_to_be_looked_at(loaded: LoadedJob) -> None:
    seen = {"zone": "drip_tray", "state": "running", "fluid": "gear_oil"}
    plain = rank_job(with_timeline(loaded, seen))
    first = next(s for s in loaded.machine.seal_points if s.id == plain.rows[0].seal_point)
    skipped = [{"zone": z, "state": "not_looked"} for z in first.zones]
    told = rank_job(with_timeline(loaded, seen, *skipped))
    assert told.next_step == plain.next_step
    assert "not looked at yet" in told.next_step.lower()
