"""The tables of the case store, and how a store of an older leakdx is brought up to date.

Nothing is ever changed or deleted in any table: triggers see to it, whoever writes.
"""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

from leakdx.files.faults import Fault, FaultyInput
from leakdx.store.places import HOME
from leakdx.store.trouble import WAIT_SECONDS, damaged, told

# Says that a SQLite file is a store of leakdx ("ldxc").
APPLICATION = 0x6C647863


def _append_only(table: str, same: str) -> tuple[str, ...]:
    """Triggers that keep every row as it was written; ``same`` tells a row that is there."""
    refuse = f"SELECT RAISE(ABORT, '{table} only ever grows');"
    return (
        f"CREATE TRIGGER {table}_kept BEFORE UPDATE ON {table} BEGIN {refuse} END",
        f"CREATE TRIGGER {table}_there BEFORE DELETE ON {table} BEGIN {refuse} END",
        # INSERT OR REPLACE deletes without a DELETE trigger, so it has to be stopped here.
        f"CREATE TRIGGER {table}_once BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) BEGIN {refuse} END",
    )


_FIRST = (
    f"PRAGMA application_id = {APPLICATION}",
    """CREATE TABLE machines (
        digest TEXT PRIMARY KEY NOT NULL,
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        document TEXT NOT NULL
    )""",
    """CREATE TABLE jobs (
        id TEXT PRIMARY KEY NOT NULL,
        key TEXT NOT NULL UNIQUE,
        machine TEXT NOT NULL REFERENCES machines (digest)
    )""",
    """CREATE TABLE events (
        seq INTEGER PRIMARY KEY AUTOINCREMENT,
        job TEXT NOT NULL REFERENCES jobs (id),
        key TEXT NOT NULL,
        position INTEGER NOT NULL,
        happened TEXT NOT NULL,
        kind TEXT NOT NULL
            CHECK (kind IN ('begun', 'entered', 'conditions', 'costs', 'renamed')),
        body TEXT NOT NULL,
        UNIQUE (job, key, position)
    )""",
    "CREATE INDEX events_of_job ON events (job, seq)",
    """CREATE TABLE openings (
        seq INTEGER PRIMARY KEY AUTOINCREMENT,
        job TEXT NOT NULL REFERENCES jobs (id),
        happened TEXT NOT NULL
    )""",
    *_append_only("machines", "digest = NEW.digest"),
    *_append_only("jobs", "id = NEW.id OR key = NEW.key"),
    *_append_only(
        "events",
        "seq = NEW.seq OR (job = NEW.job AND key = NEW.key AND position = NEW.position)",
    ),
    *_append_only("openings", "seq = NEW.seq"),
)
# Which window wrote it, so that another window can tell of it.
_WINDOWS = ("ALTER TABLE events ADD COLUMN window TEXT NOT NULL DEFAULT ''",)

# What brings a store from each version to the next; only ever added to at the end.
MIGRATIONS: tuple[tuple[str, ...], ...] = (_FIRST, _WINDOWS)
VERSION = len(MIGRATIONS)


def _number(connection: sqlite3.Connection, sql: str) -> int:
    return int(connection.execute(sql).fetchone()[0])


def _refuse_others(connection: sqlite3.Connection, path: Path) -> None:
    """Stop before anything is written to a file that is not a store this leakdx knows.

    Raises:
        FaultyInput: for another kind of file, a damaged one, and the store of a newer leakdx.
    """
    version = _number(connection, "PRAGMA user_version")
    ours = _number(connection, "PRAGMA application_id") == APPLICATION
    empty = not version and not _number(connection, "SELECT count(*) FROM sqlite_master")
    if not ours and not empty:
        raise FaultyInput(
            [
                Fault(
                    str(path),
                    None,
                    "",
                    "is a database of something else, not a case store of leakdx",
                    "It was left as it is: move it elsewhere, or name another folder in the "
                    f"environment variable {HOME}.",
                )
            ]
        )
    if version > VERSION:
        raise FaultyInput(
            [
                Fault(
                    str(path),
                    None,
                    "",
                    f"was written by a newer leakdx (store version {version}; this one knows "
                    f"version {VERSION})",
                    "It was left as it is: install the newer leakdx again, or name another "
                    f"folder in the environment variable {HOME}.",
                )
            ]
        )
    said = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if said != "ok":
        raise damaged(path)


def _write_ahead(connection: sqlite3.Connection) -> None:
    """A log that is written ahead, if the disk can: readers then never wait for a writer."""
    # SQLite does not wait of itself where two first open a new store at the same moment.
    until = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
            if not busy or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            return


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the store up to this version, all in one transaction, or leave it as it was."""
    if _number(connection, "PRAGMA user_version") == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another process may have been quicker.
        version = _number(connection, "PRAGMA user_version")
        for steps in MIGRATIONS[version:]:
            for step in steps:
                connection.execute(step)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def connected(path: Path) -> sqlite3.Connection:
    """A connection to the store at ``path``, which is made or brought up to date if need be.

    For use by the thread that asked for it.

    Raises:
        FaultyInput: where the file is something else, damaged, of a newer leakdx, or cannot be
            read or written; it is then left as it is.
    """
    with told(path):
        connection = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
        try:
            _refuse_others(connection, path)
            _write_ahead(connection)
            # Whatever was acknowledged is on the disk, even when the power fails next.
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            migrate(connection)
        except BaseException:
            connection.close()
            raise
    return connection
