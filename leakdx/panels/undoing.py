"""What can be taken back, and taken back again: entry by entry as they were made on the page.

What one message brought goes back together.  Nothing is ever lost: taking back appends.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from leakdx.case.history import standing_of
from leakdx.case.model import Event, Withdraw
from leakdx.store.changes import Entered
from leakdx.store.store import Filing

# What came from a page; what a job began with is nobody's last tap.
FROM_THE_PAGE = "page:"


@dataclass(frozen=True)
class Group:
    """Numbers of the entries that came with one message, from 1, and whose it was."""

    key: str
    entries: tuple[int, ...]

    @property
    def from_the_page(self) -> bool:
        """Whether somebody made it on a page."""
        return self.key.startswith(FROM_THE_PAGE)


def groups_of(filings: Sequence[Filing]) -> tuple[Group, ...]:
    """All entries of a job by the message they came with, oldest first."""
    found: list[Group] = []
    entered = (f for f in filings if isinstance(f.change, Entered))
    for number, filing in enumerate(entered, start=1):
        if found and found[-1].key == filing.key:
            found[-1] = Group(filing.key, (*found[-1].entries, number))
        else:
            found.append(Group(filing.key, (number,)))
    return tuple(found)


def undo_of(timeline: Sequence[Event], groups: Sequence[Group]) -> tuple[int, ...]:
    """The entries that came last and still stand, taken together; none where there are none."""
    alive = standing_of(timeline)
    for group in reversed(groups):
        left = [n for n in group.entries if alive[n - 1] and not _takes_back(timeline, n)]
        if left:
            return tuple(left) if group.from_the_page else ()
    return ()


def redo_of(timeline: Sequence[Event], groups: Sequence[Group]) -> tuple[int, ...]:
    """The withdrawals to be withdrawn for what was taken back last; none once more was entered."""
    alive = standing_of(timeline)
    for group in reversed(groups):
        if not all(_takes_back(timeline, n) for n in group.entries):
            return ()
        left = [n for n in group.entries if alive[n - 1] and not _of_a_withdrawal(timeline, n)]
        if left:
            return tuple(left) if group.from_the_page else ()
    return ()


def taken_back(timeline: Sequence[Event], withdrawals: Sequence[int]) -> Iterator[int]:
    """The entries that some withdrawals took back."""
    for number in withdrawals:
        event = timeline[number - 1]
        if isinstance(event, Withdraw):
            yield event.withdraw


def _takes_back(timeline: Sequence[Event], number: int) -> bool:
    return isinstance(timeline[number - 1], Withdraw)


def _of_a_withdrawal(timeline: Sequence[Event], number: int) -> bool:
    event = timeline[number - 1]
    return isinstance(event, Withdraw) and _takes_back(timeline, event.withdraw)
