"""What of a timeline counts, after what was withdrawn and corrected in it.

Nothing is ever lost: a withdrawn entry and a corrected one stay in the file, and entries keep
their numbers.
"""

from __future__ import annotations

from collections.abc import Sequence

from leakdx.case.model import Correct, Done, Event, Job, Withdraw


def effective(job: Job) -> tuple[tuple[int, Done], ...]:
    """The entries that count, each with its place in the timeline, from 0 (as in Taken.number).

    A corrected entry is told as it was corrected last, in its own place and with its own
    number.  Withdrawals and corrections are not among them.  A withdrawn withdrawal takes
    nothing back, and a withdrawn correction corrects nothing.  What points at no earlier entry
    has no effect.
    """
    timeline = job.timeline
    alive = standing_of(timeline)
    corrected: dict[int, Done] = {}
    for place, event in enumerate(timeline):
        if isinstance(event, Correct) and alive[place] and event.correct <= place:
            corrected[event.correct - 1] = event.to
    return tuple(
        (place, corrected.get(place, event))
        for place, event in enumerate(timeline)
        if alive[place] and not isinstance(event, Withdraw | Correct)
    )


def standing_of(timeline: Sequence[Event]) -> list[bool]:
    """Whether each entry still stands, that is, was not withdrawn by one that stands itself."""
    alive = [True] * len(timeline)
    # A withdrawal points back, so the later ones are settled first.
    for place in range(len(timeline) - 1, -1, -1):
        event = timeline[place]
        if isinstance(event, Withdraw) and alive[place] and event.withdraw <= place:
            alive[event.withdraw - 1] = False
    return alive


def as_it_counts(job: Job) -> Job:
    """The job with only the entries that count, which are numbered anew."""
    return job.model_copy(update={"timeline": tuple(event for _, event in effective(job))})


def withdrawn_notes(job: Job) -> tuple[str, ...]:
    """What was taken back or put right, in words: "1 entry withdrawn"."""
    alive = standing_of(job.timeline)
    back = {
        e.withdraw
        for place, e in enumerate(job.timeline)
        if isinstance(e, Withdraw)
        and alive[place]
        and e.withdraw <= place
        and not isinstance(job.timeline[e.withdraw - 1], Withdraw)
    }
    right = {
        e.correct
        for place, e in enumerate(job.timeline)
        if isinstance(e, Correct) and alive[place] and e.correct <= place and alive[e.correct - 1]
    }
    told = ((len(back), "withdrawn"), (len(right), "corrected"))
    return tuple(f"{n} {'entry' if n == 1 else 'entries'} {what}" for n, what in told if n)
