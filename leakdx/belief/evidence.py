"""Evidence: what was seen, as likelihoods of the states of single variables.

A likelihood is P(what was seen | state), up to nothing: the natural log of the factor
that had to be taken out to keep numbers in range is carried along in ``log_scale``.

A likelihood may also hang on a child and its parents together (``families``).  That is how
other numbers in a table are put: as new over old (see ``belief.families``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from leakdx.network.tables import Array, Network

LOPSIDED = "likelihoods contradict each other beyond the range of double precision numbers"


class EvidenceError(ValueError):
    """The evidence does not fit; the message lists every fault."""


class ImpossibleEvidence(EvidenceError):
    """The evidence has probability zero.

    ``names`` are the variables it is about, ``columns`` the batch columns that are
    impossible (empty when the evidence has no batch axis).
    """

    def __init__(self, names: tuple[str, ...], columns: tuple[int, ...]) -> None:
        self.names = names
        self.columns = columns
        where = f" in batch columns {list(columns)}" if columns else ""
        super().__init__(f"evidence on {', '.join(names)} has probability zero{where}")


@dataclass(frozen=True, eq=False)
class Evidence(Mapping[str, Array]):
    """Likelihoods by variable name, each of shape (size,) or (size, B), none negative.

    All arrays with a batch axis share one B; those without hold for every column.
    ``log_scale`` (a float, or shape (B,)) is added to the log probability of the evidence.
    ``families``: by child, likelihoods of a child and its parents in the order of its table,
    each (size of child, size of parent 1, ..., B), the batch axis always there.
    Raises EvidenceError for NaN, infinite or negative numbers, wrong axes, unequal B.
    The arrays are copied and made read-only.
    """

    likelihoods: Mapping[str, ArrayLike]
    log_scale: float | Array = 0.0
    families: Mapping[str, Array] = field(default_factory=dict)

    def __post_init__(self) -> None:
        arrays = {n: np.array(v, dtype=np.float64) for n, v in self.likelihoods.items()}
        families = {n: np.array(v, dtype=np.float64) for n, v in self.families.items()}
        faults = list(_array_faults(arrays, families, np.asarray(self.log_scale, np.float64)))
        if faults:
            raise EvidenceError("; ".join(faults))
        for array in (*arrays.values(), *families.values()):
            array.setflags(write=False)
        object.__setattr__(self, "likelihoods", arrays)
        object.__setattr__(self, "families", families)

    def __getitem__(self, name: str) -> Array:
        return self.likelihoods[name]  # type: ignore[return-value]  # arrays since __post_init__

    def __iter__(self) -> Iterator[str]:
        return iter(self.likelihoods)

    def __len__(self) -> int:
        return len(self.likelihoods)

    @property
    def batch(self) -> int | None:
        """Number of columns B, or None when no array has a batch axis."""
        widths = [a.shape[1] for a in self.values() if a.ndim == 2]
        widths += [a.shape[-1] for a in self.families.values()]
        if np.ndim(self.log_scale) == 1:
            widths.append(np.shape(self.log_scale)[0])
        return widths[0] if widths else None

    def check(self, sizes: Mapping[str, int]) -> None:
        """Raise EvidenceError, naming all faults, unless it fits variables of these sizes."""
        faults = [f"there is no variable {name}" for name in self if name not in sizes]
        faults += [
            f"likelihood of {name} has {array.shape[0]} entries, not {sizes[name]}"
            for name, array in self.items()
            if name in sizes and array.shape[0] != sizes[name]
        ]
        if faults:
            raise EvidenceError("; ".join(faults))


def _array_faults(
    arrays: Mapping[str, Array], families: Mapping[str, Array], log_scale: Array
) -> Iterator[str]:
    for name, array in arrays.items():
        if array.ndim not in (1, 2) or 0 in array.shape:
            yield f"likelihood of {name} has shape {array.shape}, not (size,) or (size, B)"
    for name, array in families.items():
        if array.ndim < 2 or 0 in array.shape:
            yield f"family of {name} has shape {array.shape}, not (size, parents' sizes, B)"
    for name, array in (*arrays.items(), *families.items()):
        if not np.isfinite(array).all() or (array < 0).any():
            yield f"likelihood of {name} holds a negative number, an infinity or NaN"
    if log_scale.ndim > 1 or np.isnan(log_scale).any() or np.isposinf(log_scale).any():
        yield "log_scale is not a number below infinity, or not one for each column"
    widths = {a.shape[1] for a in arrays.values() if a.ndim == 2}
    widths |= {a.shape[-1] for a in families.values() if a.ndim}
    widths |= set(log_scale.shape[:1])
    if len(widths) > 1:
        yield f"batch sizes differ: {sorted(widths)}"


def hard(network: Network, states: Mapping[str, str | int]) -> Evidence:
    """Evidence that each named variable is in the state given by name or by index.

    Raises EvidenceError listing every unknown variable and state.
    """
    faults: list[str] = []
    likelihoods: dict[str, Array] = {}
    for name, state in states.items():
        if name not in network:
            faults.append(f"there is no variable {name}")
            continue
        variable = network[name]
        try:
            index = variable.states.index(state) if isinstance(state, str) else int(state)
        except ValueError:
            index = -1
        if not 0 <= index < variable.size:
            faults.append(f"{name} has no state {state}")
            continue
        likelihoods[name] = np.eye(variable.size)[index]
    if faults:
        raise EvidenceError("; ".join(faults))
    return Evidence(likelihoods)


def combine(parts: Iterable[Evidence]) -> Evidence:
    """The pieces of evidence taken together: likelihoods of one variable multiply.

    Products are rescaled, and the log of the scale kept, so that hundreds of small
    likelihoods on one variable do not vanish.  Raises EvidenceError on unequal B or sizes,
    and where one state falls so far behind another that its likelihood would vanish.
    """
    total: dict[str, Array] = {}
    families: dict[str, Array] = {}
    log_scale: float | Array = 0.0
    for part in parts:
        log_scale = log_scale + part.log_scale
        for child, factor in part.families.items():
            families[child] = families[child] * factor if child in families else factor
        for name, new in part.items():
            old = total.get(name)
            if old is None:
                total[name] = new
                continue
            product, log = _product(name, old, new)
            total[name] = product
            log_scale = log_scale + log
    return Evidence(total, log_scale, families)


def _product(name: str, old: Array, new: Array) -> tuple[Array, float | Array]:
    """old * new brought to a largest entry of one per column, and the log of the factor."""
    if old.ndim != new.ndim:
        old, new = (a if a.ndim == 2 else a[:, None] for a in (old, new))
    if old.shape[0] != new.shape[0] or (
        old.ndim == 2 and 1 not in (old.shape[1], new.shape[1]) and old.shape != new.shape
    ):
        raise EvidenceError(f"likelihoods of {name} have shapes {old.shape} and {new.shape}")
    # Bring each factor into range before the product can leave it.
    old_top, new_top = old.max(axis=0), new.max(axis=0)
    product = (old / np.where(old_top > 0, old_top, 1)) * (new / np.where(new_top > 0, new_top, 1))
    if ((product == 0) & (old > 0) & (new > 0)).any():
        raise EvidenceError(LOPSIDED)
    top = product.max(axis=0)
    scale = np.where(top > 0, top, 1)
    log = sum(np.log(np.where(t > 0, t, 1)) for t in (old_top, new_top, top))
    return product / scale, log if np.ndim(log) else float(log)
