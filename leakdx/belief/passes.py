"""Messages inwards and outwards over a clique tree.

Each clique without deputies keeps P(own variables | separator to its parent).  With these
conditional tables a subtree that holds no evidence sends the message 'one', so nothing
is sent, and below it the posterior is the separator's posterior times a fixed matrix,
kept after its first use.  Only cliques between evidence and the root are multiplied out
anew.  In a clique with a fold the tables on the way from evidence are taken together
anew, and the way outwards is that of derivatives.

Arrays are (own entries, separator entries, batch columns), the batch axis last and of
length 1 where the columns do not differ yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from leakdx.belief.arrays import (
    Workspace,
    chain,
    multiply,
    scaled,
    sum_to,
    total_log,
    width_of,
    write_own,
)
from leakdx.belief.evidence import Evidence
from leakdx.belief.fold import Fold, backward, forward
from leakdx.belief.fold import message as folded_message
from leakdx.belief.numbers import Numbers
from leakdx.belief.plan import Plan, Runs
from leakdx.network.tables import Array

# A clean subtree's posterior is one matrix product as long as the matrix is this small,
SHORTCUT_ENTRIES = 2**15
# and, where it takes a fold to work it out, this many numbers at once.
SHORTCUT_WORK = 2**22


@dataclass(eq=False)
class Collected:
    """Outcome of the inward pass: tables and messages of the cliques evidence touches.

    products: (own, separator, B) of each clique without a fold.  folded: all tables of a fold.
    messages: to be divided by on the way back, (separator, B) or (separator, 1).
    """

    log_evidence: Array
    products: dict[int, Array] = field(default_factory=dict)
    folded: dict[int, list[Array]] = field(default_factory=dict)
    messages: dict[int, Array] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Engine:
    """A plan with its numbers."""

    plan: Plan
    numbers: Numbers
    # Working memory only: what is kept here changes no answer.
    _shortcuts: dict[int, Array | None] = field(default_factory=dict, repr=False)

    def ancestors(self, cliques: Iterable[int]) -> set[int]:
        """The cliques and all between them and the root."""
        found: set[int] = set()
        for i in cliques:
            while i >= 0 and i not in found:
                found.add(i)
                i = self.plan.cliques[i].parent
        return found

    def entries(self, i: int) -> int:
        """Numbers that clique i needs for each column."""
        if self.plan.cliques[i].fold is None:
            return self.numbers.conditionals[i].size
        # The tables and their derivatives.
        return 2 * sum(table.size for table in self.numbers.folded[i])

    def collect(self, evidence: Evidence, space: Workspace, keep: bool = True) -> Collected:
        """Inward pass over the cliques that evidence touches.

        The tables kept for the outward pass live in ``space`` until it is reserved again.
        """
        plan = self.plan
        incoming: dict[int, list[tuple[Runs, Array]]] = {}
        entering: dict[int, dict[int, Array]] = {}
        collected = Collected(np.empty(0))
        scales: list[Array] = []
        for name, array in evidence.items():
            home = plan.home[name]
            likelihood, top = scaled(array)
            scales.append(top)
            fold = plan.cliques[home].fold
            if fold is None:
                incoming.setdefault(home, []).append((plan.lies[name], likelihood))
            else:
                entering.setdefault(home, {})[fold.number["seen", name]] = likelihood
        for child, array in evidence.families.items():
            number = plan.families[child][0]
            place = plan.places[number]
            rows = array.transpose(*place.axes, -1).reshape(-1, array.shape[-1])
            factor, top = scaled(rows)
            scales.append(top)
            fold = plan.cliques[place.clique].fold
            if fold is None:
                incoming.setdefault(place.clique, []).append((place.runs, factor))
            else:
                leaf = fold.number["factor", number]
                quiet = self.numbers.folded[place.clique][leaf]
                entering.setdefault(place.clique, {})[leaf] = quiet * factor
        touched = sorted(self.ancestors([*incoming, *entering]), reverse=True)
        flat = [self.numbers.conditionals[i].size for i in touched]
        space.reserve((sum(flat) if keep else max(flat, default=0)) * (evidence.batch or 1))
        for i in touched:
            clique = plan.cliques[i]
            if not keep:
                space.reserve(0)
            if clique.fold is not None:
                values = self._folded(i, clique.fold, entering.pop(i))
                message = folded_message(clique.fold, values)
                if keep:
                    collected.folded[i] = values
            else:
                table = self._product(i, incoming.pop(i), space)
                message = np.add.reduce(table, axis=0)
                if keep:
                    collected.products[i] = table
            # Without scaling, the product of a few hundred small messages would vanish.
            top = np.maximum.reduce(message, axis=0)
            scales.append(top)
            # A deputy's derivative is by the scaled message; there is no division by it.
            collected.messages[i] = top[None, :] if clique.parts_above else message
            if i:
                self._send(i, message / (top + (top == 0)), incoming, entering)
        collected.log_evidence = total_log(scales, evidence)
        return collected

    def _product(self, i: int, factors: list[tuple[Runs, Array]], space: Workspace) -> Array:
        clique = self.plan.cliques[i]
        table = self.numbers.conditionals[i]
        flat = space.take(table.size * width_of(factors))
        multiply(table, factors, flat)
        return flat.reshape(clique.own_size, clique.separator_size, -1)

    def _folded(self, i: int, fold: Fold, tables: dict[int, Array]) -> list[Array]:
        """All tables of a clique with a fold, into which some leaves enter anew."""
        quiet = self.numbers.folded[i]
        leaves = [tables[n] if n in tables else quiet[n] for n in range(len(fold.leaves))]
        return forward(fold, leaves, quiet, set(tables))

    def _send(
        self,
        i: int,
        message: Array,
        incoming: dict[int, list[tuple[Runs, Array]]],
        entering: dict[int, dict[int, Array]],
    ) -> None:
        """Give the parent the message, as it wants it: in full, or against what it has."""
        clique = self.plan.cliques[i]
        above = self.plan.cliques[clique.parent].fold
        quiet = self.numbers.messages[i]
        if above is not None:
            full = message if clique.fold is not None else message * quiet
            entering.setdefault(clique.parent, {})[above.number["child", i]] = full
            return
        if clique.fold is not None:
            message = message / (quiet + (quiet == 0))
        incoming.setdefault(clique.parent, []).append((clique.up, message))

    def belief(self, i: int, separator: Array, collected: Collected) -> Array:
        """Posterior of clique i, (own, separator, B), from the posterior of its separator."""
        if i not in collected.products:
            return self.numbers.conditionals[i][:, :, None] * separator
        # Where the message is zero so is the posterior: zero over anything stays zero.
        message = collected.messages[i]
        ratio = separator / (message + (message == 0))
        product = collected.products[i]
        # Needed only once; a fresh array of this size costs more than the product itself.
        same = product.shape[-1] == ratio.shape[-1]
        belief: Array = np.multiply(product, ratio, out=product if same else None)
        return belief

    def distribute(self, collected: Collected, out: Array, wanted: set[int] | None) -> None:
        """Outward pass; writes the stacked marginals into ``out`` (rows, B)."""
        cliques = self.plan.cliques
        separators: dict[int, Array] = {0: np.ones((1, 1))}
        while separators:
            i, separator = separators.popitem()
            clique = cliques[i]
            if i not in collected.messages:
                shortcut = self._shortcut(i)
                if shortcut is not None:
                    out[clique.subtree_rows] = shortcut @ separator
                    continue
            children = [k for k in clique.children if wanted is None or k in wanted]
            if clique.fold is not None:
                separators |= self.unfold(i, separator, children, collected, out)
                continue
            belief = self.belief(i, separator, collected)
            write_own(clique, np.add.reduce(belief, axis=1), out, 0)
            for child in children:
                separators[child] = sum_to(belief, cliques[child].up)

    def unfold(
        self,
        i: int,
        separator: Array,
        children: Sequence[int],
        collected: Collected,
        out: Array | None,
    ) -> dict[int, Array]:
        """What the children of a clique with a fold get; its own marginals go to ``out``.

        A separator comes and goes as its posterior, one with a deputy as the derivative of
        the total by the message.
        """
        cliques = self.plan.cliques
        clique = cliques[i]
        fold = clique.fold
        assert fold is not None
        values: Sequence[Array] = self.numbers.folded[i]
        divisor = np.ones((1, 1)) if clique.parts_above else self.numbers.messages[i]
        if i in collected.messages:
            values, divisor = collected.folded[i], collected.messages[i]
        outside = separator / (divisor + (divisor == 0))
        at = {k: fold.number["child", k] for k in children}
        seen = {n: fold.number["seen", n] for n in clique.home} if out is not None else {}
        slopes = backward(fold, values, outside, {*at.values(), *seen.values()})
        for name, n in seen.items():
            assert out is not None
            out[self.plan.rows[name]] = values[n] * slopes[n]
        return {
            k: slopes[n] if cliques[k].parts_above else values[n] * slopes[n] for k, n in at.items()
        }

    def _shortcut(self, i: int) -> Array | None:
        """Marginals of the subtree by what clique i gets from above, (rows, separator)."""
        if i in self._shortcuts:
            return self._shortcuts[i]
        clique = self.plan.cliques[i]
        rows = clique.subtree_rows.stop - clique.subtree_rows.start
        result: Array | None = None
        fits = rows * clique.separator_size <= SHORTCUT_ENTRIES
        if clique.fold is not None:
            fits = fits and self.entries(i) * clique.separator_size <= SHORTCUT_WORK
        parts = {k: self._shortcut(k) for k in clique.children}
        if fits and all(part is not None for part in parts.values()):
            result = self._matrix(i, {k: p for k, p in parts.items() if p is not None})
        self._shortcuts[i] = result
        return result

    def _matrix(self, i: int, parts: dict[int, Array]) -> Array:
        clique = self.plan.cliques[i]
        first = clique.subtree_rows.start
        result = np.empty((clique.subtree_rows.stop - first, clique.separator_size))
        if clique.fold is None:
            table = self.numbers.conditionals[i]
            write_own(clique, table, result, first)
            below = {
                k: chain(clique, self.plan.cliques[k], table, part) for k, part in parts.items()
            }
        else:
            each = np.eye(clique.separator_size)
            stack = np.zeros((self.plan.row_count, clique.separator_size))
            got = self.unfold(i, each, list(parts), Collected(np.empty(0)), stack)
            result[: clique.rows.stop - first] = stack[clique.rows]
            below = {k: part @ got[k] for k, part in parts.items()}
        for k, block in below.items():
            cut = self.plan.cliques[k].subtree_rows
            result[cut.start - first : cut.stop - first] = block
        return result
