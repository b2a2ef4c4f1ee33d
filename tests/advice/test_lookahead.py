"""Two looks ahead, against going through every outcome and every set of seal points."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from leakdx import cli
from leakdx.advice import lookahead
from leakdx.advice.lookahead import FIRSTS, TwoLooks, sentence_of, two_ahead
from leakdx.advice.next_look import Weigher, next_look
from leakdx.advice.next_schema import json_schema
from leakdx.advice.outcomes import Reads
from leakdx.advice.weighing import price_of, view_of, weigh
from leakdx.case.model import Job
from leakdx.case.read import LoadedJob
from leakdx.machine.model import Inspection, Machine
from leakdx.machine.read import load_machine
from leakdx.priors.read import shipped_priors
from tests.advice.two_looks import (
    MINUTES,
    STEPS,
    agrees,
    alone,
    asked_of_tree,
    decision,
    enumerated,
)

PRIORS = shipped_priors()
STAND = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
SEEDS = range(25)


def test_what_two_looks_save_is_what_every_outcome_adds_up_to() -> None:
    seconds = 0
    for seed in SEEDS:
        prospect, network = decision(seed)
        found = two_ahead(prospect, view_of(prospect.ahead), alone(prospect))
        assert {two.first for two in found} == {k.inspection.id for k in prospect.looks}
        seconds += agrees(prospect, enumerated(prospect, network), found, MINUTES)
    # Else nothing but single looks was compared.
    assert seconds > 40


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_left_where_a_thing_is_not_dry(seed: int) -> None:
    prospect, network = decision(seed)
    dry = enumerated(prospect, network)
    view = view_of(prospect.ahead)
    part = view_of(prospect.ahead, prospect.ahead.reads[1].dry[0])
    chance = float(dry(((1, 0),))[-1])
    rest = view.without(part, chance)
    joint = dry(()) - dry(((1, 0),))
    np.testing.assert_allclose(rest.leaks, joint[:-1] / joint[-1], atol=1e-9)
    for look, reads in enumerate(prospect.ahead.reads):
        for thing in range(len(reads.things)):
            both = dry(((look, thing),)) - dry(((1, 0), (look, thing)))
            told = both / np.maximum(joint, 1e-300)
            np.testing.assert_allclose(rest.quiet[look][thing], told, atol=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_outcome_lowers_the_cost_by_more_than_is_hoped(seed: int) -> None:
    prospect, _ = decision(seed)
    view = view_of(prospect.ahead)
    for k in range(len(prospect.looks)):
        outlook = view.best(k)[1]
        look = prospect.looks[k]
        for bared in (prospect.bared(), prospect.bared(prospect.looks[1])):
            falls = bared.cost(view.leaks) - bared.cost_after(outlook)
            assert falls <= bared.most(outlook, view.leaks) + MINUTES
        # Nor by more than that and what the look took off.
        falls = prospect.bared().cost(view.leaks) - prospect.bared(look).cost_after(outlook)
        paid = sum(prospect.labour.steps[s] for s in look.steps)
        assert falls <= prospect.bared().most(outlook, view.leaks) + paid + MINUTES


@pytest.mark.parametrize("seed", SEEDS)
def test_never_worth_less_than_the_first_look_alone_and_the_best_first(seed: int) -> None:
    prospect, _ = decision(seed)
    view = view_of(prospect.ahead)
    weighed = weigh(prospect.ahead, view, prospect.looks, prospect.labour, prospect.ids)
    gains = {w.look.inspection.id: w.gain for w in weighed}
    found = two_ahead(prospect, view, weighed)
    assert all(two.gain >= gains[two.first] for two in found)
    # The same for the one thing that is followed, where nothing is taken from the weighing.
    now = prospect.bared().cost(view.leaks)
    for two in two_ahead(prospect, view, alone(prospect)):
        k = [look.inspection.id for look in prospect.looks].index(two.first)
        look = prospect.looks[k]
        after = prospect.bared(look).cost_after(view.best(k)[1])
        single = now - after - price_of(look, prospect.labour)
        assert two.gain >= single - MINUTES
    saved = [two.gain for two in found]
    assert saved == pytest.approx(sorted(saved, reverse=True), abs=MINUTES)


def test_nothing_follows_where_no_look_is_worth_its_minutes() -> None:
    for seed in SEEDS:
        prospect, _ = decision(seed, dear=500)
        view = view_of(prospect.ahead)
        weighed = weigh(prospect.ahead, view, prospect.looks, prospect.labour, prospect.ids)
        found = two_ahead(prospect, view, weighed)
        assert {(two.dry, two.wet) for two in found} == {(None, None)}
        assert all(two.gain < 0 for two in found)
        assert sentence_of(found, {}).startswith("Two looks ahead: no look is worth its minutes")


def test_what_the_first_took_off_counts_once() -> None:
    prospect, _ = decision(0, dear=1)
    _, eyes_two, eyes_both, wash, wipe = prospect.looks
    assert prospect.price_after(eyes_two, eyes_both) == 1 + STEPS["guard"]
    assert prospect.price_after(eyes_both, wipe) == 4
    assert prospect.price_after(wipe, eyes_two) == eyes_two.minutes
    ids = [prospect.looks[k].inspection.id for k in prospect.seconds(wash)]
    assert ids == ["eyes_one", "wipe"]


@pytest.mark.parametrize("certain", ["dry", "wet"])
def test_a_first_look_that_can_only_come_out_one_way(certain: str) -> None:
    prospect, network = decision(3)
    zone = prospect.looks[0].inspection.reads.zones[0]
    size = network[zone].size
    sure = Reads((zone,), ({zone: np.full(size, 1.0 if certain == "dry" else 0.0)},))
    ahead = replace(prospect.ahead, reads=(sure, *prospect.ahead.reads[1:]))
    prospect = replace(prospect, ahead=ahead)
    found = two_ahead(prospect, view_of(ahead), alone(prospect))
    two = next(t for t in found if t.first == "eyes_one")
    assert (two.wet if certain == "dry" else two.dry) is None
    agrees(prospect, enumerated(prospect, network), [two], MINUTES)


def test_a_look_that_is_never_dry_where_it_leaks() -> None:
    """A close look at a joint that misses nothing leaves no leak where it is dry."""
    prospect, network = decision(5)
    seal = prospect.ahead.seals[0]
    sure = Reads((seal,), ({seal: np.array([1.0, 0.0, 0.0, 0.0])},))
    ahead = replace(prospect.ahead, reads=(sure, *prospect.ahead.reads[1:]))
    prospect = replace(prospect, ahead=ahead)
    found = two_ahead(prospect, view_of(ahead), alone(prospect))
    agrees(prospect, enumerated(prospect, network), found, MINUTES)


def test_a_step_before_each_first_look_and_a_stop_in_between() -> None:
    prospect, _ = decision(1)
    view = view_of(prospect.ahead)
    called: list[int] = []
    many = [*alone(prospect), *alone(prospect)]
    assert len(two_ahead(prospect, view, many, lambda: called.append(1))) == FIRSTS
    assert len(called) == FIRSTS

    def stop() -> None:
        called.append(1)
        if len(called) > FIRSTS + 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        two_ahead(prospect, view, many, stop)
    assert len(called) == FIRSTS + 3


# A whole machine.

TIMELINE = (
    {"zone": "drip_tray", "state": "wet", "fluid": "gear_oil"},
    {"sign": "level_falls", "value": "yes", "fluid": "gear_oil"},
)


def close_up(name: str, seal: str, minutes: float, **more: Any) -> Inspection:
    reads = {"seal_points": [seal]}
    return Inspection.model_validate({"id": name, "minutes": minutes, "reads": reads} | more)


def stand(*more: Inspection, only: bool = False) -> Weigher:
    inspections = more if only else (*STAND.inspections, *more)
    machine: Machine = STAND.model_copy(update={"inspections": inspections})
    job = Job.model_validate(
        {
            "format": "leakdx-job/1",
            "id": "made_up",
            "machine": {"id": "pump_stand", "version": "1.2"},
            "timeline": TIMELINE,
        }
    )
    return Weigher.of(LoadedJob(job, machine), PRIORS)


def test_a_pump_stand_with_looks_at_its_joints() -> None:
    weigher = stand(
        close_up("feel_gasket", "cover_gasket", 2, access=["take_off_guard"]),
        close_up("mirror_shaft", "shaft_seal", 3, access=["take_off_guard"], method="mirror"),
        close_up("eyes_union", "water_union", 1),
        only=True,
    )
    prospect = weigher.prospect
    found = two_ahead(prospect, view_of(prospect.ahead), alone(prospect))
    assert agrees(prospect, asked_of_tree(prospect), found, MINUTES) > 0


def test_a_pump_stand_with_zones_that_either_fluid_wets() -> None:
    """There the two fluids are taken to wet a zone independently given each seal point."""
    prospect = stand(close_up("feel_gasket", "cover_gasket", 2)).prospect
    assert max(len(d) for reads in prospect.ahead.reads for d in reads.dry) > 1
    found = two_ahead(prospect, view_of(prospect.ahead), alone(prospect))
    agrees(prospect, asked_of_tree(prospect), found, 0.5)


# Said to people and programs.

NAMES = {"a": "Look at A", "b": "Wipe B", "c": "Mirror at C"}


@pytest.mark.parametrize(
    ("two", "said"),
    [
        (
            TwoLooks("a", "top_edge", "b", "c", 12.4),
            "look at A first; if wet (at top edge) then mirror at C, if dry then wipe B.",
        ),
        (TwoLooks("a", "x", None, "c", 1.0), "if wet (at x) then mirror at C, if dry then stop"),
        (TwoLooks("a", "x", "b", "b", 1.0), "look at A first, then wipe B, wet or dry."),
        (TwoLooks("a", "x", None, None, 1.0), "look at A first, and no other."),
        (TwoLooks("a", "x", "b", "c", 0.0), "no look is worth its minutes"),
    ],
)
def test_the_sentence(two: TwoLooks, said: str) -> None:
    assert said in sentence_of([two], NAMES)
    assert ("about 12 minutes" in sentence_of([two], NAMES)) == (two.gain > 12)


def test_no_look_at_all() -> None:
    assert "no look" in sentence_of([], NAMES)


@pytest.fixture
def job_file(tmp_path: Path) -> Iterator[str]:
    data = Path(__file__).parents[1] / "data"
    (tmp_path / "pump_stand.yaml").write_text((data / "pump_stand.yaml").read_text())
    job = {
        "format": "leakdx-job/1",
        "id": "made_up",
        "machine": {"id": "pump_stand", "version": "1.2", "file": "pump_stand.yaml"},
        "timeline": list(TIMELINE),
    }
    path = tmp_path / "job.yaml"
    path.write_text(json.dumps(job))
    yield str(path)


def test_the_command(job_file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["next", job_file]) == 0
    usual = capsys.readouterr().out
    assert cli.main(["next", job_file, "--ahead"]) == 0
    longer = capsys.readouterr().out
    assert longer.startswith(usual) and "Two looks ahead" not in usual
    assert "Two looks ahead: " in longer[len(usual) :]
    documents: list[Mapping[str, Any]] = []
    for flags in ([], ["--ahead"]):
        assert cli.main(["next", job_file, "--json", *flags]) == 0
        documents.append(json.loads(capsys.readouterr().out))
        jsonschema.Draft202012Validator(json_schema()).validate(documents[-1])
    assert documents[0]["two_ahead"] == []
    assert {two["first"] for two in documents[1]["two_ahead"]} == {"look_at_cover", "wipe_shaft"}
    assert {**documents[1], "two_ahead": []} == documents[0]


def test_the_command_stopped_in_between(
    job_file: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(lookahead, "_followed", stop)
    assert cli.main(["next", job_file, "--ahead"]) == cli.STOPPED
    assert capsys.readouterr() == ("", "")


def test_not_asked_for_is_not_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lookahead, "_followed", None)
    assert next_look(stand().loaded).two_ahead == ()
