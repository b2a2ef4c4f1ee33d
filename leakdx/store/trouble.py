"""What SQLite cannot do, told as faults with a remedy."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from leakdx.files.faults import Fault, FaultyInput
from leakdx.store.places import HOME

WAIT_SECONDS = 10

_ELSEWHERE = f"name another folder in the environment variable {HOME}."
_KEPT = "It was left as it is; what was saved before is still there."
_TOLD: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_FULL: (
        "cannot grow: the disk is full",
        f"Make room on the disk and do it again. {_KEPT}",
    ),
    sqlite3.SQLITE_READONLY: (
        "may not be written",
        f"Ask for the right to write it and its folder, or {_ELSEWHERE}",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "cannot be opened",
        f"Ask for the right to write it and its folder, or {_ELSEWHERE}",
    ),
    sqlite3.SQLITE_IOERR: (
        "cannot be read or written: the disk reports an error",
        f"Look whether the disk is full or gone, and do it again. {_KEPT}",
    ),
    sqlite3.SQLITE_BUSY: (
        f"has been kept busy by another program for {WAIT_SECONDS} s",
        "Close other windows of leakdx and do it again; nothing was written.",
    ),
    sqlite3.SQLITE_NOTADB: (
        "is not a case store of leakdx",
        f"It was left as it is: move it elsewhere, or {_ELSEWHERE}",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "is damaged",
        f"It was left as it is: put a good copy in its place, move it elsewhere, or {_ELSEWHERE}",
    ),
}
# A locked table is told like a busy file; a file that must not be opened, as one that cannot.
_ALIKE = {
    sqlite3.SQLITE_LOCKED: sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_PERM: sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_AUTH: sqlite3.SQLITE_CANTOPEN,
}


def damaged(path: Path, what: str = "") -> FaultyInput:
    """The fault of a store in which something is not as it was written; ``what`` says what."""
    problem, remedy = _TOLD[sqlite3.SQLITE_CORRUPT]
    said = f"{problem}: {what}" if what else problem
    return FaultyInput([Fault(str(path), None, "", said, remedy)])


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Tells what goes wrong with the file, the disk or its rights as a fault of ``path``.

    Misuse (another thread, a closed store) is no fault of a person and passes through.

    Raises:
        FaultyInput: in place of an error of SQLite that a person can mend.
    """
    try:
        yield
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
        words = _TOLD.get(_ALIKE.get(code, code))
        if words is None:
            raise
        raise FaultyInput([Fault(str(path), None, "", *words)]) from error
