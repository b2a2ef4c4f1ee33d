"""The case store: every job of this workshop in one file, written as it happens, never changed.

A job is the sum of its events.  What ``begin`` and ``append`` give back is on the disk, whole,
or they raise and nothing of it is.  Any number of processes may have the store open at once.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from leakdx.case.loaded import LoadedJob
from leakdx.case.model import Job
from leakdx.case.read import job_from
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose, plain
from leakdx.machine.model import Machine
from leakdx.store.changes import (
    Change,
    Entered,
    Plain,
    applied,
    begun_of,
    change_of,
    standing,
    summed,
    written,
)
from leakdx.store.checks import checked
from leakdx.store.machines import digest_of, machine_in, text_of
from leakdx.store.places import made_ready, usual_folder
from leakdx.store.schema import connected
from leakdx.store.trouble import damaged, told

_LONGEST_ID = 64
_LONGEST_KEY = 200
_SHELF = """
SELECT jobs.id, machines.id, machines.name,
    (SELECT body FROM events WHERE job = jobs.id AND kind IN ('begun', 'renamed')
        ORDER BY seq DESC LIMIT 1),
    (SELECT count(*) FROM events WHERE job = jobs.id AND kind = 'entered'),
    newest.happened
FROM jobs JOIN machines ON machines.digest = jobs.machine
JOIN events AS newest ON newest.seq = (SELECT max(seq) FROM events WHERE job = jobs.id)
ORDER BY newest.seq DESC
"""


@dataclass(frozen=True)
class Filed:
    """One job as it stands on the shelf.

    machine: the name of its machine.  entries: how many its timeline has.  changed: when it
    was written to last, ISO 8601 local time with offset.
    """

    id: str
    title: str
    machine: str
    machine_id: str
    entries: int
    changed: str

    @property
    def changed_said(self) -> str:
        """When it was written to last, to the minute: "2026-11-27 14:05"."""
        return self.changed[:16].replace("T", " ")


@dataclass(frozen=True)
class Kept:
    """A job as it is in the store; ``head`` grows with whatever is written to it."""

    loaded: LoadedJob
    head: int


@dataclass(frozen=True)
class Filing:
    """One change of a job, by whom and when (ISO 8601 local time with offset).

    window: that of the ``CaseStore`` that wrote it.  key: of the message it came with.
    """

    seq: int
    window: str
    change: Change
    when: str
    key: str


class CaseStore:
    """An open case store.  It belongs to the thread that opened it."""

    def __init__(self, folder: Path, path: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        # Tells what this one wrote from what others did.
        self.window = secrets.token_hex(8)
        self._path = path
        self._connection = connection
        self._version = self._data_version()

    @classmethod
    def open(cls, folder: Path | None = None) -> Self:
        """The store in ``folder``, made if there is none yet.

        Without a folder: the one named in the environment variable LEAKDX_HOME, or else the
        one this system has for the data of a user.

        Raises:
            FaultyInput: where it cannot be made, read or written, or is damaged, something
                else, or of a newer leakdx; it is then left as it is.
        """
        folder = usual_folder() if folder is None else folder
        path = made_ready(folder)
        connection = connected(path)
        with told(path):
            return cls(folder, path, connection)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; nothing else can be asked of this one afterwards."""
        with told(self._path):
            self._connection.close()

    # --- the shelf ------------------------------------------------------------------------

    def jobs(self) -> tuple[Filed, ...]:
        """All jobs, the one that was written to last first.

        Raises:
            FaultyInput: where the store cannot be read.
        """
        with told(self._path):
            rows = self._connection.execute(_SHELF).fetchall()
        return tuple(
            Filed(job_id, _title(body) or job_id, name, machine_id, entries, changed)
            for job_id, machine_id, name, body, entries, changed in rows
        )

    def opened(self, job_id: str) -> None:
        """Note that the job is the one being worked on.

        Raises:
            FaultyInput: where there is no such job, or the store cannot be written.
        """
        with self._writing():
            self._machine_text(job_id)
            self._connection.execute(
                "INSERT INTO openings (job, happened) VALUES (?, ?)", (job_id, _now())
            )

    def last_opened(self) -> str | None:
        """The job that was opened last, in whichever window; None where none ever was."""
        with told(self._path):
            row = self._connection.execute(
                "SELECT job FROM openings ORDER BY seq DESC LIMIT 1"
            ).fetchone()
        return None if row is None else str(row[0])

    # --- one job --------------------------------------------------------------------------

    def begin(self, job: Job, machine: Machine, key: str) -> str:
        """Write a new job, with its timeline and its machine; gives its id in the store.

        That is the id of the job, with a number after it where it is taken.  A key that began
        a job before writes nothing, and gives the id of that job.

        Raises:
            FaultyInput: with everything that is wrong with the job on that machine, or where
                the store cannot be written; nothing is written.
        """
        _check_key(key)
        text = text_of(machine)
        # Checked as it will be read: what cannot be read back is never written.
        data = applied(summed([begun_of(job)]), map(Entered, job.timeline))
        loaded = checked(data, machine_in(text))
        with self._writing() as connection:
            row = connection.execute("SELECT id FROM jobs WHERE key = ?", (key,)).fetchone()
            if row is not None:
                return str(row[0])
            job_id = self._free_id(job.id)
            begun = loaded.job.model_copy(update={"id": job_id})
            digest = digest_of(text)
            if self._one("SELECT 1 FROM machines WHERE digest = ?", digest) is None:
                connection.execute(
                    "INSERT INTO machines (digest, id, name, document) VALUES (?, ?, ?, ?)",
                    (digest, machine.id, machine.name, text),
                )
            connection.execute(
                "INSERT INTO jobs (id, key, machine) VALUES (?, ?, ?)", (job_id, key, digest)
            )
            entries = written(map(Entered, begun.timeline), begun)
            self._write(job_id, key, [begun_of(begun), *entries])
        return job_id

    def read(self, job_id: str) -> Kept:
        """The job as it is now, whoever wrote to it.

        Raises:
            FaultyInput: where there is no such job, or the store cannot be read.
        """
        with told(self._path):
            return self._kept(job_id)

    def append(self, job_id: str, changes: Sequence[Change], key: str) -> Kept:
        """Write changes to a job, all of them or none, after whatever others wrote meanwhile.

        ``key`` names the message they came with: where the job has it already nothing is
        written.  Gives the job as it is then.  Entries are numbered by their place in the
        timeline, so what is withdrawn or corrected stays the same entry whatever others add.
        Of several that set the same thing (conditions, costs, title) only the last is written.

        Raises:
            FaultyInput: with everything that would be wrong with the job, or where there is no
                such job or the store cannot be written; nothing is written.
        """
        _check_key(key)
        with self._writing():
            data, machine, _ = self._data(job_id)
            known = self._one("SELECT 1 FROM events WHERE job = ? AND key = ?", job_id, key)
            if known is not None or not changes:
                return self._kept(job_id)
            made = standing(changes)
            try:
                loaded = checked(applied(data, made), machine)
            except FaultyInput:
                # Where the job was at fault before, that is what has to be told.
                self._kept(job_id)
                raise
            head = self._write(job_id, key, written(made, loaded.job))
        return Kept(loaded, head)

    def since(self, job_id: str, head: int) -> tuple[Filing, ...]:
        """What was written to a job after ``head``, oldest first; what it began with is not told.

        Raises:
            FaultyInput: where there is no such job, or the store cannot be read.
        """
        with told(self._path):
            self._machine_text(job_id)
            rows = self._connection.execute(
                "SELECT seq, window, kind, body, happened, key FROM events "
                "WHERE job = ? AND seq > ? AND kind != 'begun' ORDER BY seq",
                (job_id, head),
            ).fetchall()
        with self._readable(job_id):
            return tuple(
                Filing(seq, window, change_of(kind, body), when, key)
                for seq, window, kind, body, when, key in rows
            )

    def moved(self) -> bool:
        """Whether another window has written to the store since this was last asked.

        Raises:
            FaultyInput: where the store cannot be read.
        """
        with told(self._path):
            version = self._data_version()
        moved, self._version = version != self._version, version
        return moved

    # --- within ---------------------------------------------------------------------------

    def _data_version(self) -> int:
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def _one(self, sql: str, *values: object) -> Any:
        """The first row, or None."""
        return self._connection.execute(sql, values).fetchone()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction in which nobody else writes; what raises in it takes it all back."""
        connection = self._connection
        with told(self._path):
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
                connection.execute("COMMIT")
            finally:
                # Still open only where something went wrong; a full disk has closed it itself.
                if connection.in_transaction:
                    connection.execute("ROLLBACK")

    def _write(self, job_id: str, key: str, rows: Sequence[tuple[str, str]]) -> int:
        """Add rows, as kind and body, that came with one message; gives the new head."""
        now = _now()
        for position, (kind, body) in enumerate(rows):
            self._connection.execute(
                "INSERT INTO events (job, key, position, happened, window, kind, body) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (job_id, key, position, now, self.window, kind, body),
            )
        return self._head(job_id)

    def _head(self, job_id: str) -> int:
        return int(self._one("SELECT max(seq) FROM events WHERE job = ?", job_id)[0])

    def _kept(self, job_id: str) -> Kept:
        """The job as it is now, checked on its machine."""
        data, machine, head = self._data(job_id)
        with self._readable(job_id):
            return Kept(job_from(data, machine), head)

    def _data(self, job_id: str) -> tuple[Plain, Machine, int]:
        """The plain data of a job, its machine, and its head: all of one moment."""
        text = self._machine_text(job_id)
        rows = self._connection.execute(
            "SELECT seq, kind, body FROM events WHERE job = ? ORDER BY seq", (job_id,)
        ).fetchall()
        with self._readable(job_id):
            data = summed((kind, body) for _, kind, body in rows)
            return data, machine_in(text), int(rows[-1][0])

    def _machine_text(self, job_id: str) -> str:
        """The machine of a job as it was written.

        Raises:
            FaultyInput: where there is no such job, or its machine is not as it was written.
        """
        row = self._one(
            "SELECT digest, document FROM jobs JOIN machines ON digest = machine WHERE jobs.id = ?",
            job_id,
        )
        if row is None:
            raise self._unknown(job_id)
        digest, text = row
        if digest_of(text) != digest:
            raise damaged(self._path, f"the machine of the job '{plain(job_id)}' was changed")
        return str(text)

    def _unknown(self, job_id: str) -> FaultyInput:
        known = [str(row[0]) for row in self._connection.execute("SELECT id FROM jobs")]
        problem = f"no job '{plain(job_id)}' is in the case store"
        return FaultyInput([Fault("", None, "", problem, choose(job_id, known, what="job"))])

    @contextmanager
    def _readable(self, job_id: str) -> Iterator[None]:
        """Tells what is wrong with a job that was written soundly as damage of the store."""
        try:
            yield
        except FaultyInput as error:
            raise FaultyInput(replace(f, file=str(self._path)) for f in error.faults) from None
        except ValueError as error:
            raise damaged(self._path, f"the job '{plain(job_id)}' cannot be read") from error

    def _free_id(self, wanted: str) -> str:
        """``wanted``, or the first of ``wanted_2``, ``wanted_3`` ... that no job has."""
        job_id, number = wanted, 1
        while self._one("SELECT 1 FROM jobs WHERE id = ?", job_id) is not None:
            number += 1
            ending = f"_{number}"
            job_id = wanted[: _LONGEST_ID - len(ending)].rstrip("_") + ending
        return job_id


def _title(body: str | None) -> str | None:
    """The title that a beginning or a renaming gives; None where it gives none."""
    try:
        data = json.loads(body or "")
        title = data.get("title", data.get("name"))
    except (ValueError, AttributeError):
        # The shelf is shown all the same; reading that job tells what is wrong with it.
        return None
    return title if isinstance(title, str) else None


def _check_key(key: str) -> None:
    if not 0 < len(key) <= _LONGEST_KEY:
        raise ValueError(f"a key has 1 to {_LONGEST_KEY} letters, not {len(key)}")


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")
