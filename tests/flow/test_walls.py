"""Drops inside a closed body do not fall through its walls."""

from __future__ import annotations

import pytest

from leakdx.flow.courses import Way
from leakdx.machine.model import DrawnPath
from tests.flow.boxes import box, flow_of, machine, patch, shares, shares_from, tray

# A shelf in the middle of a closed box, touching nothing; a tray stands under the box.
SHELF = patch("shelf", (0, 0, 400), (0, 0, 1), (100, 100, 0))
BODY = (*box((400, 400, 200), (0, 0, 400)), SHELF, tray())


def test_what_has_no_other_way_comes_out_at_the_wall_it_meets() -> None:
    flow = flow_of(machine(BODY))
    assert shares_from(flow, "shelf") == pytest.approx({"underside": 1}, abs=1e-6)


def test_what_has_another_way_takes_that_and_none_falls_through() -> None:
    made = machine(BODY).model_copy(
        update={"paths": (DrawnPath(source="shelf", target="front", share=0.4),)}
    )
    drops = {pair: s for pair, s in shares(flow_of(made), Way.DRIP).items() if pair[0] == "shelf"}
    assert ("shelf", "tray") not in drops
    # Beside a wall of the body it may meet from within, it has only the drawn way.
    assert shares_from(flow_of(made), "shelf")["front"] >= 0.4


def test_a_shelf_in_the_open_does_drip_onto_the_tray() -> None:
    flow = flow_of(machine((SHELF, tray())))
    assert shares_from(flow, "shelf") == pytest.approx({"tray": 1}, abs=1e-6)


def test_drops_that_hang_outside_a_wall_fall_past_it() -> None:
    # The left side of the box drips from its lower edge, outside of the body.
    flow = flow_of(machine(BODY))
    assert shares(flow, Way.DRIP)["left", "tray"] > 0.1


def test_what_would_fall_through_is_kept_back_where_it_can_run_on() -> None:
    # A plate hangs from the edge of the shelf: over the other edges drops would meet the
    # underside from within, so they are kept, and all that leaves the shelf runs to the plate.
    plate = patch("plate", (50, 0, 370), (1, 0, 0), (0, 100, 60))
    flow = flow_of(machine((*BODY, plate)))
    assert shares_from(flow, "shelf") == pytest.approx({"plate": 1}, abs=1e-6)
    assert "tray" not in shares_from(flow, "plate")
