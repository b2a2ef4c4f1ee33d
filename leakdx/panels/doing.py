"""What each errand does, stage by stage, in the worker process.

What is heavy is imported where it is used, so that the process listens before it imports.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Literal

from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose
from leakdx.panels.messages import Do, Errand, Post

if TYPE_CHECKING:
    from leakdx.advice.ranking import Ranking
    from leakdx.advice.sheet import Sheet
    from leakdx.panels.latest import Latest

# In the words of the commands.
FOLLOWING, LISTING = "following the fluid", "listing what leaks together"
READYING, WEIGHING = "making ready for each look", "weighing them"
DRAWING, SHEET = "drawing the numbers anew", "putting the sheet together"
PICTURE = "drawing the way of the fluid"
# Steps of the bar for trying each number by itself, however many numbers there are.
TRIES = 12


class Stages:
    """Tells the next of some stages at each call; the last as often as it is called."""

    def __init__(self, post: Post, names: Sequence[str]) -> None:
        self._post, self._names, self._next = post, names, 0

    def __call__(self) -> None:
        """Raises Dropped where nobody waits for the rest."""
        place = min(self._next, len(self._names) - 1)
        self._next = place + 1
        self._post.running(self._names[place], place, len(self._names))

    def through(self, name: str, calls: int) -> Callable[[], None]:
        """What, called so many times, goes through all stages of that name."""
        first, count = self._names.index(name), self._names.count(name)
        turns = iter(range(calls))

        def step() -> None:
            self._next = first + next(turns, calls - 1) * count // calls
            self()

        return step


def doing() -> Do:
    """What does errands, one after another; it keeps what was worked out last for the next."""
    from leakdx.panels.latest import Latest

    return partial(do, Latest())


def do(latest: Latest, errand: Errand, post: Post) -> None:
    """Do an errand.

    Raises FaultyInput where the job cannot be worked out, with the reasons; Dropped where nobody
    waits for the rest.
    """
    if errand.name not in ERRANDS:
        raise FaultyInput([_unknown("errand", errand.name, ERRANDS)])
    ERRANDS[errand.name](latest, errand, post)


def _settle(latest: Latest, errand: Errand, post: Post) -> None:
    """The ranking, the next look and how firm it all is, each told as soon as it is there."""
    from leakdx.advice.leaning import Full
    from leakdx.advice.next_look import next_of
    from leakdx.advice.ranking import leak_sets
    from leakdx.panels.answers_next import next_answer, no_next
    from leakdx.panels.answers_ranking import firm_answer, ranking_answer
    from leakdx.panels.names import Names
    from leakdx.panels.trouble import trouble_of
    from leakdx.reasons.account import DRAWS
    from leakdx.reasons.firmness import FLOW_DRAWS, firmness

    loaded, head, machine = errand.loaded, errand.head, errand.loaded.machine
    step = Stages(post, [FOLLOWING, LISTING, READYING, WEIGHING, *FLOW_DRAWS * [DRAWING]])
    step()
    solved = latest.solved(loaded)
    # Listing what leaks together takes as long again, so the rest is told first.
    ranking = ranking_without_sets(latest, errand)
    post.answer("ranking", ranking_answer(ranking, head, fine=True))
    post.answer("full", Full(loaded, ranking))
    step()
    sets, proven = leak_sets(solved)
    ranking = replace(ranking, sets=sets, sets_proven=proven)
    post.answer("ranking", ranking_answer(ranking, head, fine=True))
    try:
        step()
        weigher = latest.weigher(loaded)
        step()
        found = next_of(weigher, solved)
    except FaultyInput as error:
        # The ranking holds where looking ahead would make the sums too large.
        post.answer("next", no_next(head, trouble_of(error, machine)))
    else:
        post.answer("next", next_answer(found, loaded, head))
    anew = step.through(DRAWING, FLOW_DRAWS + 1)
    anew()
    firm = firmness(loaded, solved, latest.priors, DRAWS, step=anew)
    post.answer("firm", firm_answer(firm, Names(machine).seals, head))


def ranking_without_sets(latest: Latest, errand: Errand) -> Ranking:
    """The ranking of a job as ``ranking_of`` has it, but for what leaks together."""
    import numpy as np

    from leakdx.advice.ranking import Ranking, not_these, ranked_seals
    from leakdx.advice.why import why_of
    from leakdx.advice.words import next_step, notes_of

    loaded, solved = errand.loaded, latest.solved(errand.loaded)
    rows = ranked_seals(loaded, solved)
    none, not_listed, nothing = not_these(solved, latest.priors)
    return Ranking(
        job=loaded.job.id,
        machine=loaded.machine.id,
        title=loaded.job.name or loaded.job.id,
        rows=rows,
        sets=(),
        sets_proven=True,
        none_leaks=none,
        not_listed=not_listed,
        nothing_leaks=nothing,
        log_evidence=float(np.asarray(solved.beliefs.log_evidence)),
        readings=len(solved.asked.readings),
        why=why_of(loaded.machine, solved, {r.seal_point: r.leaks for r in rows}),
        notes=notes_of(loaded, solved),
        next_step=next_step(loaded, solved, [r.seal_point for r in rows], nothing),
    )


def _ready(latest: Latest, errand: Errand, post: Post) -> None:
    """What ranks at once from here on; as long as only readings are added, it fits."""
    from leakdx.advice.swift import Swift

    Stages(post, ["making ready to rank at once"])()
    post.answer("ready", Swift.of(errand.loaded, latest.priors))


def _next(latest: Latest, errand: Errand, post: Post) -> None:
    """The next look, with two seal points of one's own to be told apart."""
    from leakdx.advice.chances import leaks_of
    from leakdx.advice.next_look import check_pair, next_of
    from leakdx.panels.answers_next import next_answer

    loaded = errand.loaded
    pair = errand.pair
    check_pair(loaded.machine, pair)
    _check_seal(errand)
    step = Stages(post, [FOLLOWING, READYING, WEIGHING])
    step()
    solved = latest.solved(loaded)
    if pair is None and errand.seal is not None:
        leaks = leaks_of(solved)
        others = [s for s in sorted(leaks, key=lambda s: -leaks[s]) if s != errand.seal]
        # From the likeliest other one; there may be none.
        pair = (others[0], errand.seal) if others else None
    step()
    weigher = latest.weigher(loaded)
    step()
    post.answer("next", next_answer(next_of(weigher, solved, pair=pair), loaded, errand.head))


def _ahead(latest: Latest, errand: Errand, post: Post) -> None:
    from leakdx.advice.lookahead import FIRSTS
    from leakdx.advice.next_look import next_of
    from leakdx.panels.answers_ahead import ahead_answer

    loaded = errand.loaded
    firsts = [f"looking two looks ahead, {k + 1} of {FIRSTS}" for k in range(FIRSTS)]
    step = Stages(post, [FOLLOWING, READYING, WEIGHING, *firsts])
    step()
    solved = latest.solved(loaded)
    step()
    weigher = latest.weigher(loaded)
    step()
    post.answer("ahead", ahead_answer(next_of(weigher, solved, step), loaded, errand.head))


def _why(latest: Latest, errand: Errand, post: Post) -> None:
    """The reasons, then how firm they are, then which numbers matter: told as they come."""
    from leakdx.panels.answers_why import Told, why_answer
    from leakdx.panels.names import Names
    from leakdx.panels.reasoning import Question, reasons_of
    from leakdx.reasons.account import DRAWS, STAGES
    from leakdx.reasons.draws import redrawn
    from leakdx.reasons.firmness import FLOW_DRAWS, firmness
    from leakdx.reasons.swings import swings

    loaded, head, priors = errand.loaded, errand.head, latest.priors
    names = Names(loaded.machine)
    _check_seal(errand)
    *reasoning, drawing, trying = STAGES
    step = Stages(post, [*reasoning, PICTURE, *FLOW_DRAWS * [drawing], *TRIES * [trying]])
    step()
    solved = latest.solved(loaded)
    reasons = reasons_of(Question(loaded, solved, priors, errand.seal), step)
    step()
    told = Told(reasons, _picture(latest, errand, reasons.candidate.seal_point))
    post.answer("why", why_answer(told, names, head))
    anew = step.through(drawing, FLOW_DRAWS + 1)
    anew()
    told = replace(told, firm=firmness(loaded, solved, priors, DRAWS, step=anew))
    post.answer("why", why_answer(told, names, head))
    each = step.through(trying, len(redrawn(loaded, solved, priors).flow) + 1)
    each()
    found = swings(loaded, solved, priors, reasons.candidate.seal_point, each)
    post.answer("why", why_answer(replace(told, swings=found), names, head))


def _cure(latest: Latest, errand: Errand, post: Post) -> None:
    from leakdx.advice.cure import STAGES, cure_of
    from leakdx.panels.answers_cure import cure_answer

    loaded = errand.loaded
    step = Stages(post, STAGES)
    step()
    found = cure_of(loaded, latest.solved(loaded), latest.priors, step)
    post.answer("cure", cure_answer(found, loaded.machine, errand.head))


def _sheet(latest: Latest, errand: Errand, post: Post) -> None:
    from leakdx.advice.sheet_plan import seals_asked_for
    from leakdx.advice.sheet_proof import PROOF_STAGES, with_proof
    from leakdx.panels.answers_sheet import sheet_answer

    loaded = errand.loaded
    which: Literal["job", "customer"] = "customer" if errand.which == "customer" else "job"
    renew = seals_asked_for(loaded.machine, errand.renew)
    step = Stages(post, [FOLLOWING, SHEET, *PROOF_STAGES])
    step()
    latest.solved(loaded)
    step()
    sheet = latest.sheet(loaded, renew)
    if sheet.proof is None:
        sheet = with_proof(sheet, loaded, latest.priors, step)
        latest.keep(renew, sheet)
    page = _owners_page if which == "customer" else _job_page
    html = page(latest, errand, sheet)
    post.answer("sheet", sheet_answer(html, loaded.job, which, errand.head))


def _job_page(latest: Latest, errand: Errand, sheet: Sheet) -> str:
    from leakdx.report.pages import job_sheet_page

    drawn = sheet.renew[0].seal_point if sheet.renew else None
    picture = None if drawn is None else _picture(latest, errand, drawn)
    return job_sheet_page(sheet, picture)


def _owners_page(latest: Latest, errand: Errand, sheet: Sheet) -> str:
    from leakdx.advice.cure import cure_of, repair_of
    from leakdx.report.customer import customer_sheet
    from leakdx.report.pages import customer_page

    loaded, priors = errand.loaded, latest.priors
    cured = None
    if repair_of(loaded.job).seals:
        cured = cure_of(loaded, latest.solved(loaded), priors)
    ranking = ranking_without_sets(latest, errand)
    return customer_page(customer_sheet(loaded, ranking, sheet, priors, cured))


def _picture(latest: Latest, errand: Errand, seal: str) -> str | None:
    """The likeliest ways of the fluid from a seal point; None where none leads to what is wet."""
    from leakdx.reasons.picture import picture_of

    try:
        return picture_of(latest.solved(errand.loaded), seal)
    except FaultyInput:
        return None


def _check_seal(errand: Errand) -> None:
    """Raises FaultyInput for a seal point that the machine does not have."""
    known = [s.id for s in errand.loaded.machine.seal_points]
    if errand.seal is not None and errand.seal not in known:
        raise FaultyInput([_unknown("seal point", errand.seal, known)])


def _unknown(what: str, name: str, known: Iterable[str]) -> Fault:
    return Fault("", None, "", f"there is no {what} '{name}'", choose(name, known, what=what))


ERRANDS: Mapping[str, Callable[[Latest, Errand, Post], None]] = {
    "settle": _settle,
    "ready": _ready,
    "next": _next,
    "ahead": _ahead,
    "why": _why,
    "cure": _cure,
    "sheet": _sheet,
}
