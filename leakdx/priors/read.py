"""Reading prior files: the shipped ones, and others in their place."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from leakdx.files.checked import validated
from leakdx.files.places import priors_folder
from leakdx.files.yaml_lines import read_document
from leakdx.priors.model import PriorFile, Priors


def load_prior_file(path: str | Path) -> PriorFile:
    """One prior file, checked; FaultyInput with every fault otherwise."""
    return validated(PriorFile, read_document(path))


def joined(files: Iterable[PriorFile]) -> Priors:
    """All numbers of some files, each under "file.key"; a later file replaces numbers of
    an earlier one."""
    return Priors({f"{f.id}.{key}": q for f in files for key, q in f.numbers.items()})


@cache
def shipped_priors() -> Priors:
    """The numbers that come with the library."""
    folder = priors_folder()
    paths = sorted(p for p in folder.iterdir() if p.name.endswith(".yaml"))
    return joined(load_prior_file(p) for p in paths)
