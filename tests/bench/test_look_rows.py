"""The rows of the next inspection: what is asked of whom.  No times are tested."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from leakdx.advice.next_look import Weigher
from leakdx.advice.separating import separations
from leakdx.bench import look_asking
from leakdx.bench.asking import Event, told_by
from leakdx.bench.look_asking import ask_looks, judged, settings_of
from leakdx.bench.look_referee import SINGLY, WORKER, Settings
from leakdx.bench.look_rows import GROWTH, VARIANTS, Refreshing, refreshed
from leakdx.bench.problem import Bench
from leakdx.bench.rows import ROWS
from leakdx.bench.side_by_side import loaded_row, machine_of
from leakdx.network.noisymax import plain

JOB = str(Path(__file__).parent.parent / "data" / "wet_foot.yaml")
REFEREES = ("pyagrum", SINGLY, "pgmpy")


@pytest.fixture(scope="module")
def ready() -> Refreshing:
    bench = Bench(JOB, quick=True)
    return Refreshing(Weigher.of(bench.loaded, bench.priors))


def told_of(ready: Refreshing, referee: str) -> list[Event]:
    network = plain(ready.weigher.ahead.asked.network.network)
    return told_by(referee, Settings(network, settings_of(ready.calls), 1), 100.0, WORKER)


def test_the_rows_are_there() -> None:
    assert set(ROWS) >= {"refresh", "ahead", "lookahead", *(f"growth-{n}" for n in GROWTH)}


def test_a_refresh_weighs_every_look_and_tells_the_two_likeliest_apart(ready: Refreshing) -> None:
    weigher = ready.variants[3]
    view, weighed, apart = refreshed(weigher)
    assert {w.look.inspection.id for w in weighed} == {o.inspection.id for o in weigher.open}
    first, second = sorted(range(len(weigher.ids)), key=lambda k: -view.leaks[k])[:2]
    want = separations(weigher.ahead, weigher.open, first, second)
    assert [(a.thing, a.expected) for a in apart] == [(a.thing, a.expected) for a in want]


def test_no_two_variants_know_the_same(ready: Refreshing) -> None:
    known = ready.weigher.ahead.known
    assert len(ready.variants) == VARIANTS and known
    for name, seen in known.items():
        every = [v.ahead.known[name] for v in ready.variants]
        assert all(one.argmax() == seen.argmax() for one in every)
        assert len({one.tobytes() for one in every}) == VARIANTS


def test_what_a_refresh_asks_is_heard_and_changes_no_answer(ready: Refreshing) -> None:
    widths = [np.size(beliefs.log_evidence) for _, beliefs in ready.calls]
    # Each seal point leaking, and none supposed to; then the outcomes; then the pair.
    assert widths[0] == len(ready.weigher.ids) + 1 and widths[-1] == 2 and len(widths) == 3
    settings = settings_of(ready.calls)
    assert len(settings) == sum(widths)
    tree = ready.weigher.ahead.tree
    columns = [(b, k) for _, b in ready.calls for k in range(np.size(b.log_evidence))]
    for setting, (beliefs, column) in zip(settings, columns, strict=True):
        alone = tree.update(setting.evidence)
        for name in setting.targets:
            assert alone[name] == pytest.approx(beliefs[name][:, column], abs=1e-12)


@pytest.mark.parametrize("referee", REFEREES)
def test_referees_find_the_same(ready: Refreshing, referee: str) -> None:
    settings = settings_of(ready.calls)
    reply = judged(referee, told_of(ready, referee), settings, ready.calls)
    assert reply.seconds is not None and reply.seconds > 0 and not reply.at_least
    (note,) = [n for n in reply.notes if n.startswith(f"largest difference from {referee}")]
    assert float(note.rpartition(" ")[2]) < 1e-9


def test_a_difference_is_told(ready: Refreshing) -> None:
    events = told_of(ready, "pyagrum")
    wrong = next(e for e in events if e["event"] == "setting" and e["number"] == 1)
    name = next(iter(wrong["values"]))
    wrong["values"][name][0] += 0.25
    reply = judged("pyagrum", events, settings_of(ready.calls), ready.calls)
    assert float(reply.notes[-1].rpartition(" ")[2]) == pytest.approx(0.25, rel=0.01)


def test_each_step_is_scaled_by_its_own_settings(ready: Refreshing) -> None:
    settings = settings_of(ready.calls)
    steps = [s.step for s in settings]
    counts = [steps.count(k) for k in range(3)]
    events: list[Event] = [{"event": "ready", "at": 0.0, "largest": 8}]
    for step, seconds in enumerate((1.0, 10.0, 100.0)):
        number = steps.index(step)
        told = {"event": "setting", "number": number, "seconds": seconds, "values": {}}
        events.append({"at": 1.0, **told})
    reply = judged("pyagrum", events, settings, ready.calls)
    assert reply.seconds == counts[0] + 10 * counts[1] + 100 * counts[2]
    assert f"asked 3 settings, scaled to {len(settings)}" in reply.notes[0]
    assert not reply.at_least
    short = judged("pyagrum", events[:-1], settings, ready.calls)
    assert short.seconds == counts[0] + 10 * counts[1] and short.at_least
    assert "lower bound" in short.notes[0]


def test_single_posteriors_are_scaled_to_all(ready: Refreshing) -> None:
    settings = settings_of(ready.calls)
    name = settings[0].targets[0]
    ours = ready.calls[0][1][name][:, 0].tolist()
    told = {"event": "posterior", "number": 0, "name": name, "values": ours}
    events: list[Event] = [{"at": 1.0, "seconds": s, **told} for s in (1.0, 3.0)]
    reply = judged("pgmpy", events, settings, ready.calls)
    assert reply.seconds == 2.0 * sum(len(s.targets) for s in settings)
    assert "scaled to" in reply.notes[0] and reply.notes[1].endswith("0.0e+00")


def test_all_at_once_beyond_it_is_asked_one_at_a_time(
    ready: Refreshing, monkeypatch: pytest.MonkeyPatch
) -> None:
    def too_little(referee: str, question: Settings, budget_s: float, worker: str) -> list[Event]:
        if referee != "pyagrum":
            return told_by(referee, question, budget_s, worker)
        return [{"event": "failed", "at": 1.0, "why": "memory"}, {"event": "ended", "at": 1.0}]

    monkeypatch.setattr(look_asking, "told_by", too_little)
    reply = ask_looks("pyagrum", ready.weigher.ahead.asked.network.network, ready.calls)
    assert reply.seconds is not None
    assert reply.notes[0].startswith("all at once, pyagrum cannot: 6 GB")
    assert "single posteriors" in reply.notes[1]


def test_a_missing_referee_is_said(ready: Refreshing, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(look_asking, "installed", lambda name: False)
    reply = ask_looks("pgmpy", ready.weigher.ahead.asked.network.network, ready.calls)
    assert reply.seconds is None and reply.notes[0].startswith("pgmpy is not installed")


@pytest.mark.parametrize("seal_points", GROWTH)
def test_rows_of_cases_are_as_large_as_said(seal_points: int) -> None:
    loaded = loaded_row(seal_points)
    assert len(loaded.machine.seal_points) == seal_points
    assert "invented" in loaded.machine.name
    ids = {z.id for z in loaded.machine.zones}
    assert all(set(s.zones) <= ids for s in loaded.machine.seal_points)
    assert all(set(i.reads.zones) <= ids for i in loaded.machine.inspections)
    assert loaded.machine == machine_of(seal_points // 5)


def test_fluid_runs_from_case_to_case() -> None:
    bench = Bench(JOB, quick=True)
    weigher = Weigher.of(loaded_row(10), bench.priors)
    shown = weigher.ahead.asked.network.network
    reach = {s.zones[0] for s in weigher.loaded.machine.seal_points}
    assert reach >= {"left_0", "left_1"} and shown.names
    tree, known = weigher.ahead.tree, weigher.ahead.known
    wet = np.array([0.0, 0.0, 0.0, 1.0])
    far = next(n for n in shown.names if n.startswith("flow__oil__left_0"))
    before = tree.update(known)[far]
    # A spray at the shaft end of the other case wets this one more often.
    after = tree.update({**known, "seal__shaft_end_1": wet})[far]
    assert after[0] < before[0] - 1e-4
