"""Where the case store is on this machine, and that nobody else may read it."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

from leakdx.files.faults import Fault, FaultyInput

HOME = "LEAKDX_HOME"
FILE_NAME = "cases.sqlite3"


def usual_folder() -> Path:
    """The folder that LEAKDX_HOME names, or else the one this system has for data of a user."""
    named = os.environ.get(HOME, "")
    if named.strip():
        return Path(named).expanduser().absolute()
    return user_data_path("leakdx", appauthor=False)


def made_ready(folder: Path) -> Path:
    """The path of the store in ``folder``; both are made, for the user alone, if not there.

    Raises:
        FaultyInput: where they cannot be made.
    """
    path = folder / FILE_NAME
    try:
        if not folder.is_dir():
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Made here and not by SQLite, so that it is private in an open folder too; its
        # neighbours (the log that is written ahead) take their rights from it.
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise FaultyInput(
            [
                Fault(
                    str(path),
                    None,
                    "",
                    f"cannot be made or written ({error.strerror or error})",
                    "Ask for the right to write there, or name another folder in the "
                    f"environment variable {HOME}.",
                )
            ]
        ) from error
    return path
