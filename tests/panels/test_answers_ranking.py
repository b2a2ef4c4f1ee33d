"""The ranking and its firmness as the page is told them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leakdx.advice.ranking import rank_job
from leakdx.advice.words import percent
from leakdx.case.read import load_shipped_job
from leakdx.panels.answers_ranking import no_ranking, ranking_answer
from leakdx.panels.doing import ranking_without_sets
from leakdx.panels.latest import Latest
from leakdx.panels.messages import Errand
from leakdx.panels.shapes import FirmAnswer, RankingAnswer
from leakdx.priors.read import shipped_priors
from leakdx.reasons.firmness import firmness
from tests.panels.posted import SHIPPED, WET_FOOT, on_stand, posted, shipped
from tests.panels.shaped import misshapen

RANKED = rank_job(WET_FOOT)
POSTED = posted(Errand("settle", 7, WET_FOOT))


def test_the_rows_come_first_and_then_the_same_rows_with_what_leaks_together() -> None:
    first, second = (answer for part, answer in POSTED.answers if part == "ranking")
    assert first["sets"] == []
    assert second["sets"]
    assert {**second, "sets": []} == first


def test_the_fine_ranking_is_that_of_the_command() -> None:
    answer = POSTED.last("ranking")
    assert answer == ranking_answer(RANKED, 7, fine=True)
    assert [(r["seal"], r["leaks"]) for r in answer["rows"]] == [
        (r.seal_point, r.leaks) for r in RANKED.rows
    ]
    assert [(o["chance"], o["text"]) for o in answer["others"]] == [
        (p, percent(p)) for p in (RANKED.none_leaks, RANKED.not_listed, RANKED.nothing_leaks)
    ]
    assert answer["notes"] == list(RANKED.notes)


def test_without_sets_all_else_is_as_ranking_of_has_it() -> None:
    latest = Latest()
    found = ranking_without_sets(latest, Errand("settle", 1, WET_FOOT))
    document = RANKED.to_json_dict() | {"sets": [], "sets_proven": True}
    assert found.to_json_dict() == document


def test_a_set_that_is_empty_says_so_and_names_stand_for_ids() -> None:
    sets = POSTED.last("ranking")["sets"]
    assert ["none of them"] in [s["names"] for s in sets]
    assert ["cover gasket"] in [s["names"] for s in sets]


def test_a_search_cut_short_is_said() -> None:
    answer = ranking_answer(replace(RANKED, sets_proven=False), 1, fine=True)
    assert "cut short" in answer["notes"][-1]


def test_the_step_sends_to_the_page_and_not_to_a_command() -> None:
    ranking = replace(RANKED, next_step="Which pays most for its minutes, 'leakdx next' says.")
    said = ranking_answer(ranking, 1, fine=False)["step"]
    assert said == "Which pays most for its minutes, the next look says."


def test_readings_that_cannot_be_ranked_have_a_shape_too() -> None:
    answer = no_ranking(3, {"said": "These cannot all be so.", "details": ""})
    assert misshapen(answer, RankingAnswer) == []
    assert answer["fault"] is not None


def test_the_interval_is_what_nine_in_ten_draws_lie_between() -> None:
    latest = Latest()
    firm = firmness(WET_FOOT, latest.solved(WET_FOOT), shipped_priors())
    answer = POSTED.last("firm")
    assert [(s["seal"], s["low"], s["high"]) for s in answer["seals"]] == [
        (seal, float(low), float(high))
        for seal, low, high in zip(firm.seals, firm.low, firm.high, strict=True)
    ]
    assert all(s["low"] < s["high"] for s in answer["seals"])
    assert "of 500 draws of them, 90 in a hundred give a chance between" in answer["said"]
    assert answer["said"].endswith(" ".join(firm.sentences))
    assert answer["seals"][0]["said"] == (
        f"{percent(float(firm.low[0]))} to {percent(float(firm.high[0]))}"
    )


def test_a_job_without_a_reading_is_ranked_too() -> None:
    post = posted(Errand("settle", 2, on_stand()))
    assert [part for part, _ in post.answers] == ["ranking", "full", "ranking", "next", "firm"]
    first, full = post.answers[0][1], post.last("full")
    assert full.loaded == on_stand()
    assert [r.leaks for r in full.ranking.rows] == [r["leaks"] for r in first["rows"]]
    assert misshapen(post.last("ranking"), RankingAnswer) == []
    assert misshapen(post.last("firm"), FirmAnswer) == []
    assert post.last("ranking")["step"].startswith("Next: look, from the highest")


@pytest.mark.long
@pytest.mark.parametrize("job", SHIPPED)
def test_the_shapes_hold_for_the_shipped_jobs(job: str) -> None:
    post = shipped(job, "settle")
    for part, answer in post.answers:
        if part == "ranking":
            assert misshapen(answer, RankingAnswer) == []
    assert misshapen(post.last("firm"), FirmAnswer) == []
    ids = [s.id for s in load_shipped_job(job).machine.seal_points]
    assert sorted(r["seal"] for r in post.last("ranking")["rows"]) == sorted(ids)
    assert [s["seal"] for s in post.last("firm")["seals"]] == ids
