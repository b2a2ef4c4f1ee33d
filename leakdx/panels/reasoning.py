"""The reasons for a ranking as far as they are there at once, before the numbers are drawn anew.

``reasons.account.account_of`` gives all of it together; the page is not to wait for that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from leakdx.advice.ranking import leak_sets, ranked_seals
from leakdx.advice.solving import Solved
from leakdx.case.read import LoadedJob
from leakdx.priors.model import Priors
from leakdx.reasons.account import Candidate
from leakdx.reasons.against import against, change_sentence, doubt_sentence, smallest_change
from leakdx.reasons.conflict import job_conflict
from leakdx.reasons.rivals import Rivals, rivals_of
from leakdx.reasons.route import routes_of
from leakdx.reasons.route import sentence_of as route_sentence
from leakdx.reasons.together import together_of
from leakdx.reasons.weights import Weights, job_weights, job_words, sentence_of


@dataclass(frozen=True, eq=False)
class Reasons:
    """What is told of one seal point; fields as in ``Account``, but for texts alone.

    candidate: the one asked for, or the likeliest.  routes: the likeliest first.
    """

    candidate: Candidate
    weights: Weights
    words: Mapping[str, str]
    doubts: tuple[str, ...]
    conflict: tuple[str, ...]
    rivals: Rivals
    together: tuple[str, ...]
    routes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Question:
    """A solved job and the seal point that is asked about; None for the likeliest."""

    loaded: LoadedJob
    solved: Solved
    priors: Priors
    seal: str | None = None


def reasons_of(question: Question, step: Callable[[], None]) -> Reasons:
    """step: called before each stage of ``account.STAGES`` from the second to the sixth."""
    solved, priors, machine = question.solved, question.priors, question.loaded.machine
    ranked = ranked_seals(question.loaded, solved)
    names = {s.id: s.name or s.id.replace("_", " ") for s in machine.seal_points}
    names |= {z.id: z.name or z.id.replace("_", " ") for z in machine.zones}
    step()
    weights, words = job_weights(solved), job_words(solved)
    first = next(r for r in ranked if question.seal in (None, r.seal_point))
    sentence = sentence_of(weights, first.seal_point, first.name, words)
    step()
    doubted, change = against(solved, weights, priors), smallest_change(solved, weights)
    said = {**names, **words}
    doubts = (doubt_sentence(doubted, weights, said), change_sentence(change, weights, said))
    step()
    conflict, rivals = job_conflict(solved), rivals_of(solved, priors)
    step()
    together = together_of(solved, leak_sets(solved)[0])
    step()
    routes = routes_of(solved, first.seal_point)
    return Reasons(
        candidate=Candidate(first.seal_point, first.name, first.leaks, sentence),
        weights=weights,
        words=words,
        doubts=tuple(dict.fromkeys(doubts)),
        conflict=conflict.sentences,
        rivals=rivals,
        together=together.sentences,
        routes=tuple(route_sentence(r, names) for r in routes),
    )
