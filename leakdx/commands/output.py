"""What every command does alike: documents printed, and a bar while something takes long."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager


def print_json(document: object) -> None:
    """One JSON document on standard output."""
    print(json.dumps(document, indent=2, ensure_ascii=False))


@contextmanager
def steps(names: Sequence[str]) -> Iterator[Callable[[], None]]:
    """A bar on the terminal that moves on at each call; nothing where nobody watches."""
    watched = sys.stderr.isatty()
    done = 0

    def step() -> None:
        nonlocal done
        if watched:
            bar = "#" * (10 * done // len(names))
            print(f"\r[{bar:<10}] {names[done]} ...".ljust(60), end="", file=sys.stderr, flush=True)
        done += 1

    try:
        yield step
    finally:
        if watched:
            print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)
