"""``leakdx new``: a machine file of one's own, by choosing from a layout."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from leakdx.commands.output import print_json
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.files.words import choose, listed, shown
from leakdx.kit.model import Build, Choice, Layout, Option
from leakdx.kit.wishing import USUAL_NAME, build_as, said, understood

FORMAT = "leakdx-new/1"


@dataclass(frozen=True)
class Wish:
    """What was asked for on the command line; None where it was not."""

    layout: str | None
    options: Mapping[str, str]
    id: str | None
    name: str | None
    out: str | None


def _fault(path: str, problem: str, remedy: str) -> FaultyInput:
    return FaultyInput([Fault("", None, path, problem, remedy)])


def _pairs(given: Sequence[str]) -> dict[str, str]:
    wrong = [text for text in given if "=" not in text]
    if wrong:
        raise FaultyInput(
            Fault("", None, "--set", f"is {shown(text)}", "Write it as option=choice.")
            for text in wrong
        )
    return dict(text.split("=", 1) for text in given)


def choices_of(layout: Layout, given: Mapping[str, str]) -> dict[str, Choice]:
    """What was chosen on the command line.

    Raises:
        FaultyInput: with every option the layout lacks and every choice it does not offer.
    """
    known = {option.id: option for option in layout.options}
    faults: list[Fault] = []
    made: dict[str, Choice] = {}
    for name, text in given.items():
        path = f"--set {name}={text}"
        if name not in known:
            problem = f"names '{name}', an option that the layout '{layout.id}' lacks"
            faults.append(Fault("", None, path, problem, choose(name, known, what="option")))
            continue
        choice = understood(known[name], text)
        if choice is None:
            offered = listed(said(c) for c in known[name].choices)
            problem = f"is not offered by the layout '{layout.id}'"
            faults.append(Fault("", None, path, problem, f"Use one of: {offered}."))
        else:
            made[name] = choice
    if faults:
        raise FaultyInput(faults)
    return made


def _asked(question: str, usual: str) -> str:
    """An answer from the keyboard; empty means the usual one."""
    print(f"{question} [{usual}] ", end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    return line.strip() or usual


def _ask_option(option: Option) -> Choice:
    offered = ", ".join(said(c) for c in option.choices)
    while True:
        choice = understood(option, _asked(f"{option.ask} ({offered})", said(option.usual)))
        if choice is not None:
            return choice
        print(f"  Please answer with one of: {offered}.", file=sys.stderr)


def _ask_layout(known: Sequence[str]) -> str:
    from leakdx.kit.read import load_shipped_layout

    print("Which of these is most like your machine?", file=sys.stderr)
    for i, name in enumerate(known, 1):
        print(f"  {i:2}  {load_shipped_layout(name).layout.name}", file=sys.stderr)
    while True:
        answer = _asked("Its number or id", "1")
        if answer.isdigit() and 1 <= int(answer) <= len(known):
            return known[int(answer) - 1]
        if answer in known:
            return answer
        print(f"  Please answer with a number from 1 to {len(known)}.", file=sys.stderr)


def _layout(wish: Wish, ask: bool) -> Layout:
    from leakdx.kit.read import load_shipped_layout, shipped_layouts

    known = shipped_layouts()
    name = wish.layout
    if name is None and ask:
        name = _ask_layout(known)
    if name is None:
        raise _fault("--layout", "is missing", f"Use one of: {listed(known, most=30)}.")
    return load_shipped_layout(name).layout


def wished(wish: Wish, ask: bool) -> Build:
    """The build that is wished for; what is not said is asked for, or else as usual.

    Raises:
        FaultyInput: with all that is wrong with what was given.
    """
    layout = _layout(wish, ask)
    chosen = choices_of(layout, wish.options)
    for option in layout.options:
        if option.id not in chosen:
            chosen[option.id] = _ask_option(option) if ask else option.usual
    name = wish.name
    if name is None:
        name = _asked("What do you call the machine?", USUAL_NAME) if ask else USUAL_NAME
    return build_as(layout, chosen, name, wish.id)


def run(args: argparse.Namespace) -> int:
    """Do what the command says; gives the exit code."""
    from leakdx.files.save import dump_yaml, save
    from leakdx.files.yaml_lines import parse_bytes
    from leakdx.kit.read import build_of

    ask = sys.stdin.isatty() and not args.usual and not args.json
    build = wished(Wish(args.layout, _pairs(args.set), args.id, args.name, args.out), ask)
    path = Path(args.out or f"{build.id}.yaml")
    if path.exists():
        raise FaultyInput(
            [
                Fault(
                    str(path),
                    None,
                    "",
                    "is there already and is left as it is",
                    "Name another file with --out, or remove that one first.",
                )
            ]
        )
    # Read back before it is written: a file that does not validate is never left behind.
    machine = build_of(parse_bytes(dump_yaml(build).encode(), str(path)), None)
    save(build, path)
    counts = {
        "zones": len(machine.zones),
        "seal_points": len(machine.seal_points),
        "inspections": len(machine.inspections),
        "fluids": len(machine.fluids),
    }
    if args.json:
        print_json({"format": FORMAT, "file": str(path), "id": machine.id, "counts": counts})
        return 0
    print(
        f"{path}: machine '{machine.id}' with {counts['zones']} zones, "
        f"{counts['seal_points']} seal points and {counts['inspections']} inspections.\n"
        f"Look at it: leakdx show {path}\n"
        "In a job file it is named so:\n"
        f'machine: {{id: {machine.id}, version: "{machine.version}", file: {path.name}}}'
    )
    return 0


def json_schema() -> Schema:
    """The schema of what ``leakdx new --json`` prints."""
    count: Schema = {"type": "integer", "minimum": 0}
    counts = dict.fromkeys(("zones", "seal_points", "inspections", "fluids"), count)
    return {
        "$schema": DIALECT,
        "$id": "leakdx:new/1",
        "title": "New",
        "description": "A machine file that was written.",
        **closed(
            {
                "format": {"const": FORMAT},
                "file": {"type": "string", "description": "the machine file that was written"},
                "id": {"type": "string"},
                "counts": closed(counts),
            }
        ),
    }
