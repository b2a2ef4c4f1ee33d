"""``leakdx next``: the next inspection of a job."""

from __future__ import annotations

import argparse
import shutil
import textwrap

from leakdx.advice.lookahead import FIRSTS, sentence_of
from leakdx.advice.next_look import NextLook, spoken
from leakdx.advice.proposal import Proposal
from leakdx.commands.output import print_json, steps

SHOWN = 8


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.parsers import chosen_job

    loaded = chosen_job(args.job)
    from leakdx.advice.next_look import Weigher, check_pair, next_of
    from leakdx.advice.solving import solve
    from leakdx.priors.read import shipped_priors

    pair = tuple(args.between) if args.between else None
    check_pair(loaded.machine, pair)
    names = ["following the fluid", "making ready for each look", "weighing them"]
    if args.ahead:
        names += [f"looking two looks ahead, {k + 1} of {FIRSTS}" for k in range(FIRSTS)]
    with steps(names) as step:
        step()
        priors = shipped_priors()
        solved = solve(loaded, priors)
        step()
        weigher = Weigher.of(loaded, priors)
        step()
        found = next_of(weigher, solved, step if args.ahead else None, pair)
    if args.json:
        print_json(found.to_json_dict())
    else:
        columns = shutil.get_terminal_size((100, 24)).columns
        print(text_of(found, columns))
        if args.ahead:
            print("\n" + two_ahead_text(found, columns))
    return 0


def text_of(found: NextLook, columns: int) -> str:
    """The answer for a terminal."""
    width = max(columns - 1, 60)
    lines = [*textwrap.wrap(found.sentence, width), ""]
    best = found.proposals[0] if found.proposals and found.stop is None else None
    if best is not None:
        if best.steps:
            taken = ", ".join(s.replace("_", " ") for s in best.steps)
            lines += textwrap.wrap(f"First: {taken}.", width, subsequent_indent="  ")
        if best.state:
            lines += textwrap.wrap(state_text(best), width, subsequent_indent="  ")
        lines += textwrap.wrap(_later_text(found, best), width, subsequent_indent="  ")
        if best.risks:
            said = f"Risk: {'; '.join(best.risks)}. Counted at {best.risk:.0f} minutes on average."
            lines += textwrap.wrap(said, width, subsequent_indent="  ")
        for caution in best.cautions:
            lines += textwrap.wrap(f"! {caution}", width, subsequent_indent="  ")
        lines += ["", "What it could show:"]
        lines += [
            f"  {100 * o.chance:3.0f} %  {spoken(o.label)}"
            for o in best.outcomes
            if o.chance > 0.005
        ]
        lines.append("")
    if found.proposals:
        lines.append(" minutes   bits  saves  look")
        for p in found.proposals[:SHOWN]:
            mark = "" if p.whole else "+"
            lines.append(f"{p.minutes:8.0f} {p.bits:6.2f}{mark:1}{p.gain:6.0f}  {p.name}"[:width])
        more = len(found.proposals) - SHOWN
        if more > 0:
            lines.append(f"         and {more} more looks")
        lines += textwrap.wrap(
            "bits: what it tells about all seal points together (+: at least); saves: minutes of "
            "the whole job on average, its own taken off",
            width,
        )
        lines.append("")
    lines += _plan_lines(found, width)
    return "\n".join(lines)


def state_text(best: Proposal) -> str:
    """The state that a look asks for, and what it takes to bring the machine there."""
    state = ", ".join(spoken(s) for s in best.state)
    said = f"The machine must be: {state}."
    if best.ready >= 0.5:
        said += f" Of the {best.minutes:.0f} minutes {best.ready:.0f} are for bringing it there"
        said += "," if best.waits else "."
    if best.waits:
        said += " and" if best.ready >= 0.5 else " Unless it is so already,"
        said += f" it stands about {best.waits / 60:.0f} h for that"
        said += " unless it is so already." if best.ready >= 0.5 else "."
    return said


def _later_text(found: NextLook, best: Proposal) -> str:
    """What a look does to others that are worth taking."""
    by_id = {p.inspection: p for p in found.proposals}
    lost = [by_id[s].name for s in best.spoils if by_id[s].fall > by_id[s].minutes]
    dear = [by_id[s].name for s in best.delays]
    said = []
    for looks, what in ((lost, "no longer possible as now"), (dear, "dearer")):
        if looks:
            more = f" and {len(looks) - 3} more" if len(looks) > 3 else ""
            said.append(f"After it {what}: {'; '.join(looks[:3])}{more}.")
    return " ".join(said)


def two_ahead_text(found: NextLook, columns: int) -> str:
    """What a first look and the best one after it save together, for a terminal."""
    width = max(columns - 1, 60)
    names = {p.inspection: p.name for p in found.proposals}
    lines = textwrap.wrap(sentence_of(found.two_ahead, names), width)
    if found.two_ahead:
        lines += ["", " saves  first look, and the best one after it"]
    for two in found.two_ahead:
        lines.append(f"{two.gain:6.0f}  {names[two.first]}"[:width])
        for outcome, then in (("wet", two.wet), ("dry", two.dry)):
            after = "stop looking" if then is None else names[then]
            lines.append(f"          {outcome} at {two.thing}: {after}"[:width])
    return "\n".join(lines)


def _plan_lines(found: NextLook, width: int) -> list[str]:
    telling, plan = found.telling, found.plan
    lines: list[str] = []
    if telling is not None:
        lines += textwrap.wrap(
            f"Tells {spoken(telling.first)} and {spoken(telling.second)} apart best: "
            f"{spoken(telling.inspection)}, at {spoken(telling.thing)}; wet speaks "
            f"{telling.wet:+.0f} decibans for the first, dry {telling.dry:+.0f}.",
            width,
        )
    if plan.seals:
        renew = ", ".join(spoken(s) for s in plan.seals)
        lines += textwrap.wrap(
            f"If you had to close it up now: renew {renew} together ({plan.said}); nothing else "
            f"leaks then with a chance of {100 * plan.dry:.0f} %.",
            width,
        )
    else:
        lines.append("If you had to close it up now, renewing would cost more than it is worth.")
    if found.left_out:
        signs = ", ".join(s.replace("_", " ") for s in found.left_out)
        lines += textwrap.wrap(
            f"Not counted in weighing the looks, to keep the sums exact: {signs}.", width
        )
    lines += textwrap.wrap(
        "Costs are reckoned in minutes of labour unless the job states prices; times of the "
        "shipped machines are invented.",
        width,
    )
    return lines
