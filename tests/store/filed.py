"""A store for tests, and small jobs in it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from leakdx.case.read import LoadedJob, load_job
from leakdx.store.places import FILE_NAME
from leakdx.store.store import CaseStore

ROOT = Path(__file__).parent.parent.parent
DATA = ROOT / "tests" / "data"
# What was seen of the pump stand, as plain data of a job file.
FILM = {"zone": "cover_top", "state": "film", "fluid": "gear_oil"}
DRY = {"zone": "cover_side", "state": "dry"}


def wet_foot() -> LoadedJob:
    """A job of nine entries on a machine that its file names."""
    return load_job(DATA / "wet_foot.yaml")


def begun(store: CaseStore, key: str = "begin") -> str:
    """The id of that job, in the store."""
    loaded = wet_foot()
    return store.begin(loaded.job, loaded.machine, key)


def raw(folder: Path) -> sqlite3.Connection:
    """The file of the store, as any other program sees it."""
    return sqlite3.connect(folder / FILE_NAME, isolation_level=None)


def rows(folder: Path) -> int:
    """How many rows all tables of the store have."""
    connection = raw(folder)
    tables = ("machines", "jobs", "events", "openings")
    try:
        return sum(connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in tables)
    finally:
        connection.close()
