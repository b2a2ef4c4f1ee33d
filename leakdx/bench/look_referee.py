"""A referee asked what a refresh of the next inspection asks, one setting after another.

Run as a program like ``leakdx.bench.referee``.  It tells: ready; setting (number, seconds,
values by variable); posterior (number, name, seconds, values); failed (why).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from typing import Any

from leakdx.bench.referee import largest_clique, main, pyagrum_model, tell
from leakdx.network.tables import Array, Network

WORKER = "leakdx.bench.look_referee"
# pyagrum in its other way.
SINGLY = "pyagrum singly"
# Settings asked of each step before any step is asked for the rest of its settings.
FEW = 4
# Posteriors asked for where they are found one at a time.
SINGLES = 12


@dataclass(frozen=True, eq=False)
class Setting:
    """One thing supposed: what is then seen, and the posteriors wanted.

    step: which part of the refresh asks for it.
    """

    step: int
    evidence: dict[str, Array]
    targets: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Settings:
    """An ordinary network without maxima, and all settings of one refresh."""

    network: Network
    settings: tuple[Setting, ...]
    threads: int

    @property
    def rounds(self) -> Iterator[list[int]]:
        """Numbers of settings of one step each: first a few of each step, then the rest."""
        steps: dict[int, list[int]] = {}
        for number, setting in enumerate(self.settings):
            steps.setdefault(setting.step, []).append(number)
        few = {k: every[:: max(len(every) // FEW, 1)][:FEW] for k, every in steps.items()}
        yield from few.values()
        for step, every in steps.items():
            rest = [n for n in every if n not in few[step]]
            if rest:
                yield rest


def ask_pyagrum(question: Settings) -> None:
    """Each setting on a kept engine, one for each step, of whose evidence only some changes."""
    pyagrum: Any = import_module("pyagrum")
    pyagrum.setNumberOfThreads(question.threads)
    model = pyagrum_model(question.network)
    for round_, numbers in enumerate(question.rounds):
        first = question.settings[numbers[0]]
        engine = pyagrum.LazyPropagation(model)
        engine.setTargets(set(first.targets))
        # Every setting of a step is about the same variables, so the tree stays.
        there = {name: likelihood.tolist() for name, likelihood in first.evidence.items()}
        engine.setEvidence(there)
        if round_ == 0:
            tell("ready", largest=largest_clique(model, engine))
        engine.makeInference()
        # The first was the warm-up, answered now from memory; it comes last instead.
        order = [*numbers[1:], numbers[0]] if len(numbers) > 1 else numbers
        for number in order:
            setting = question.settings[number]
            start = time.perf_counter()
            for name, likelihood in setting.evidence.items():
                wanted = likelihood.tolist()
                if there[name] != wanted or len(order) == 1:
                    engine.chgEvidence(name, wanted)
                    there[name] = wanted
            engine.makeInference()
            found = {name: engine.posterior(name) for name in setting.targets}
            seconds = time.perf_counter() - start
            values = {name: tensor.tolist() for name, tensor in found.items()}
            tell("setting", number=number, seconds=seconds, values=values)


def ask_pyagrum_singly(question: Settings) -> None:
    """Single posteriors by eliminating variables, for which it needs less memory."""
    pyagrum: Any = import_module("pyagrum")
    pyagrum.setNumberOfThreads(question.threads)
    model = pyagrum_model(question.network)
    tell("ready", largest=None)
    for number, name in _singles(question):
        engine = pyagrum.VariableElimination(model)
        engine.setTargets({name})
        seen = _telling(question.settings[number])
        engine.setEvidence({n: likelihood.tolist() for n, likelihood in seen.items()})
        start = time.perf_counter()
        engine.makeInference()
        values = engine.posterior(name).tolist()
        seconds = time.perf_counter() - start
        tell("posterior", number=number, name=name, seconds=seconds, values=values)


def _telling(setting: Setting) -> dict[str, Array]:
    """Its evidence without what all states allow alike, which says nothing."""
    return {n: a for n, a in setting.evidence.items() if (a != a[0]).any()}


def ask_pgmpy(question: Settings) -> None:
    """Single posteriors, each on a fresh engine: soft evidence leaves nodes behind."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    from leakdx.network.pgmpy_io import to_pgmpy

    network = question.network
    model = to_pgmpy(network)
    tell("ready", largest=None)
    for number, name in _singles(question):
        virtual = [
            TabularCPD(n, len(a), (a / a.sum())[:, None], state_names={n: list(network[n].states)})
            for n, a in _telling(question.settings[number]).items()
        ]
        copy = model.copy()
        start = time.perf_counter()
        factor: Any = VariableElimination(copy).query(
            [name], virtual_evidence=virtual, show_progress=False
        )
        seconds = time.perf_counter() - start
        if factor.state_names[name] != list(network[name].states):
            raise ValueError(f"states of {name} in another order")
        values = factor.values.tolist()
        tell("posterior", number=number, name=name, seconds=seconds, values=values)


def _singles(question: Settings) -> list[tuple[int, str]]:
    """Settings and targets spread evenly over all there are to find."""
    every = [(n, t) for n, s in enumerate(question.settings) for t in s.targets]
    count = min(SINGLES, len(every))
    return [every[(2 * k + 1) * len(every) // (2 * count)] for k in range(count)]


REFEREES: dict[str, Callable[[Settings], None]] = {
    "pyagrum": ask_pyagrum,
    SINGLY: ask_pyagrum_singly,
    "pgmpy": ask_pgmpy,
}

if __name__ == "__main__":
    main(REFEREES)
