"""Every layout that comes with leakdx: its size, its width, and how long it takes."""

from __future__ import annotations

from leakdx.advice.whole import Whole, whole_network
from leakdx.belief.evidence import Evidence
from leakdx.bench.layout_line import LayoutLine
from leakdx.bench.problem import Bench
from leakdx.bench.timing import timed
from leakdx.kit.read import load_shipped

# Zones that are read: every fifth variable of a flow, wet or dry by turns.
EVERY = 5


def measured_layout(layout_id: str, bench: Bench) -> LayoutLine:
    """One layout, built, compiled and updated again and again."""
    machine = load_shipped(layout_id)
    whole = whole_network(machine, bench.priors)
    build = timed(lambda _: whole_network(machine, bench.priors), bench.repeats(5))
    variants = [_readings(whole, n) for n in range(4)]
    update = timed(lambda n: whole.tree.update(variants[n % 4]), bench.repeats(30))
    return LayoutLine(
        id=layout_id,
        zones=len(machine.zones),
        seal_points=len(machine.seal_points),
        variables=len(whole.network.network.variables),
        width=whole.tree.width,
        entries=whole.entries,
        detail=whole.detail,
        build_s=build,
        update_ms=update.times(1000.0),
    )


def _readings(whole: Whole, number: int) -> Evidence:
    """Some zones seen wet and some dry, not quite surely: every reading is possible."""
    flows = [v for v in whole.network.network.variables if v.name.startswith("flow__")]
    found = {}
    for k, variable in enumerate(flows[number % EVERY :: EVERY]):
        size = len(variable.states)
        likelihood = [0.1 + 0.9 * (i == (0 if k % 2 else size - 1)) for i in range(size)]
        found[variable.name] = likelihood
    return Evidence(found)
