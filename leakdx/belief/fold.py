"""Cliques with deputies: taking tables together so that contributions meet as maxima.

Every number here is a probability or a likelihood, and they are only added and multiplied:
nothing cancels, and a zero is a true zero.

On the axis of a deputy a table is either a *distribution* of the largest contribution
among those it stands for, or a *score*: the chance of all evidence beyond, given the
largest of the contributions still to come.  Two distributions f, g make the distribution
h(k) = f(k) g(<=k) + f(<k) g(k); a distribution g and a score s make the score
t(k) = s(k) g(<=k) + sum over j > k of s(j) g(j).  The derivative of a distribution is a
score and the reverse, so the way back is made of the same two operations.

Every operation is a product of two tables summed over the axes that nobody needs any more.
Arrays are (entries, batch columns), the axes of a table in the order of the clique's.  With
many columns every sum runs along the batch axis, which lies last, and no table is ever brought
into another order.  With few the runs would be too short, and each column is a matrix product.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import partial
from itertools import combinations
from math import prod
from string import ascii_lowercase

import numpy as np

from leakdx.network.tables import Array

# From this many columns on sums run along the batch axis; measured, the two ways are even there.
WIDE = 12


class Meeting(Enum):
    """How two tables meet on a deputy's axis; left, right."""

    BOTH = "two distributions"
    LEFT = "a score and a distribution"
    RIGHT = "a distribution and a score"


# With w the derivative of what the two made: how (w, right) and (w, left) meet to give
# the derivatives of left and right.
_TO_LEFT = {
    Meeting.BOTH: Meeting.LEFT,
    Meeting.LEFT: Meeting.BOTH,
    Meeting.RIGHT: Meeting.RIGHT,
}
_TO_RIGHT = {
    Meeting.BOTH: Meeting.LEFT,
    Meeting.LEFT: Meeting.RIGHT,
    Meeting.RIGHT: Meeting.BOTH,
}
# How two tables meet, and on which axis of the one, the other and the result.
Met = tuple[Meeting, tuple[int, int, int]]
Product = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Axis:
    """One axis of the clique; for a deputy's axis, what has to be taken together first."""

    size: int
    first: str | None
    """"parts" or "scores" on a deputy's axis, None on the axis of a plain variable."""


@dataclass(frozen=True)
class Leaf:
    """A table that enters: ``source`` says which; ``axes`` are positions in the clique."""

    source: tuple[str, str | int]
    axes: tuple[int, ...]
    parts: frozenset[int]
    """Axes on which it is a distribution."""


@dataclass(frozen=True)
class Contraction:
    """The product of two tables, x and y, summed over what the result does not have.

    along: the same in einsum's letters, the batch axis apart.  at: the positions of each
    meeting axis in x, y and the result.  Column by column, x is brought into the order
    (meeting axes, other common axes, own axes, summed axes), y into (meeting, common, summed,
    own).  An order counts the batch axis, and is empty where there is nothing to bring into
    order.
    """

    x_sizes: tuple[int, ...]
    x_order: tuple[int, ...]
    x_shape: tuple[int, ...]
    y_sizes: tuple[int, ...]
    y_order: tuple[int, ...]
    y_shape: tuple[int, ...]
    made: tuple[int, ...]
    order: tuple[int, ...]
    summed: int
    meetings: tuple[Meeting, ...]
    along: str
    at: tuple[tuple[int, int, int], ...]

    @property
    def work(self) -> int:
        """Multiplications for each column."""
        return int(prod(self.made) * self.summed * 2 ** len(self.meetings))


@dataclass(frozen=True)
class Pair:
    """Two tables, by number (leaves first, then pairs), taken together, and the way back."""

    left: int
    right: int
    forth: Contraction
    to_left: Contraction
    to_right: Contraction


@dataclass(frozen=True)
class Fold:
    """The order in which a clique's leaves are taken together."""

    leaves: tuple[Leaf, ...]
    pairs: tuple[Pair, ...]
    number: Mapping[tuple[str, str | int], int]
    """Of each leaf, by source."""
    left_over: int
    """Entries of the clique's own axes that the last table still has."""


@dataclass(frozen=True)
class _Item:
    number: int
    axes: frozenset[int]
    parts: frozenset[int]


def make_fold(axes: Sequence[Axis], own: int, leaves: Sequence[Leaf]) -> Fold:
    """Take together, time and again, the two tables that make the smallest.

    The first ``own`` axes are summed away as soon as the last two tables with them meet.
    """
    items = [_Item(n, frozenset(leaf.axes), leaf.parts) for n, leaf in enumerate(leaves)]
    pairs: list[Pair] = []
    while len(items) > 1:
        allowed = [p for p in combinations(items, 2) if _allowed(axes, items, *p)]
        left, right = min(allowed, key=lambda p: _price(axes, *p))
        items = [i for i in items if i is not left and i is not right]
        others = frozenset(a for i in items for a in i.axes)
        gone = frozenset(
            a
            for a in (left.axes & right.axes) - others
            # Two distributions make another one first, whose sum is left to the end.
            if a < own and not (a in left.parts and a in right.parts)
        )
        made = _Item(
            len(leaves) + len(pairs), (left.axes | right.axes) - gone, _parts(left, right) - gone
        )
        pairs.append(_pair(axes, left, right, made))
        items.append(made)
    number = {leaf.source: n for n, leaf in enumerate(leaves)}
    left_over = prod(axes[a].size for a in items[0].axes if a < own)
    return Fold(tuple(leaves), tuple(pairs), number, left_over)


def _allowed(axes: Sequence[Axis], items: Sequence[_Item], left: _Item, right: _Item) -> bool:
    """Whether the two may meet while the others are still to come."""
    for a in left.axes & right.axes:
        if (a in left.parts) == (a in right.parts):
            continue
        # The first kind must be complete, as one table, before it meets the second.
        first = axes[a].first == "parts"
        if any(a in i.axes and (a in i.parts) == first for i in items if i not in (left, right)):
            return False
    return True


def _price(axes: Sequence[Axis], left: _Item, right: _Item) -> tuple[int, int, int, int]:
    """Entries multiplied, then what little tells equal ones apart."""
    entries = prod(axes[a].size for a in left.axes | right.axes)
    common = prod(axes[a].size for a in left.axes & right.axes)
    return entries, -common, left.number, right.number


def _parts(left: _Item, right: _Item) -> frozenset[int]:
    """Axes on which the two together are a distribution."""
    return (left.parts & right.parts) | (left.parts - right.axes) | (right.parts - left.axes)


def _pair(axes: Sequence[Axis], left: _Item, right: _Item, made: _Item) -> Pair:
    meetings: dict[int, Meeting] = {}
    for a in left.axes & right.axes:
        if a in left.parts and a in right.parts:
            meetings[a] = Meeting.BOTH
        elif a in left.parts | right.parts and axes[a].first == "scores":
            meetings[a] = Meeting.RIGHT if a in left.parts else Meeting.LEFT
        # Otherwise the contributions are complete: their distribution is the child's,
        # and meets what is beyond as on any other axis.
    to_left = {a: _TO_LEFT[m] for a, m in meetings.items()}
    to_right = {a: _TO_RIGHT[m] for a, m in meetings.items()}
    sizes = [axis.size for axis in axes]
    return Pair(
        left.number,
        right.number,
        _contraction(sizes, (left.axes, right.axes, made.axes), meetings),
        _contraction(sizes, (made.axes, right.axes, left.axes), to_left),
        _contraction(sizes, (made.axes, left.axes, right.axes), to_right),
    )


def _contraction(
    sizes: Sequence[int],
    scopes: tuple[frozenset[int], frozenset[int], frozenset[int]],
    meetings: Mapping[int, Meeting],
) -> Contraction:
    """Of tables with the first two scopes into one with the third."""
    x, y, result = scopes
    meeting = sorted(meetings)
    common = sorted((x & y & result) - meetings.keys())
    only_x, only_y, summed = sorted(x - y), sorted(y - x), sorted((x & y) - result)

    def size(of: Sequence[int]) -> int:
        return prod(sizes[a] for a in of)

    def order(given: Sequence[int], wanted: Sequence[int]) -> tuple[int, ...]:
        at = {a: n + 1 for n, a in enumerate(given)}
        return (0, *(at[a] for a in wanted)) if list(given) != list(wanted) else ()

    made = [*meeting, *common, *only_x, *only_y]
    before = (*(sizes[a] for a in meeting), size(common))
    return Contraction(
        tuple(sizes[a] for a in sorted(x)),
        order(sorted(x), [*meeting, *common, *only_x, *summed]),
        (*before, size(only_x), size(summed)),
        tuple(sizes[a] for a in sorted(y)),
        order(sorted(y), [*meeting, *common, *summed, *only_y]),
        (*before, size(summed), size(only_y)),
        tuple(sizes[a] for a in made),
        order(made, sorted(result)),
        size(summed),
        tuple(meetings[a] for a in meeting),
        _letters(x, y, result),
        tuple((sorted(x).index(a), sorted(y).index(a), sorted(result).index(a)) for a in meeting),
    )


def _letters(x: frozenset[int], y: frozenset[int], result: frozenset[int]) -> str:
    # A clique has at most 25 axes, or it would not have been compiled.
    letter = dict(zip(sorted(x | y), ascii_lowercase, strict=False))
    one, other, made = ("".join(letter[a] for a in sorted(scope)) for scope in (x, y, result))
    return f"{one}...,{other}...->{made}..."


def _contract(how: Contraction, x: Array, y: Array) -> Array:
    """(entries, columns) of both and of the result; one column stands for all."""
    if max(x.shape[-1], y.shape[-1]) >= WIDE:
        product = partial(np.einsum, how.along)
        left, right = x.reshape(*how.x_sizes, -1), y.reshape(*how.y_sizes, -1)
        table = _meet(left, right, tuple(zip(how.meetings, how.at, strict=True)), product)
        return table.reshape(-1, table.shape[-1])
    return _by_columns(how, x.T, y.T).T


def _by_columns(how: Contraction, x: Array, y: Array) -> Array:
    """The same by matrix products, on (columns, entries)."""
    if how.x_order:
        x = x.reshape(-1, *how.x_sizes).transpose(how.x_order)
    if how.y_order:
        y = y.reshape(-1, *how.y_sizes).transpose(how.y_order)
    product = np.matmul if how.summed > 1 else np.multiply
    met = tuple((m, (n, n, n)) for n, m in enumerate(how.meetings, start=1))
    table = _meet(x.reshape(-1, *how.x_shape), y.reshape(-1, *how.y_shape), met, product)
    columns = len(table)
    if how.order:
        table = table.reshape(columns, *how.made).transpose(how.order)
    return table.reshape(columns, -1)


def _meet(x: Array, y: Array, meetings: tuple[Met, ...], product: Product) -> Array:
    """The product where nothing meets; ``meetings`` with their axes in x, y and the result."""
    if not meetings:
        return product(x, y)
    (meeting, (in_x, in_y, made)), others = meetings[-1], meetings[:-1]
    if meeting is Meeting.BOTH:
        result = _meet(x, _up_to(y, in_y), others, product)
        result += _meet(_below(x, in_x), y, others, product)
        return result
    if meeting is Meeting.LEFT:
        result = _meet(x, _up_to(y, in_y), others, product)
    else:
        result = _meet(_up_to(x, in_x), y, others, product)
    _add_above(result, _meet(x, y, others, product), made)
    return result


# The few levels one by one: numpy's own running sums go along the axis in single steps.
def _up_to(table: Array, axis: int) -> Array:
    """Sums of each level and all lower ones, along an axis."""
    result = table.copy()
    for k in range(1, table.shape[axis]):
        result[_at(axis, k)] += result[_at(axis, k - 1)]
    return result


def _below(table: Array, axis: int) -> Array:
    """Sums of all lower levels, along an axis."""
    result = np.empty(table.shape)
    result[_at(axis, 0)] = 0
    for k in range(1, table.shape[axis]):
        np.add(result[_at(axis, k - 1)], table[_at(axis, k - 1)], out=result[_at(axis, k)])
    return result


def _add_above(result: Array, table: Array, axis: int) -> None:
    """Add to each level the sums of all higher ones of the table, which is used up."""
    for k in range(table.shape[axis] - 1, 0, -1):
        result[_at(axis, k - 1)] += table[_at(axis, k)]
        if k > 1:
            table[_at(axis, k - 1)] += table[_at(axis, k)]


def _at(axis: int, level: int) -> tuple[slice | int, ...]:
    return (*(slice(None),) * axis, level)


def forward(
    fold: Fold, leaves: Sequence[Array], quiet: Sequence[Array], fresh: set[int]
) -> list[Array]:
    """All tables, leaves first.  ``quiet`` are those without evidence, taken wherever no
    ``fresh`` leaf (by number) has a share in the pair."""
    values = list(leaves)
    fresh = set(fresh)
    for n, pair in enumerate(fold.pairs, start=len(fold.leaves)):
        if pair.left not in fresh and pair.right not in fresh:
            values.append(quiet[n])
            continue
        fresh.add(n)
        values.append(_contract(pair.forth, values[pair.left], values[pair.right]))
    return values


def message(fold: Fold, values: Sequence[Array]) -> Array:
    """The last table summed over the own axes that it still has, (separator, columns)."""
    last = values[-1]
    if fold.left_over == 1:
        return last
    summed: Array = np.add.reduce(last.reshape(fold.left_over, -1, last.shape[-1]), axis=0)
    return summed


def backward(fold: Fold, values: Sequence[Array], outside: Array, asked: set[int]) -> list[Array]:
    """Derivatives of the total by the tables that are asked for or on the way to them.

    outside: that by the message, (separator, columns).  The others stay empty.
    """
    count = len(fold.leaves)
    needed = [n in asked for n in range(count)]
    for pair in fold.pairs:
        needed.append(needed[pair.left] or needed[pair.right])
    result = [np.empty((0, 0))] * len(values)
    result[-1] = np.tile(outside, (fold.left_over, 1))
    for n in range(len(values) - 1, count - 1, -1):
        pair = fold.pairs[n - count]
        if needed[n] and needed[pair.left]:
            result[pair.left] = _contract(pair.to_left, result[n], values[pair.right])
        if needed[n] and needed[pair.right]:
            result[pair.right] = _contract(pair.to_right, result[n], values[pair.left])
    return result
