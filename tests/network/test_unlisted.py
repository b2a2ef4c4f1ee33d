"""Origins that nobody listed: a wash takes what was spilled, and no origin."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leakdx.advice.ranking import not_these
from leakdx.advice.solving import solve
from leakdx.belief.evidence import hard
from leakdx.case.read import job_from
from leakdx.kit.read import load_machine
from leakdx.network.build import unlisted_elsewhere
from leakdx.network.setting import other_name
from leakdx.network.tables import Table
from leakdx.network.unlisted import NONE, SPILLED, UNLISTED, lasting
from leakdx.priors.read import shipped_priors

PRIORS = shipped_priors()
STAND = load_machine(Path(__file__).parents[1] / "data" / "pump_stand.yaml")
WET = {"zone": "cover_side", "state": "running", "fluid": "gear_oil"}
TIGHT = [
    {"seal_point": s.id, "state": "tight", "method": "mirror", "sure": "good"}
    for s in STAND.seal_points
]
AFTER = [{"wash": "whole"}, {"run_minutes": 60, "use": "driven"}]


def solved(*timeline: dict[str, Any]) -> Any:
    data = {
        "format": "leakdx-job/1",
        "id": "washed",
        "machine": {"id": STAND.id, "version": STAND.version},
        "conditions": {"hours": 40},
        "timeline": list(timeline),
    }
    return solve(job_from(data, STAND), PRIORS)


def not_listed(*timeline: dict[str, Any]) -> float:
    return not_these(solved(*timeline), PRIORS)[1]


@pytest.mark.parametrize("draws", [(), (4,)])
def test_what_was_there_stays_and_nothing_begins(draws: tuple[int, ...]) -> None:
    values = np.moveaxis(np.random.default_rng(0).dirichlet([5, 2, 1], draws or None), -1, 0)
    table = lasting(Table("now", (), values), "before")
    assert table.parents == ("before",)
    assert table.values.shape == (3, 3, *draws)
    np.testing.assert_array_equal(table.values[UNLISTED, UNLISTED], 1)
    np.testing.assert_array_equal(table.values[UNLISTED, [NONE, SPILLED]], 0)
    # Spills as often as among all that is not unlisted.
    spilled = values[SPILLED] / (values[NONE] + values[SPILLED])
    np.testing.assert_allclose(table.values[SPILLED, NONE], spilled)
    np.testing.assert_allclose(table.values.sum(axis=0), 1)


def test_an_origin_outlives_a_wash_and_a_spill_does_not() -> None:
    found = solved(WET, *TIGHT, *AFTER, WET)
    network = found.asked.network.network
    before, now = (other_name("gear_oil", "cover_side", e) for e in (0, 1))
    there = found.tree.update(hard(network, {before: "unlisted"}), only=[now])[now]
    assert there[UNLISTED] == pytest.approx(1)
    spilt = found.tree.update(hard(network, {before: "spilled"}), only=[now])[now]
    assert spilt[UNLISTED] == pytest.approx(0)
    assert spilt[SPILLED] < 0.5


def test_wet_again_where_every_listed_joint_is_tight_speaks_for_one_not_listed() -> None:
    """Wet, all joints tight, washed, run, wet again: likelier than after being wet once."""
    once = not_listed(WET, *TIGHT)
    again = not_listed(WET, *TIGHT, *AFTER, WET)
    assert again > once
    # A wash with nothing read after it teaches nothing.
    assert not_listed(WET, *TIGHT, *AFTER) == pytest.approx(once, abs=1e-9)
    # Dry after an hour's drive speaks against it, and does not make one forget it.
    dry = {"zone": "cover_side", "state": "dry"}
    assert not_listed(*AFTER, dry) < not_listed(WET, *TIGHT, *AFTER, dry) < once


def test_zones_that_were_not_read_before_are_not_linked() -> None:
    network = solved(WET, *AFTER, {"zone": "cover_top", "state": "dry"}).asked.network.network
    parents = {t.child: t.parents for t in network.tables}
    assert parents[other_name("gear_oil", "cover_top", 1)] == ()


def test_what_leaks_now_is_told_by_the_newest_epoch_that_was_built() -> None:
    network = solved(WET, *AFTER, WET).asked.network
    newest = {name.rsplit("__e", 1)[1] for name in network.others.values()}
    assert network.others["gear_oil", "cover_side"] == other_name("gear_oil", "cover_side", 1)
    assert newest == {"1"}
    # Nothing was read after the wash, so nothing was built for it.
    before = solved(WET, *AFTER).asked.network
    assert before.others["gear_oil", "cover_side"] == other_name("gear_oil", "cover_side", 0)


def test_elsewhere_is_where_nothing_was_built() -> None:
    elsewhere = [unlisted_elsewhere(solved(*t).asked.network, PRIORS) for t in ((), (WET,))]
    # With nothing read nothing is built: the whole prior chance, of each fluid.
    whole = 1 - (1 - PRIORS["base_rates.unlisted"]) ** len(STAND.fluids)
    assert elsewhere[0] == pytest.approx(whole)
    assert elsewhere[1] < elsewhere[0]
