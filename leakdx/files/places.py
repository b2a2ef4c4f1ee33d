"""Where the files are that come with the library."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose
from leakdx.files.yaml_lines import Document, parse_bytes


def priors_folder() -> Path:
    """The folder of prior files: inside the installed package, or beside it in a checkout.

    Raises:
        FileNotFoundError: where neither is there, so the installation is not whole.
    """
    package = Path(str(files("leakdx")))
    checkout = package.parent
    # In a checkout the folder beside the package is the one people edit, so it comes first;
    # the project file tells it from any folder "priors" among installed packages.
    if (checkout / "pyproject.toml").is_file() and (checkout / "priors").is_dir():
        return checkout / "priors"
    inside = package / "_priors"
    if inside.is_dir():
        return inside
    raise FileNotFoundError("the prior files of leakdx are missing; install it again")


def shipped_ids(kind: str) -> tuple[str, ...]:
    """Ids of the files in the library folder ``kind`` ("machines" or "jobs"), in order."""
    folder = files("leakdx").joinpath("library", kind)
    if not folder.is_dir():
        return ()
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".yaml") for name in names if name.endswith(".yaml")))


def shipped_document(kind: str, name: str) -> Document:
    """The document ``name`` in the library folder ``kind``.

    Raises:
        FaultyInput: where no such file is shipped.
    """
    known = shipped_ids(kind)
    what = kind.removesuffix("s")
    if name not in known:
        raise FaultyInput(
            [
                Fault(
                    "",
                    None,
                    "",
                    f"no {what} '{name}' comes with the library",
                    choose(name, known, what=what),
                )
            ]
        )
    inside = files("leakdx").joinpath("library", kind, f"{name}.yaml")
    return parse_bytes(inside.read_bytes(), f"{kind}/{name}.yaml")
