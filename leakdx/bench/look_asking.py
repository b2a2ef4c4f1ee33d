"""Asking a referee all that one refresh of the next inspection asks of the network."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from statistics import mean

import numpy as np

from leakdx.belief.tree import Beliefs, JunctionTree
from leakdx.bench.asking import BUDGET_s, Event, Reply, cannot, missing, told_by
from leakdx.bench.look_referee import SINGLY, WORKER, Setting, Settings
from leakdx.bench.timing import installed, threads
from leakdx.network.noisymax import plain
from leakdx.network.tables import Array, Network

Call = tuple[dict[str, Array], Beliefs]


@dataclass(frozen=True, eq=False)
class Listening(JunctionTree):
    """A compiled network that keeps what it is asked, and what it answered."""

    heard: list[Call] = field(default_factory=list, repr=False)

    def update(self, evidence: Mapping[str, Array], only: Sequence[str] | None = None) -> Beliefs:
        """As of any compiled network."""
        found = super().update(evidence, only)
        self.heard.append((dict(evidence), found))
        return found


def listening(tree: JunctionTree) -> Listening:
    """The same compiled network, one that listens."""
    return Listening(**{f.name: getattr(tree, f.name) for f in fields(tree)})


def settings_of(calls: Sequence[Call]) -> tuple[Setting, ...]:
    """Every column of every call as a setting of its own."""
    found = []
    for step, (evidence, beliefs) in enumerate(calls):
        for column in range(_width(beliefs)):
            seen = {n: a if a.ndim == 1 else a[:, column] for n, a in evidence.items()}
            found.append(Setting(step, seen, tuple(beliefs)))
    return tuple(found)


def _width(beliefs: Beliefs) -> int:
    return np.size(beliefs.log_evidence)


def ask_looks(referee: str, network: Network, calls: Sequence[Call]) -> Reply:
    """Ask a referee for all posteriors that these calls asked of a network.

    The chance of each setting, which is needed as well, is not asked for.
    """
    if not installed(referee):
        return missing(referee)
    settings = settings_of(calls)
    budget_s = BUDGET_s[referee]
    print(f"  asking {referee}, {budget_s:.0f} s at most", file=sys.stderr, flush=True)
    question = Settings(plain(network), settings, threads()[0])
    events = told_by(referee, question, budget_s, WORKER)
    reply = judged(referee, events, settings, calls)
    if referee != "pyagrum" or reply.seconds is not None:
        return reply
    # All posteriors at once are beyond it; one at a time they may not be.
    singly = told_by(SINGLY, question, budget_s, WORKER)
    again = judged(referee, singly, settings, calls)
    return replace(again, notes=(f"all at once, {reply.notes[0]}", *again.notes))


def judged(
    referee: str, events: Sequence[Event], settings: Sequence[Setting], calls: Sequence[Call]
) -> Reply:
    """Seconds for all settings, scaled from those that were answered, and how far they agree."""
    kinds = {e["event"]: e for e in events}
    whole = [e for e in events if e["event"] == "setting"]
    singles = [e for e in events if e["event"] == "posterior"]
    agree = _agreement(referee, [*whole, *singles], calls)
    if whole:
        return _from_settings(referee, whole, settings, agree)
    if singles:
        posteriors = sum(len(s.targets) for s in settings)
        each = mean(e["seconds"] for e in singles)
        said = (
            f"{referee} was asked {len(singles)} single posteriors in as many settings, "
            f"{each:.3g} s each, scaled to the {posteriors} of all {len(settings)} settings; "
            "one at a time shares no work between them"
        )
        return Reply(each * posteriors, False, (said, *agree))
    if "failed" in kinds:
        return Reply(None, False, (cannot(referee, kinds, []),))
    if "ready" not in kinds:
        said = f"{referee} was not ready to answer when its time was over"
        return Reply(None, False, (said,))
    waited = kinds["stopped"]["at"] - kinds["ready"]["at"]
    what = "one posterior" if referee == "pgmpy" else "one setting"
    said = f"{referee} was stopped after {waited:.0f} s without {what}: a lower bound, not scaled"
    return Reply(waited, True, (said,))


def _from_settings(
    referee: str, told: Sequence[Event], settings: Sequence[Setting], agree: tuple[str, ...]
) -> Reply:
    """Each step of the refresh scaled by its own settings; one never answered is left out."""
    seconds: dict[int, list[float]] = {}
    for event in told:
        seconds.setdefault(settings[event["number"]].step, []).append(event["seconds"])
    counts: dict[int, int] = {}
    for setting in settings:
        counts[setting.step] = counts.get(setting.step, 0) + 1
    total = sum(counts[step] * mean(values) for step, values in seconds.items())
    asked = sum(len(values) for values in seconds.values())
    scaled = "" if asked == len(settings) else f", scaled to {len(settings)}"
    said = f"{referee} was asked {asked} settings{scaled}: {total:.3g} s for all"
    each = [f"{counts[step]} of {mean(values):.3g} s" for step, values in sorted(seconds.items())]
    note = f"{said} ({', '.join(each)} each)"
    short = len(seconds) < len(counts)
    if short:
        note += "; it did not come to the other steps, so this is a lower bound"
    return Reply(total, short, (note, *agree))


def _agreement(referee: str, told: Sequence[Event], calls: Sequence[Call]) -> tuple[str, ...]:
    columns = [(b, k) for _, b in calls for k in range(_width(b))]
    differences = []
    for event in told:
        beliefs, column = columns[event["number"]]
        several = event["event"] == "setting"
        values = event["values"] if several else {event["name"]: event["values"]}
        for name, value in values.items():
            ours = beliefs[name]
            ours = ours if ours.ndim == 1 else ours[:, column]
            differences.append(float(np.abs(ours - np.array(value)).max()))
    if not differences:
        return ()
    largest = max(differences)
    return (f"largest difference from {referee} in {len(differences)} posteriors: {largest:.1e}",)
