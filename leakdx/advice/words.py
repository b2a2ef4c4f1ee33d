"""The ranking in the words of a workshop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import exp
from textwrap import wrap
from typing import TYPE_CHECKING

from leakdx.case.history import withdrawn_notes
from leakdx.case.model import ZoneReading, ZoneState
from leakdx.machine.model import SealKind
from leakdx.network.setting import Use

if TYPE_CHECKING:
    from leakdx.advice.ranking import LeakSet, Ranking
    from leakdx.advice.solving import Solved
    from leakdx.case.read import LoadedJob

SHOWN = 12
BAR = 24

BEGINNING = "look, from the highest and foremost wet point down, and enter what you see."


def percent(chance: float) -> str:
    """A chance in words short enough for a table; never a false 0 % or 100 %."""
    if chance < 0.0005:
        return "< 0.1 %"
    if chance > 0.9995:
        return "> 99.9 %"
    digits = 1 if chance < 0.1 or chance > 0.995 else 0
    return f"{100 * chance:.{digits}f} %"


def ranking_text(ranking: Ranking, width: int) -> str:
    """The ranking for a terminal."""
    return "\n".join(_lines(ranking, max(width, 60)))


def _lines(ranking: Ranking, width: int) -> Iterator[str]:
    yield ranking.title
    yield f"{ranking.readings} readings on machine {ranking.machine}"
    yield ""
    room = width - BAR - 14
    longest = max((len(r.name) for r in ranking.rows[:SHOWN]), default=0)
    column = max(20, min(room, longest + 2))
    yield f"    {'seal point':<{column}}{'leaks':>8}"
    for place, row in enumerate(ranking.rows[:SHOWN], start=1):
        bar = "#" * round(BAR * row.leaks)
        name = row.name if len(row.name) < column else row.name[: column - 2] + "."
        yield f"{place:>3} {name:<{column}}{percent(row.leaks):>8}  {bar}".rstrip()
    if len(ranking.rows) > SHOWN:
        rest = ranking.rows[SHOWN].leaks
        yield f"    and {len(ranking.rows) - SHOWN} more, each at {percent(rest)} or less"
    yield ""
    yield "Most probable together (exactly these, no others):"
    names = {r.seal_point: r.name for r in ranking.rows}
    for one in ranking.sets:
        yield from _wrapped(f"  {percent(one.probability):>8}  ", together(one, names), width)
    if not ranking.sets_proven:
        yield "            (the search was cut short: a set as probable may be missing)"
    yield ""
    yield f"  {percent(ranking.none_leaks):>8}  no listed seal leaks now"
    yield f"  {percent(ranking.not_listed):>8}  an origin that is not on the list"
    yield f"  {percent(ranking.nothing_leaks):>8}  nothing leaks now: spilled, or old residue"
    probability = exp(ranking.log_evidence)
    yield f"  probability of these readings: {probability:.3g}"
    if ranking.why:
        yield ""
        yield "Most likely behind it:"
        for reason in ranking.why:
            yield from _wrapped("  - ", reason, width)
    if ranking.notes:
        yield ""
        yield "Taken for granted:"
        for note in ranking.notes:
            yield from _wrapped("  - ", note, width)
    yield ""
    yield from _wrapped("", ranking.next_step, width)


def _wrapped(start: str, text: str, width: int) -> list[str]:
    """Text on as many lines as the width asks for, the later ones set in under the first."""
    return wrap(text, width, initial_indent=start, subsequent_indent=" " * len(start))


def together(one: LeakSet, names: Mapping[str, str]) -> str:
    """The seal points of a set by name; ``names`` by id."""
    return " + ".join(names[s] for s in one.seal_points) or "none of them"


def notes_of(loaded: LoadedJob, solved: Solved) -> tuple[str, ...]:
    """What was taken for granted, in sentences."""
    conditions = loaded.job.conditions
    notes = []
    if conditions.hours is None:
        notes.append("hours since the surface was clean are not stated: about 40, give or take")
    if conditions.fluid_temperature_C is None:
        notes.append("fluid temperature is not stated: each fluid's usual one")
    if conditions.airflow_m_s is None and conditions.use in (Use.IDLED, Use.DRIVEN):
        notes.append(f"airflow is not stated: as is usual when {conditions.use.value}")
    if len(loaded.machine.fluids) > 1 and any(
        isinstance(t.reading, ZoneReading)
        and t.reading.fluid is None
        and t.reading.state not in (ZoneState.DRY, ZoneState.NOT_LOOKED)
        for t in solved.asked.story.taken
    ):
        notes.append("a wet zone whose fluid is not stated may be any fluid of the machine")
    if solved.detail:
        notes.append("weak ways of the flow were left out to keep the sums exact")
    if solved.asked.story.repaired and len(solved.asked.story.epochs) == 1:
        notes.append("the mess was not washed off after the repair, so it says little about it")
    return (*notes, *withdrawn_notes(loaded.job))


def next_step(loaded: LoadedJob, solved: Solved, order: Sequence[str], nothing_leaks: float) -> str:
    """One sentence: what to do now."""
    if not solved.asked.readings:
        return f"Next: {BEGINNING}"
    if nothing_leaks > 0.5:
        return "Next: wash it, run it, and look again; most likely nothing leaks now."
    story = solved.asked.story
    if story.repaired and len(story.epochs) == 1:
        return "Next: wash it and run it before you judge the repair by what is wet."
    read = {
        t.reading.zone
        for t in story.taken
        if isinstance(t.reading, ZoneReading) and t.reading.state is not ZoneState.NOT_LOOKED
    }
    zones = {z.id: z.name or z.id.replace("_", " ") for z in loaded.machine.zones}
    seals = {s.id: s for s in loaded.machine.seal_points}
    for seal in order[:3]:
        unread = [zones[z] for z in seals[seal].zones if z not in read]
        if unread:
            name = seals[seal].name or seal.replace("_", " ")
            return (
                f"Not looked at yet: {' and '.join(unread)}, for {name}. "
                "Which look pays most for its minutes, 'leakdx next' says."
            )
    first = seals[order[0]]
    if first.kind is SealKind.BREATHER:
        return (
            "Next: set the level and see that the ventilation is clear, then wash, run and look "
            f"again; what {first.name or first.id.replace('_', ' ')} lets out is expelled fluid, "
            "and no joint need be renewed for it."
        )
    return (
        f"Next: look closely at {first.name or first.id.replace('_', ' ')} itself; "
        "if it cannot be seen, wash, run and look again before stripping."
    )
