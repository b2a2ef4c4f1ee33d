"""Readings of effects that a compiled network leaves out, as sums of ordinary evidence.

Nothing hangs on such an effect (a sign, a tray, "wet with any fluid"), yet as a variable it
would tie all its parents together.  That it stays below a level is a product with one factor
for each parent, so what is seen of it is a weighted sum of such products: exact, with no
variable, at the cost of a batch column for each product.  Several readings multiply.

Source: the cumulative tables of Diez & Galan, "Efficient computation for the noisy MAX",
Int. J. Intelligent Systems 18, 2003; here they stay outside the network.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from math import log, prod

import numpy as np

from leakdx.belief.evidence import Evidence, ImpossibleEvidence, combine
from leakdx.belief.tree import Beliefs, JunctionTree
from leakdx.network.noisymax import combine as larger
from leakdx.network.tables import Array, Maximum

# Least chance that is told from none.
TINY = 1e-300
# A sum that comes out as so small a part of its terms has lost its digits.
LOST = 1e-11


@dataclass(frozen=True, eq=False)
class Term:
    """A number times a product of likelihoods, by variable, each (size,)."""

    weight: float
    likelihoods: Mapping[str, Array]


@dataclass(frozen=True, eq=False)
class Weighed:
    """Evidence as a weighted sum: a batch column for each term, and the weights.

    weights: (B,), of either sign.  evidence: with B columns, or, where B is 1, perhaps with no
    batch axis.  rest: likelihoods of effects that would have taken too many columns.  rough:
    labels of the readings of those.
    """

    evidence: Evidence
    weights: Array
    rest: Mapping[str, Array] = field(default_factory=dict)
    rough: tuple[str, ...] = ()


def terms_of(likelihood: Array, effect: Maximum) -> tuple[Term, ...]:
    """A likelihood of an effect's level, (levels,), as a sum of products over its parents."""
    steps = likelihood - np.append(likelihood[1:], 0.0)
    weights = steps * np.cumsum(effect.background)
    last = len(likelihood) - 1
    found = [Term(float(weights[last]), {})]
    for level in range(last):
        factors: dict[str, Array] = {}
        for influence in effect.influences:
            below = influence.table[: level + 1].sum(axis=0)
            factors[influence.parent] = factors.get(influence.parent, 1.0) * below
        found.append(Term(float(weights[level]), factors))
    return tuple(t for t in found if t.weight != 0)


def without(effect: Maximum, parents: Mapping[str, Maximum]) -> Maximum:
    """An effect with the parents that it merely repeats replaced by what raises those.

    parents: effects that may be replaced.  A parent that it does not merely repeat stays.
    """
    background, influences = effect.background, []
    for influence in effect.influences:
        inner = parents.get(influence.parent)
        same = np.array_equal(influence.table, np.eye(len(background)))
        if inner is None or not same:
            influences.append(influence)
            continue
        background = larger(background, inner.background)
        influences += inner.influences
    return Maximum(effect.child, background, tuple(influences))


def weighed(readings: Mapping[str, Evidence], apart: Mapping[str, Maximum], most: int) -> Weighed:
    """All readings together, those of the effects ``apart`` as sums of at most ``most`` terms.

    Those that take the fewest terms go first; what would take more is the ``rest``.
    Raises EvidenceError for readings whose likelihoods contradict beyond the range of doubles.
    """
    plain: list[Evidence] = []
    sums: dict[str, Array] = {}
    for evidence in readings.values():
        for name in evidence.keys() & apart.keys():
            sums[name] = sums[name] * evidence[name] if name in sums else evidence[name]
        there = {n: a for n, a in evidence.items() if n not in apart}
        plain.append(Evidence(there, evidence.log_scale))
    exact: list[tuple[Term, ...]] = []
    rest: dict[str, Array] = {}
    columns = 1
    constant = 0.0
    for name in sorted(sums, key=lambda n: len(sums[n])):
        if not apart[name].influences:
            # Nothing brings it about, so it says nothing of anything.
            constant += log(max(float(sums[name] @ apart[name].background), TINY))
            continue
        terms = terms_of(sums[name], apart[name])
        if columns * len(terms) > most:
            rest[name] = sums[name]
        else:
            columns *= len(terms)
            exact.append(terms)
    rough = tuple(label for label, e in readings.items() if e.keys() & rest.keys())
    known = combine([*plain, Evidence({}, constant)])
    if not exact:
        return Weighed(known, np.ones(1), rest, rough)
    summed, weights = _side_by_side(list(product(*exact)))
    return Weighed(combine([known, summed]), weights, rest, rough)


def with_rest(
    tree: JunctionTree, known: Weighed, apart: Mapping[str, Maximum], rounds: int
) -> Weighed:
    """The sum with its rest as one likelihood for each parent, roughly.

    Each parent is told what an effect says of it while the effect's other parents are as all
    else has them, one independent of the other; an update of the tree for each effect and round.
    Exact where only one effect is left and its parents are independent given all else.
    Raises ImpossibleEvidence where nothing is left.
    """
    if not known.rest:
        return known
    told: dict[tuple[str, str], Array] = {}
    chances: dict[str, float] = {}
    # A single one has no other to hear of.
    for name in list(known.rest) * (rounds if len(known.rest) > 1 else 1):
        effect = apart[name]
        parents = tuple(dict.fromkeys(effect.parents))
        # One after the other: two that would each be told of as if alone might both be blamed
        # on what explains neither.
        beliefs = beliefs_of(tree, _and_told(known, told), parents)
        others = {p: _less(beliefs[p], told.get((name, p))) for p in parents}
        new, chance = _told(known.rest[name], effect, others)
        if chance <= 0:
            raise ImpossibleEvidence((name, *parents), ())
        told |= {(name, p): a for p, a in new.items()}
        # The chance of the effect is told to each parent, and counts once.
        chances[name] = (1 - len(new)) * float(np.log(chance))
    made = _and_told(known, told)
    scale = made.evidence.log_scale + sum(chances.values())
    return replace(known, evidence=Evidence(made.evidence.likelihoods, scale))


def _and_told(known: Weighed, told: Mapping[tuple[str, str], Array]) -> Weighed:
    more = [Evidence({parent: a}) for (_, parent), a in told.items()]
    return replace(known, evidence=combine([known.evidence, *more]))


def _less(belief: Array, told: Array | None) -> Array:
    """A marginal without what an effect told, summing to one."""
    if told is None:
        return belief
    found = np.where(told > 0, belief / np.where(told > 0, told, 1.0), 0.0)
    return np.asarray(found / found.sum())


def _told(
    likelihood: Array, effect: Maximum, others: Mapping[str, Array]
) -> tuple[dict[str, Array], float]:
    """What an effect says of each parent, (size,), and its chance; ``others``: marginals."""
    terms = terms_of(likelihood, effect)
    found = {parent: np.zeros(len(marginal)) for parent, marginal in others.items()}
    chance = 0.0
    for term in terms:
        each = {p: float(a @ others[p]) for p, a in term.likelihoods.items()}
        chance += term.weight * prod(each.values())
        for parent in found:
            besides = prod(v for p, v in each.items() if p != parent)
            found[parent] += term.weight * besides * term.likelihoods.get(parent, 1.0)
    # Rounding alone makes them negative.
    return {p: np.maximum(a, 0.0) for p, a in found.items()}, chance


def _side_by_side(products: Sequence[Sequence[Term]]) -> tuple[Evidence, Array]:
    """One batch column for each product of terms, and the weights of the products."""
    columns: dict[str, Array] = {}
    weights = np.ones(len(products))
    for b, terms in enumerate(products):
        for term in terms:
            weights[b] *= term.weight
            for name, likelihood in term.likelihoods.items():
                table = columns.setdefault(name, np.ones((len(likelihood), len(products))))
                table[:, b] *= likelihood
    # Where nothing hangs on the columns they are still as many.
    return Evidence(columns, np.zeros(len(products))), weights


def beliefs_of(tree: JunctionTree, known: Weighed, only: Sequence[str]) -> Beliefs:
    """Posterior marginals of the variables ``only``, as JunctionTree.update without a batch.

    Raises ImpossibleEvidence where the sum is nothing, as far as doubles can tell.
    """
    try:
        each = tree.update(known.evidence, only)
    except ImpossibleEvidence as error:
        rest = _without_columns(known, error.columns)
        if rest is None:
            raise
        return beliefs_of(tree, rest, only)
    if known.evidence.batch is None:
        return each
    logs = np.asarray(each.log_evidence)
    log, shares = total(logs, known.weights, tuple(known.evidence))
    rows: dict[str, slice] = {}
    parts: list[Array] = []
    start = 0
    for name in each:
        part = np.clip(each[name] @ shares, 0.0, 1.0)
        parts.append(part / part.sum())
        rows[name] = slice(start, start + len(part))
        start += len(part)
    return Beliefs(log, np.concatenate(parts), rows)


def _without_columns(known: Weighed, columns: Sequence[int]) -> Weighed | None:
    """The sum without terms that are nothing; None where none is left."""
    if known.evidence.batch is None or len(columns) >= len(known.weights):
        return None
    keep = np.setdiff1d(np.arange(len(known.weights)), columns)
    cut = {n: a if a.ndim == 1 else a[:, keep] for n, a in known.evidence.items()}
    scale = known.evidence.log_scale
    log = scale[keep] if isinstance(scale, np.ndarray) and scale.ndim else scale
    return replace(known, evidence=Evidence(cut, log), weights=known.weights[keep])


def total(logs: Array, weights: Array, names: tuple[str, ...]) -> tuple[float, Array]:
    """Log of the weighted sum of exp(logs), and the share of each term in it; (B,) both.

    Raises ImpossibleEvidence, about ``names``, where the sum is nothing.
    """
    sizes = logs + np.log(np.abs(weights))
    top = float(sizes.max())
    if np.isneginf(top):
        raise ImpossibleEvidence(names, ())
    terms = np.sign(weights) * np.exp(sizes - top)
    whole = float(terms.sum())
    if whole <= LOST:
        raise ImpossibleEvidence(names, ())
    return top + float(np.log(whole)), terms / whole


def chances(tree: JunctionTree, known: Weighed, asked: Mapping[str, Array]) -> Array:
    """P(readings and each of Q questions), as logs, (Q,); minus infinity where impossible.

    asked: likelihoods by variable, (size, Q), a column for each question.
    """
    width = len(known.weights)
    count = next(iter(asked.values())).shape[1]
    both: dict[str, Array] = {}
    for name, likelihood in known.evidence.items():
        both[name] = likelihood if likelihood.ndim == 1 else np.tile(likelihood, count)
    for name, question in asked.items():
        there = both.get(name)
        new = question if width == 1 else np.repeat(question, width, axis=1)
        if there is not None:
            new = new * (there if there.ndim == 2 else there[:, None])
        both[name] = new
    scale = np.tile(np.broadcast_to(known.evidence.log_scale, width), count)
    logs = np.asarray(tree.log_evidence(Evidence(both, scale))).reshape(count, width)
    return np.array([_log_sum(row, known.weights) for row in logs])


def _log_sum(logs: Array, weights: Array) -> float:
    try:
        return total(logs, weights, ())[0]
    except ImpossibleEvidence:
        return -np.inf
