"""What the owner is told after a repair: what was renewed and checked, and how sure it is dry."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from numpy.testing import assert_allclose

from leakdx.advice.cure import Again, Cure
from leakdx.report.chances import in_words
from leakdx.report.customer import CustomerSheet, customer_sheet, was_repaired
from leakdx.report.pages import customer_page
from leakdx.report.repaired import Held, Repaired, last_renewal, repaired_of
from tests.advice.repaired import PRIORS
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

CURED = loaded_job(WET, RENEW, WASH, RUN, DRY)


def cured(*timeline: dict[str, Any]) -> tuple[CustomerSheet, Repaired, Cure]:
    loaded = loaded_job(*timeline)
    ranking, cure = known_of(loaded)
    assert cure is not None
    told = customer_sheet(loaded, ranking, sheet_for(loaded), PRIORS, cure)
    assert told.done is not None
    return told, told.done, cure


def test_what_was_renewed_and_checked_is_told() -> None:
    _, done, _ = cured(WET, RENEW, WASH, RUN, DRY)
    [place] = done.renewed
    assert place.name == "Plain cover gasket"
    assert place.how == "new part; seen all round before it was tightened; faces clean and dry"
    _, plain, _ = cured(WET, {"renew": "plug", "how": "refitted"}, WASH)
    assert plain.renewed[0].how == "the same part put back; no checks are noted"


def test_a_gasket_is_told_once_and_only_with_what_was_checked_all_along_it() -> None:
    done = shipped("rear_of_engine_renewed")[2].done
    assert done is not None
    assert [p.name for p in done.renewed] == ["Head cover gasket", "Vacuum pump flange ring"]


def test_how_sure_it_is_dry_is_what_cure_says() -> None:
    told, done, cure = cured(WET, RENEW, WASH, RUN, DRY)
    assert cure.holds is not None
    assert_allclose(done.dry, cure.dry)
    assert [h.chance for h in done.held] == [j.now for j in cure.joints]
    assert done.sure == (f"That nothing at all leaks now: {in_words(cure.dry)}.",)
    assert told.in_short[0] == (
        f"It was repaired. What was renewed is tight: {in_words(cure.holds)}."
    )
    shown = PageRead(customer_page(told)).shown
    for title in ("What was renewed", "What was checked since", "How sure it is dry now"):
        assert title in shown


def test_what_was_found_before_and_since_is_kept_apart() -> None:
    told, done, _ = cured(WET, RENEW, WASH, RUN, DRY, {"zone": "foot", "state": "dry"})
    assert [p.name for p in told.found.wet] == ["Plain side"]
    assert done.found.dry == ("Plain side", "Plain foot")
    assert done.since == (
        "It was washed.",
        "It was run for 60 minutes.",
        "Looked at and dry: 2. Wet: none.",
    )
    _, bare, _ = cured(WET, RENEW)
    assert "not been washed" in bare.since[0]
    assert bare.since[1:] == ("No run is noted.", "Nothing has been looked at since.")


def test_wet_without_a_wash_does_not_judge_the_repair() -> None:
    told, done, _ = cured(WET, RENEW, WET)
    assert "not washed in between" in told.in_short[0]
    assert done.since[-1] == "Looked at and dry: 0. Wet: 1."
    # What was wet before the wash is no longer.
    told, done, _ = cured(WET, RENEW, WET, WASH)
    assert "not washed in between" not in told.in_short[0]
    assert done.since[-1] == "Looked at and dry: 0. Wet: none."


def test_wet_again_says_whether_it_is_the_same_joint() -> None:
    ranking, cure = known_of(CURED)
    assert cure is not None
    same = Again(("x",), 0.8, 0.1, 0.001, ranking.rows)
    said = repaired_of(CURED, replace(cure, again=same, dry=0.1)).in_short[0]
    assert "Most likely it is what was renewed: about 4 in 5 (80 %)" in said
    assert "first of all Plain cover gasket" in said
    another = replace(same, same=0.1, another=0.8)
    said = repaired_of(CURED, replace(cure, again=another, dry=0.1)).in_short[0]
    likely = next(r for r in ranking.rows if r.seal_point != "cover_gasket")
    assert "another place leaks: about 4 in 5 (80 %)" in said and likely.name in said
    unlisted = replace(another, not_listed=0.9)
    said = repaired_of(CURED, replace(cure, again=unlisted, dry=0.1)).in_short[0]
    assert "not on our list" in said
    spilled = repaired_of(CURED, replace(cure, again=same, dry=0.9)).in_short[0]
    assert "most likely nothing leaks" in spilled


def test_joints_that_were_only_worked_on_are_not_called_renewed() -> None:
    worked = {"context": "recent_work", "seal_point": "plug"}
    told, done, cure = cured(WET, RENEW, worked, WASH, RUN, DRY)
    assert cure.holds is not None
    assert [p.name for p in done.renewed] == ["Plain cover gasket"]
    assert "Plain plug" in [h.name for h in done.held]
    what = "hat was renewed or worked on is tight:"
    assert told.in_short[0] == f"It was repaired. W{what} {in_words(cure.holds)}."
    assert done.sure[1] == f"That all of w{what} {in_words(cure.holds)}."


def test_what_would_make_it_surer_is_told() -> None:
    _, done, cure = cured(WET, RENEW, WASH, RUN)
    assert cure.proof is not None
    [said] = done.surer
    assert "run warm for" in said and "what was renewed is tight: about 99 in 100" in said
    _, cure = known_of(CURED)
    assert cure is not None
    assert "needs no further run" in repaired_of(CURED, cure).surer[0]
    assert "is washed and looked at" in repaired_of(CURED, replace(cure, washed=False)).surer[0]
    assert repaired_of(CURED, replace(cure, proof=None)).surer == ()


def test_the_least_sure_are_told_first_and_not_too_many() -> None:
    held = tuple(Held(f"Joint {n}", 0.9 - n / 100) for n in range(9))
    done = told_of(CURED).done
    assert done is not None
    many = replace(done, held=held, renewed=done.renewed * 11)
    assert [h.name for h in many.least] == [f"Joint {n}" for n in range(8, 2, -1)]
    assert len(many.shown) == 8
    assert many.also is not None and many.also.count("Plain cover gasket") == 3


def test_a_renewal_that_was_withdrawn_is_none() -> None:
    gone = loaded_job(WET, RENEW, {"withdraw": 2})
    assert not was_repaired(gone.job)
    assert last_renewal(gone.job) is None
    assert told_of(gone, "plug").done is None


def test_what_is_missing_is_told() -> None:
    ranking, cure = known_of(CURED)
    assert cure is not None
    with pytest.raises(ValueError, match="its cure is needed"):
        customer_sheet(CURED, ranking, sheet_for(CURED), PRIORS)
    with pytest.raises(ValueError, match="no renewal"):
        repaired_of(loaded_job(WET), cure)


def test_a_new_proposal_after_a_repair_is_told_too() -> None:
    loaded = loaded_job(WET, RENEW, WASH, RUN, WET)
    told = told_of(loaded, "plug")
    assert told.done is not None and told.proposal is not None
    shown = PageRead(customer_page(told)).shown
    assert "What we propose to renew now" in shown
