"""What the owner is told before a repair: figures that are those of the ranking, in plain words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from leakdx.machine.model import FluidKind
from leakdx.report.customer import MOST, UNLISTED, WORTH, customer_sheet
from leakdx.report.pages import customer_page
from leakdx.report.proposing import SHOWN, proposal_of
from leakdx.report.watching import BRAKES, COOLANT, FUEL, GROUND, SKIN, STOP, watching
from tests.advice.repaired import MADE, PRIORS
from tests.report.made import (
    DRY,
    RENEW,
    RUN,
    WASH,
    WET,
    known_of,
    loaded_job,
    sheet_for,
    shipped,
    told_of,
)
from tests.report.reading import PageRead

COSTS = {"currency": "kr", "labour_per_hour": 600, "comeback": 2000, "part": 100}
JARGON = re.compile(
    r"deciban|posterior|prior\b|evidence|Bayes|likelihood|odds|\bzone|seal point|leakdx (?!as)|_",
    re.IGNORECASE,
)


def page_of(*args: object) -> PageRead:
    found = PageRead(customer_page(*args))  # type: ignore[arg-type]
    assert found.faults == []
    return found


def test_suspects_are_the_likeliest_of_the_ranking() -> None:
    loaded, _, told = shipped("rear_of_engine_wet")
    ranking, _ = known_of(loaded)
    likely = [r for r in ranking.rows if r.leaks >= WORTH][:MOST]
    assert [s.name for s in told.suspects] == [r.name for r in likely]
    assert_allclose([s.chance for s in told.suspects], [r.leaks for r in likely])
    assert told.others[-1].name == UNLISTED
    assert_allclose(told.others[-1].chance, ranking.not_listed)
    # What is to be renewed is no other suspect.
    proposed = {c.name for c in shipped("rear_of_engine_wet")[1].renew}
    assert not {s.name for s in told.others} & (proposed | {s.name for s in told.suspects})


@pytest.mark.parametrize("job", ["rear_of_engine_wet", "rear_of_engine_renewed"])
def test_it_is_in_plain_words(job: str) -> None:
    shown = page_of(shipped(job)[2]).shown
    assert JARGON.findall(shown) == []
    assert "The maker's procedure and local rules come first." in shown
    assert "estimate" in shown
    assert "This machine and all its figures are invented" in shown


def test_so_is_how_it_is_proved_dry() -> None:
    before = told_of(loaded_job(WET), "cover_gasket", proof=True)
    after = told_of(loaded_job(WET, RENEW, WASH, RUN))
    for told in (before, after):
        shown = page_of(told).shown
        assert "warm" in shown and JARGON.findall(shown) == []
        assert "invented" not in shown


def test_chances_stand_in_words_and_percent() -> None:
    shown = page_of(shipped("rear_of_engine_wet")[2]).shown
    assert "about 2 in 3 65 %" in shown
    assert "these chances do not add up to 100 %" in shown


def test_what_was_not_looked_at_is_told_and_never_called_dry() -> None:
    told = told_of(loaded_job(WET, {"zone": "foot", "state": "not_looked"}), "cover_gasket")
    assert "2 of 3 places on the machine have not been looked at. That does not mean" in " ".join(
        told.unknown
    )
    assert told.looked == "No place was found dry."
    assert told_of(loaded_job(WET, {"zone": "foot", "state": "dry"}), "plug").looked == (
        "One place was found dry."
    )


def test_what_is_not_known_is_told() -> None:
    job = loaded_job({"zone": "side", "state": "wet"}, conditions={})
    said = " ".join(told_of(job, "plug").unknown)
    assert "Which fluid it is could not be told at one wet place." in said
    assert "since it was last clean is not known" in said
    said = " ".join(told_of(loaded_job(WET), "plug").unknown)
    assert "Which fluid" not in said and "last clean" not in said


def test_why_these_together() -> None:
    told = told_of(loaded_job(WET), "cover_gasket", "plug", "pipe")
    assert told.proposal is not None
    why = {j.name: j.why for j in told.proposal.joints}
    assert (
        why["Plain cover gasket"]
        == why["Plain plug"]
        == ("behind parts that come off for another as well")
    )
    assert "second visit" in why["Plain pipe"]
    assert any("taken off once" in line for line in told.proposal.together)
    alone = told_of(loaded_job(WET), "cover_gasket").proposal
    assert alone is not None
    assert not any("taken off once" in line or "same work" in line for line in alone.together)


def test_a_gasket_is_told_as_one_piece() -> None:
    told = shipped("rear_of_engine_wet")[2]
    assert told.proposal is not None
    [gasket] = [j for j in told.proposal.joints if j.name == "Head cover gasket, whole"]
    assert "one piece, so all of it is renewed" in gasket.why


def test_time_is_labour_and_money_is_only_told_where_the_job_has_prices() -> None:
    plain = told_of(loaded_job(WET), "cover_gasket").proposal
    dear = told_of(loaded_job(WET, costs=COSTS), "cover_gasket").proposal
    dearer = told_of(loaded_job(WET, costs=COSTS | {"part": 9000}), "cover_gasket").proposal
    assert plain is not None and dear is not None and dearer is not None
    assert plain.price is None
    assert "cost" not in page_of(told_of(loaded_job(WET), "cover_gasket")).shown.lower()
    # Usual minutes of the joint, and the cover off and on again.
    minutes = PRIORS["costs.renew_minutes.flat_gasket"] + 50 * (1 + PRIORS["costs.refit_share"])
    assert minutes == 120
    assert plain.time[0].startswith("About 2 h of work")
    # What a part costs takes no time.
    assert plain.time == dear.time == dearer.time
    assert dear.price is not None and dearer.price is not None
    assert_allclose(amount(dear.price), minutes * 10 + 100, rtol=0.05)
    assert_allclose(amount(dearer.price), minutes * 10 + 9000, rtol=0.05)
    assert "An estimate, not an offer" in dear.price


def amount(price: str) -> float:
    found = re.match(r"About (\d+) kr with the parts", price)
    assert found is not None
    return float(found[1])


def test_what_is_done_to_prove_it_dry() -> None:
    told = told_of(loaded_job(WET), "cover_gasket", proof=True).proposal
    assert told is not None
    said = " ".join(told.prove)
    assert said.index("washed") < said.index("run as it is used") < said.index("looked at")
    assert re.search(r"for \d+ minutes, warm\. Then \d places are", said)
    assert re.search(r"what was renewed is tight: about \d+ in \d+ \(\d\d %\)", said)
    general = told_of(loaded_job(WET), "cover_gasket").proposal
    assert general is not None and "until it is warm" in " ".join(general.prove)


def test_many_joints_are_all_named() -> None:
    loaded, made, _ = shipped("rear_of_engine_wet")
    many = replace(
        made, joints=tuple(replace(made.joints[0], name=f"Joint {n}") for n in range(SHOWN + 3))
    )
    found = proposal_of(loaded, many, PRIORS)
    assert len(found.joints) == SHOWN
    assert found.also is not None and found.also.endswith("Joint 8; Joint 9; Joint 10.")


def test_nothing_to_renew_is_said() -> None:
    dry = [DRY | {"zone": z} for z in ("side", "foot", "rear")]
    told = told_of(loaded_job(*dry))
    assert told.proposal is None
    said = " ".join(told.in_short)
    assert "Most likely nothing leaks now" in said
    assert "We do not propose to renew anything now" in said
    assert "No place is wet." not in said.replace("No place is wet. Most", "")


def test_nothing_looked_at_is_said() -> None:
    told = told_of(loaded_job(), "plug")
    assert "Nothing has been looked at yet" in told.in_short[0]
    assert told.looked == "Nothing was looked at and entered."


def test_an_origin_off_the_list_is_told_where_it_is_the_likeliest() -> None:
    loaded = loaded_job(WET)
    ranking, _ = known_of(loaded)
    other = replace(ranking, not_listed=0.99)
    told = customer_sheet(loaded, other, sheet_for(loaded, "plug"), PRIORS)
    assert "one that is not on our list: about 99 in 100" in told.in_short[0]


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        (FluidKind.GEAR_OIL, ()),
        (FluidKind.BRAKE_FLUID, (BRAKES,)),
        (FluidKind.PETROL, (FUEL, SKIN)),
        (FluidKind.DIESEL_FUEL, (FUEL, SKIN)),
        (FluidKind.HYDRAULIC_OIL, (SKIN,)),
        (FluidKind.COOLANT, (COOLANT,)),
    ],
)
def test_cautions_go_with_the_fluid(kind: FluidKind, told: tuple[str, ...]) -> None:
    oil = MADE.fluids[0].model_copy(update={"kind": kind})
    machine = MADE.model_copy(update={"fluids": (oil, MADE.fluids[1])})
    found = watching(machine, [oil.id])
    assert found[0] == GROUND and STOP in found
    assert f"cold and on level ground: {kind.value.replace('_', ' ')}." in found[1]
    assert set(found) - {GROUND, STOP, found[1]} == set(told)
    assert not set(watching(machine, ["water"])) & {BRAKES, FUEL, SKIN, COOLANT}
