"""What is wrong with something a person wrote, and what would put it right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

# A file with a fault in every entry would bury the first ones; the rest are only counted.
MOST_FAULTS = 200


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one place.

    ``file`` is the name the reader was given ("" for data that came from no file), ``line``
    counts from 1 (None where there is no line), ``path`` leads to the value
    ("zones.rocker_left.area_mm2"; "" for the file as a whole), ``problem`` says what is
    wrong without a full stop and ``remedy`` what to do, as a sentence.
    """

    file: str
    line: int | None
    path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return "  ".join(
            part for part in (place, self.path, f"{self.problem}. {self.remedy}") if part
        )

    def to_json_dict(self) -> dict[str, str | int | None]:
        """The fault as plain data, keys in the order of the fields."""
        return {
            "file": self.file,
            "line": self.line,
            "path": self.path,
            "problem": self.problem,
            "remedy": self.remedy,
        }


class FaultyInput(Exception):
    """Something a person wrote cannot be used; ``faults`` holds all that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__(self.faults)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def limited(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """The first 200 faults, and one more that says so where there are others.

    The rest are not even worked out: finding the nearest name for every one of a hundred
    thousand wrong names would take longer than anyone waits.
    """
    kept: list[Fault] = []
    for fault in faults:
        if len(kept) == MOST_FAULTS:
            kept.append(
                Fault(
                    fault.file,
                    None,
                    "",
                    f"has more than {MOST_FAULTS} faults; the others are not listed",
                    "Put these right and check the file again.",
                )
            )
            break
        kept.append(fault)
    return tuple(kept)
