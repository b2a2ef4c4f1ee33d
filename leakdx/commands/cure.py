"""``leakdx cure``: whether a repair has cured it, and how long to run to be surer."""

from __future__ import annotations

import argparse
import shutil
import textwrap
from typing import TYPE_CHECKING

from leakdx.commands.output import print_json, steps

if TYPE_CHECKING:
    from leakdx.advice.cure import Cure, Held
    from leakdx.machine.model import Machine

# Joints with a column of their own.
COLUMNS = 3


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.commands.parsers import CURED_JOB, chosen_job

    loaded = chosen_job(args.job or CURED_JOB)
    from leakdx.advice.cure import STAGES, cure
    from leakdx.advice.cure_schema import document_of
    from leakdx.priors.read import shipped_priors

    with steps(STAGES) as step:
        found = cure(loaded, shipped_priors(), step)
    if args.json:
        print_json(document_of(found))
    else:
        columns = shutil.get_terminal_size((100, 24)).columns
        print(text_of(found, loaded.machine, columns))
    return 0


def text_of(found: Cure, machine: Machine, columns: int) -> str:
    """The answer for a terminal."""
    width = max(columns - 1, 60)
    from leakdx.advice.cure_text import course_lines, looked_words, needed_lines

    lines = [*textwrap.wrap(found.title, width), ""]
    for sentence in found.sentences:
        lines += textwrap.wrap(f"- {sentence}", width, subsequent_indent="  ")
    shown = found.joints[:COLUMNS]
    if found.course:
        lines += ["", "What each reading since the repair did:"]
        lines += _legend(shown, width)
        assert found.before is not None
        numbers = "".join(f"{100 * p:6.1f} %" for p in (found.before, *(j.before for j in shown)))
        lines.append(f"{numbers}  right after the repair")
        for line in course_lines(machine, found.course, shown):
            lines += textwrap.wrap(line, width, subsequent_indent=" " * (8 * len(shown) + 10))
    if found.again is not None:
        lines += ["", "Most likely to leak now:"]
        for r in found.again.ranking[:5]:
            line = f"  {100 * r.leaks:5.1f} %  {r.name}{_renewed(found, r.seal_point)}"
            lines += textwrap.wrap(line, width, subsequent_indent=" " * 11)
    if found.proof is not None:
        proof = found.proof
        lines += ["", "Wash it whole, run it at working temperature, look. If all is dry then:"]
        lines += [line[:width] for line in needed_lines(proof.needed, proof.now)]
        lines += textwrap.wrap(looked_words(proof, fewer_ways=proof.detail > found.detail), width)
        if proof.helps:
            lines += ["", "What else helps, with the longest drive:", "    holds     dry"]
            lines += [
                f"{100 * h.holds:7.1f} %{100 * h.dry:6.1f} %  {h.what}"[:width] for h in proof.helps
            ]
        lines += ["", *textwrap.wrap(_counting(found), width)]
    lines += ["", *textwrap.wrap(found.next_step, width)]
    for caution in found.cautions:
        lines += textwrap.wrap(f"! {caution}", width, subsequent_indent="  ")
    return "\n".join(lines)


def _legend(shown: tuple[Held, ...], width: int) -> list[str]:
    letters = "abcdefgh"
    lines = ["   none" + "".join(f"{letters[k]:>8}" for k in range(len(shown)))]
    said = "none: nothing leaks at all; " + "; ".join(
        f"{letters[k]}: {joint.name} holds" for k, joint in enumerate(shown)
    )
    return [*textwrap.wrap(said, width), *lines]


def _renewed(found: Cure, seal_point: str) -> str:
    return " (renewed)" if seal_point in found.renewed else ""


def _counting(found: Cure) -> str:
    """What counting runs alone would ask for, beside what the network says."""
    assert found.proof is not None
    runs = ", ".join(
        f"{n} for {100 * sure:.0f} %"
        for sure, n in zip((0.9, 0.95, 0.99), found.proof.looks_needed, strict=True)
    )
    return (
        f"A driven hour shows a leak of what was renewed with {100 * found.proof.shows:.0f} %, if "
        "there is one. By counting alone, with nothing known before and every run alike, that "
        f"takes such runs dry in a row: {runs}."
    )
