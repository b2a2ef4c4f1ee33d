"""The strip-down and refit sheet for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap

from leakdx.advice.sheet import INSIDE, MAKER_FIRST, Chance, Joint, Sheet
from leakdx.advice.sheet_steps import Refit, Step
from leakdx.advice.words import percent

TITLES = (
    "What is to be renewed",
    "Before you start",
    "Strip down",
    "At each seal point",
    "Before closing up",
    "Refit",
    "Wash and run",
)
INVENTED = (
    "This machine comes with leakdx and is invented: so are its minutes, torques, orders and "
    "one-use parts."
)
TICKED = "Write into the timeline of the job file, with only the words that were ticked:"
REACHED = "While it is apart, look at these too; the same steps lay them bare:"
# Seal points laid bare that are told of; the rest is in --json.
SHOWN = 6


def sheet_text(sheet: Sheet, width: int) -> str:
    """The sheet as lines no longer than ``width``."""
    return "\n".join(_lines(sheet, max(width, 60)))


def times_said(sheet: Sheet) -> str:
    """How long it takes, in one sentence or two."""
    times = sheet.times
    said = (
        f"About {times.said}: {times.strip:.0f} min to strip down, {times.joints:.0f} min at the "
        f"joints with their parts, {times.refit:.0f} min to refit."
    )
    if times.refit_off >= 1:
        said += f" And {times.refit_off:.0f} min to refit what is off already."
    return said


def reached_rest(sheet: Sheet) -> str | None:
    """What is said of the seal points laid bare that are not listed."""
    rest = sheet.reached[SHOWN:]
    if not rest:
        return None
    return f"and {len(rest)} more, each at {percent(rest[0].leaks)} or less"


def chance_said(chance: Chance) -> str:
    """A seal point and the chance that it leaks."""
    more = " (renewed with the rest of its gasket)" if chance.added else ""
    return f"{chance.name}: leaks with {percent(chance.leaks)}{more}"


def refit_said(refit: Refit) -> str:
    """A step of the refit, without its one-use parts."""
    said = refit.text if refit.torque is None else f"{refit.text}; {refit.torque}"
    return f"{said} ({'was off before' if refit.undoes is None else f'step {refit.undoes}'})."


def _lines(sheet: Sheet, width: int) -> Iterator[str]:
    yield from wrap(f"Strip down and refit: {sheet.job_name}", width)
    yield from wrap(f"on {sheet.machine} ({sheet.machine_name})", width)
    yield ""
    yield from wrap(sheet.sentence, width)
    if not sheet.joints:
        return
    yield from wrap(MAKER_FIRST, width)
    if sheet.invented:
        yield from wrap(INVENTED, width)
    parts = (_head, _before, _strip, _joints, _checks, _refit, _run)
    for number, (title, part) in enumerate(zip(TITLES, parts, strict=True), start=1):
        yield ""
        yield f"{number}. {title}"
        yield from part(sheet, width)


def _items(mark: str, texts: Iterable[str], width: int) -> Iterator[str]:
    for text in texts:
        yield from wrap(
            text,
            width,
            initial_indent=mark,
            subsequent_indent=" " * len(mark),
            break_on_hyphens=False,
        )


def _head(sheet: Sheet, width: int) -> Iterator[str]:
    yield from _items("  - ", (chance_said(c) for c in sheet.renew), width)
    yield from _items("  ", [times_said(sheet)], width)


def _before(sheet: Sheet, width: int) -> Iterator[str]:
    yield from _items("  ! ", sheet.cautions, width)
    yield "  Have ready:"
    yield from _items("  - ", sheet.parts, width)
    if sheet.fluids:
        yield "  Fluids:"
        yield from _items("  - ", sheet.fluids, width)


def _strip(sheet: Sheet, width: int) -> Iterator[str]:
    if sheet.off:
        yield from _items("  ", [f"Off already: {'; '.join(sheet.off)}."], width)
    for step in sheet.steps:
        yield from _step(step, width)
    if not sheet.steps:
        yield "  Nothing is left to take off."
    if sheet.reached:
        yield from _items("  ", [REACHED], width)
        yield from _items("  - ", (chance_said(c) for c in sheet.reached[:SHOWN]), width)
        rest = reached_rest(sheet)
        yield from _items("    ", [rest] if rest else [], width)


def _step(step: Step, width: int) -> Iterator[str]:
    yield from _items(f" {step.number:>2} ", [f"{step.name} ({step.minutes:g} min)"], width)
    yield from _items("    ! ", step.cautions, width)


def _joints(sheet: Sheet, width: int) -> Iterator[str]:
    for joint in sheet.joints:
        yield from _items("  ", [f"{joint.name} ({joint.kind_said})"], width)
        for title, texts in joint_parts(joint):
            yield f"    {title}:"
            yield from _items("    - ", texts, width)


def joint_parts(joint: Joint) -> list[tuple[str, tuple[str, ...]]]:
    """What is said of a joint under its small headings, in the order of the work."""
    practice = joint.practice
    one_use = tuple(f"New each time: {part}." for part in joint.one_use)
    return [
        ("Take out and clean", practice.take_out),
        ("Look", practice.look),
        ("Speaks for a fault here", practice.found),
        ("Refit", (*one_use, *joint.refit)),
    ]


def _checks(sheet: Sheet, width: int) -> Iterator[str]:
    for check in sheet.checks:
        yield from _items("  ", [check.name], width)
        yield from _items("    [ ] ", (f"{word}: {said}" for word, said in check.boxes), width)
    yield from _items("  [ ] ", [INSIDE], width)
    yield from _items("  ", [TICKED], width)
    # In one piece each, to be copied.
    yield from (f"  {record}" for check in sheet.checks for record in check.records)


def _refit(sheet: Sheet, width: int) -> Iterator[str]:
    for number, refit in enumerate(sheet.refit, start=1):
        yield from _items(f" {number:>2} ", [refit_said(refit)], width)
        yield from _items("    - ", (f"New each time: {part}." for part in refit.one_use), width)


def _run(sheet: Sheet, width: int) -> Iterator[str]:
    yield from _items("  ! ", sheet.run_cautions, width)
    yield from _items("  - ", sheet.wash_and_run, width)
