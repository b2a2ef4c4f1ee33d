"""``leakdx why``: the reasons for the ranking of a job, what disagrees, and how firm it is."""

from __future__ import annotations

import argparse
import shutil
import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from leakdx.commands.output import print_json, steps

if TYPE_CHECKING:
    from leakdx.reasons.account import Account

# Routes and numbers told of; the rest is in --json.
ROUTES, NUMBERS = 3, 6


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.parsers import chosen_job

    loaded = chosen_job(args.job)
    from leakdx.priors.read import shipped_priors
    from leakdx.reasons.account import STAGES, why
    from leakdx.reasons.why_schema import document_of

    with steps(STAGES) as step:
        found = why(loaded, shipped_priors(), args.seal, args.draws, step)
    if args.picture is not None:
        from leakdx.drawing.command import write
        from leakdx.reasons.picture import picture_of

        drawn = picture_of(found.solved, found.candidates[0].seal_point)
        write(Path(args.picture), drawn)
    if args.json:
        print_json(document_of(found))
    else:
        print(text_of(found, shutil.get_terminal_size((100, 24)).columns))
        if args.picture is not None:
            print(f"\nThe way of the fluid is drawn in {args.picture}.")
    return 0


def text_of(found: Account, columns: int) -> str:
    """The answer for a terminal."""
    width = max(columns - 1, 60)
    from leakdx.advice.words import percent

    first = found.candidates[0]
    lines = [f"{found.title}", ""]
    lines += _wrapped(f"{first.name}: leaks with {percent(first.leaks)}.", width)
    lines += _headed("For and against", (c.sentence for c in found.candidates), width)
    lines += ["", *_weights(found, width)]
    lines += _headed("If a reading were wrong", dict.fromkeys(found.doubts), width)
    lines += _headed("Do the readings agree?", found.conflict.sentences, width)
    lines += _headed("What else could be behind it", found.rivals.sentences, width)
    lines += _headed("Leaks together", found.together.sentences, width)
    lines += _headed("The way of the fluid", (s for _, s in found.routes[:ROUTES]), width)
    lines += _headed("How firm is it?", found.firmness.sentences, width)
    lines += ["", *_swings(found, width)]
    lines += ["", "What to look at now: leakdx next"]
    return "\n".join(lines)


def _headed(title: str, sentences: Iterable[str], width: int) -> list[str]:
    lines = [line for s in sentences for line in _wrapped(f"- {s}", width, "  ")]
    return ["", title, *lines] if lines else []


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent)


def _weights(found: Account, width: int) -> list[str]:
    weights = found.weights
    column = weights.claims.index(found.candidates[0].seal_point)
    lines = _wrapped(f"Each reading for {found.candidates[0].name}, in decibans", width)
    lines.append(" in order    alone  left out   reading")
    for k, label in enumerate(weights.readings):
        three = (weights.in_order, weights.alone, weights.left_out)
        numbers = "  ".join(f"{float(w[k, column]):+7.1f}" for w in three)
        lines.append(f"  {numbers}   {label}"[:width])
    before, after = float(weights.before[column]), float(weights.after[column])
    total = float(weights.in_order[:, column].sum())
    lines += _wrapped(
        f"In order they add up to {total:+.1f}: from {before:+.1f} before anything was looked at "
        f"to {after:+.1f}."
        + ("" if weights.adds_up else " Some chance is all but 0 or 1, where decibans stop."),
        width,
    )
    lines += _wrapped(
        "10 decibans are ten times the odds, 3 about twice. In order: as it joined those before "
        "it. Alone: as if nothing else had been read. Left out: what would be lost without it. "
        "Two readings that say the same count twice in alone and in neither in left out.",
        width,
    )
    return lines


def _swings(found: Account, width: int) -> list[str]:
    if not found.swings:
        return []
    lines = _wrapped(f"Which number matters most for {found.candidates[0].name}", width)
    lines.append("    low    high   number (all others as stated)")
    for swing in found.swings[:NUMBERS]:
        lines.append(f"{100 * swing.low:5.0f} % {100 * swing.high:5.0f} %   {swing.key}"[:width])
    lines += _wrapped(
        "Low and high: its chance to leak with that number at its 10th and its 90th percentile.",
        width,
    )
    return lines
