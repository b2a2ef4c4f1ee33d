"""Numbers with their uncertainty and their source.

Every number the library believes stands in a prior file, with a value, a distribution,
a unit and a source.  ``source`` is a citation, or "common practice, no source", or
"judgement".
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

FORMAT = "leakdx-prior/1"

Finite = Annotated[float, Field(allow_inf_nan=False)]
Above0 = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Key = Annotated[str, StringConstraints(pattern=r"^[a-zA-Z0-9_]+(\.[a-zA-Z0-9_]+)*$")]

# A stated value may be rounded; beyond this it does not belong to its distribution.
AGREEMENT = 0.02


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Beta(_Record):
    """A probability; centre is the mean a / (a + b)."""

    family: Literal["beta"]
    a: Above0
    b: Above0

    @property
    def centre(self) -> float:
        """Mean."""
        return self.a / (self.a + self.b)


class LogNormal(_Record):
    """A positive quantity; centre is the median, ``factor`` is exp(sigma)."""

    family: Literal["lognormal"]
    median: Above0
    factor: Annotated[float, Field(gt=1, allow_inf_nan=False)]

    @property
    def centre(self) -> float:
        """Median."""
        return self.median

    @property
    def sigma(self) -> float:
        """Standard deviation of the natural logarithm."""
        return math.log(self.factor)


class Normal(_Record):
    """Any quantity; centre is the mean."""

    family: Literal["normal"]
    mean: Finite
    sd: Above0

    @property
    def centre(self) -> float:
        """Mean."""
        return self.mean


class Fixed(_Record):
    """A number that is not in doubt, such as the definition of a scale."""

    family: Literal["fixed"]


Distribution = Annotated[Beta | LogNormal | Normal | Fixed, Field(discriminator="family")]


class Quantity(_Record):
    """One number: what it is, how sure, in what unit, and who says so."""

    value: Finite
    distribution: Distribution
    unit: Annotated[str, StringConstraints(min_length=1)]
    source: Annotated[str, StringConstraints(min_length=3)]
    note: str = ""

    @model_validator(mode="after")
    def _agrees(self) -> Quantity:
        if self.unit == "probability" and not 0 <= self.value <= 1:
            raise ValueError(f"a probability lies between 0 and 1, this is {self.value}")
        if not isinstance(self.distribution, Fixed):
            centre = self.distribution.centre
            if abs(self.value - centre) > AGREEMENT * max(abs(self.value), abs(centre)):
                raise ValueError(
                    f"the value {self.value} is not the centre {centre:.6g} of its distribution"
                )
        return self


class PriorFile(_Record):
    """One file of numbers on one subject."""

    format: Literal["leakdx-prior/1"]
    id: Key
    note: str = ""
    numbers: Annotated[dict[Key, Quantity], Field(min_length=1)]


class UnknownNumber(KeyError):
    """A number was asked for that no prior file holds."""


@dataclass(frozen=True)
class Priors:
    """All prior numbers, by "file.key"."""

    numbers: Mapping[str, Quantity]

    def __getitem__(self, key: str) -> float:
        """The value of that number; UnknownNumber if no prior file holds it."""
        return self.quantity(key).value

    def __contains__(self, key: object) -> bool:
        return key in self.numbers

    def quantity(self, key: str) -> Quantity:
        """The number with its distribution, unit and source; UnknownNumber if absent."""
        try:
            return self.numbers[key]
        except KeyError:
            raise UnknownNumber(f"no prior file holds the number {key!r}") from None

    def group(self, prefix: str) -> dict[str, float]:
        """Values of all numbers under ``prefix.``, by the rest of their key."""
        start = prefix + "."
        return {k[len(start) :]: q.value for k, q in self.numbers.items() if k.startswith(start)}
