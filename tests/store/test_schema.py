"""The file of the store: made private, only ever grown, brought up to date, never overwritten."""

from __future__ import annotations

import os
import resource
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import platformdirs
import pytest

from leakdx.files.faults import FaultyInput
from leakdx.store import schema
from leakdx.store.changes import Entered
from leakdx.store.places import FILE_NAME, made_ready, usual_folder
from leakdx.store.schema import MIGRATIONS, VERSION
from leakdx.store.store import CaseStore
from leakdx.store.trouble import told
from tests.store.filed import DRY, ROOT, begun, raw, rows, wet_foot

VERSION_1 = (Path(__file__).parent / "version_1.sql").read_text()
TABLES = ("machines", "jobs", "events", "openings")
# What each test of a bad file is told, beside the name of the file.
LEFT = "It was left as it is"


def refused(folder: Path) -> str:
    """What is said of a store that cannot be opened; it and its folder stay as they were."""
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    with pytest.raises(FaultyInput) as caught:
        CaseStore.open(folder)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
    (fault,) = caught.value.faults
    assert fault.file == str(folder / FILE_NAME)
    assert LEFT in fault.remedy
    return fault.problem


def written(folder: Path, entries: int = 1) -> None:
    """A store with a job, closed."""
    with CaseStore.open(folder) as store:
        job_id = begun(store)
        for n in range(entries):
            store.append(job_id, [Entered(DRY)], f"k{n}")


# --- where it is ------------------------------------------------------------------------------


def test_the_environment_names_the_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEAKDX_HOME", str(tmp_path / "mine"))
    assert usual_folder() == tmp_path / "mine"
    with CaseStore.open() as store:
        assert store.folder == tmp_path / "mine"
    assert (tmp_path / "mine" / FILE_NAME).is_file()
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("LEAKDX_HOME", "~/here")
    assert usual_folder() == tmp_path / "here"


@pytest.mark.parametrize("value", [None, "", "  "])
def test_without_a_name_it_is_the_users_own(
    monkeypatch: pytest.MonkeyPatch, value: str | None
) -> None:
    monkeypatch.delenv("LEAKDX_HOME", raising=False)
    if value is not None:
        monkeypatch.setenv("LEAKDX_HOME", value)
    assert usual_folder() == platformdirs.user_data_path("leakdx", appauthor=False)


def test_only_the_user_may_read_it(tmp_path: Path) -> None:
    mask = os.umask(0)
    try:
        folder = tmp_path / "a" / "cases"
        with CaseStore.open(folder) as store:
            begun(store)
            found = {p.name: p.stat().st_mode & 0o777 for p in folder.iterdir()}
        assert folder.stat().st_mode & 0o777 == 0o700
        assert set(found) == {FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"}
        assert set(found.values()) == {0o600}
    finally:
        os.umask(mask)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for folder in (tmp_path / "file", tmp_path / "file" / "cases"):
        with pytest.raises(FaultyInput, match="cannot be made or written") as caught:
            CaseStore.open(folder)
        assert "LEAKDX_HOME" in caught.value.faults[0].remedy
    assert (tmp_path / "file").read_text() == "x"


# --- files that are no store ------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"hello", b"format: leakdx-job/1\n" * 500, os.urandom(9000)])
def test_a_file_of_something_else_is_left(tmp_path: Path, content: bytes) -> None:
    (tmp_path / FILE_NAME).write_bytes(content)
    assert refused(tmp_path) == "is not a case store of leakdx"


@pytest.mark.parametrize("marked", [0, 77])
def test_a_database_of_something_else_is_left(tmp_path: Path, marked: int) -> None:
    connection = raw(tmp_path)
    connection.execute("CREATE TABLE jobs (id)")
    connection.execute(f"PRAGMA application_id = {marked}")
    connection.close()
    assert "database of something else" in refused(tmp_path)


def _cut(path: Path) -> None:
    os.truncate(path, path.stat().st_size - 5000)


def _overwritten(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096:12288] = b"\xff" * 8192
    path.write_bytes(content)


@pytest.mark.parametrize("damage", [_cut, _overwritten])
def test_a_damaged_store_is_left(tmp_path: Path, damage: Callable[[Path], None]) -> None:
    written(tmp_path, 40)
    damage(tmp_path / FILE_NAME)
    assert refused(tmp_path) == "is damaged"


def test_the_store_of_a_newer_leakdx_is_left(tmp_path: Path) -> None:
    written(tmp_path)
    connection = raw(tmp_path)
    connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()
    assert refused(tmp_path) == (
        f"was written by a newer leakdx (store version {VERSION + 1}; this one knows version "
        f"{VERSION})"
    )


def test_an_empty_file_becomes_a_store(tmp_path: Path) -> None:
    """As a crash before anything was written leaves it."""
    (tmp_path / FILE_NAME).touch()
    written(tmp_path)
    assert rows(tmp_path) == 1 + 1 + 11


def test_a_new_file_that_another_is_writing_is_waited_for(tmp_path: Path) -> None:
    """Two windows that make the store at the same moment; SQLite itself would not wait here."""
    other = sqlite3.connect(made_ready(tmp_path), isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    later = threading.Timer(0.3, other.execute, ["ROLLBACK"])
    later.start()
    written(tmp_path)
    later.join()
    other.close()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE machines SET document = replace(document, 'Pump', 'Dump')", "was changed"),
        ("UPDATE events SET body = '{' WHERE seq = 4", "cannot be read"),
        ("UPDATE events SET body = '[]' WHERE kind = 'begun'", "cannot be read"),
        ("DELETE FROM events WHERE kind = 'begun'", "cannot be read"),
        ("UPDATE events SET body = replace(body, 'foot_left', 'nowhere')", "nowhere"),
    ],
)
def test_a_job_that_is_not_as_it_was_written(tmp_path: Path, change: str, said: str) -> None:
    written(tmp_path)
    connection = raw(tmp_path)
    for table in TABLES:
        for ending in ("kept", "there"):
            connection.execute(f"DROP TRIGGER {table}_{ending}")
    connection.execute(change)
    with CaseStore.open(tmp_path) as store:
        for ask in (
            lambda: store.read("wet_foot"),
            lambda: store.append("wet_foot", [Entered({"zone": "drip_tray"})], "k"),
        ):
            with pytest.raises(FaultyInput, match=said) as caught:
                ask()
            assert {f.file for f in caught.value.faults} == {str(tmp_path / FILE_NAME)}
        # The shelf is shown all the same.
        assert [job.id for job in store.jobs()] == ["wet_foot"]
    connection.close()


# --- only ever grown --------------------------------------------------------------------------


@pytest.mark.parametrize("table", TABLES)
def test_no_row_is_changed_or_deleted_by_anyone(tmp_path: Path, table: str) -> None:
    with CaseStore.open(tmp_path) as store:
        store.opened(begun(store))
    connection = raw(tmp_path)
    before = connection.execute(f"SELECT * FROM {table}").fetchall()
    assert before
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    again = f"INTO {table} ({', '.join(columns)}) SELECT {', '.join(columns)} FROM {table}"
    for sql in (
        f"UPDATE {table} SET {columns[0]} = {columns[0]}",
        f"DELETE FROM {table}",
        f"INSERT OR REPLACE {again}",
    ):
        with pytest.raises(sqlite3.IntegrityError, match="only ever grows"):
            connection.execute(sql)
    assert connection.execute(f"SELECT * FROM {table}").fetchall() == before
    connection.close()


def test_a_message_cannot_be_written_over(tmp_path: Path) -> None:
    """Under a sequence number of its own it would be another row, were its key not unique."""
    written(tmp_path)
    connection = raw(tmp_path)
    columns = "job, key, position, happened, window, kind, body"
    with pytest.raises(sqlite3.IntegrityError, match="only ever grows"):
        connection.execute(
            f"INSERT OR REPLACE INTO events ({columns}) SELECT {columns} FROM events LIMIT 1"
        )
    connection.close()


def test_what_is_acknowledged_is_on_the_disk(tmp_path: Path) -> None:
    with CaseStore.open(tmp_path) as store:
        connection = store._connection
        found = {
            name: connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
        assert found == {
            "journal_mode": "wal",
            "synchronous": 2,
            "foreign_keys": 1,
            "busy_timeout": 10_000,
        }
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            connection.execute("INSERT INTO openings (job, happened) VALUES ('none', '')")


# --- versions ---------------------------------------------------------------------------------


def version_1(folder: Path) -> None:
    """A store as an older leakdx left it, written out by hand."""
    connection = raw(folder)
    connection.executescript(VERSION_1)
    connection.close()


def columns_of(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    connection = raw(folder)
    try:
        return {
            table: [row[1:] for row in connection.execute(f"PRAGMA table_info({table})")]
            for table in TABLES
        }
    finally:
        connection.close()


def test_an_older_store_is_brought_up_to_date(tmp_path: Path) -> None:
    version_1(tmp_path)
    assert "window" not in {column[0] for column in columns_of(tmp_path)["events"]}
    with CaseStore.open(tmp_path) as store:
        kept = store.read("wet_foot").loaded
        assert kept.machine == wet_foot().machine
        assert kept.job.timeline == wet_foot().job.timeline[:3]
        assert kept.job.name == 'It\'s wet; "foot"\nsecond line'
        assert store.last_opened() == "wet_foot"
        assert {f.window for f in store.since("wet_foot", 0)} == {""}
        head = store.append("wet_foot", [Entered(DRY)], "k").head
        assert head == 5
        assert store.since("wet_foot", 4)[0].window == store.window
        # The message that began it is still known.
        assert begun(store, "k1") == "wet_foot"
    (tmp_path / "new").mkdir()
    written(tmp_path / "new")
    assert columns_of(tmp_path) == columns_of(tmp_path / "new")
    with CaseStore.open(tmp_path) as store:
        assert len(store.read("wet_foot").loaded.job.timeline) == 4


def test_a_migration_that_fails_leaves_the_older_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    version_1(tmp_path)
    before = columns_of(tmp_path)
    broken = (*MIGRATIONS[1], "CREATE TABLE another (x)", "CREATE TABLE another (x)")
    monkeypatch.setattr(schema, "MIGRATIONS", (MIGRATIONS[0], broken))
    with pytest.raises(sqlite3.OperationalError, match="another already exists"):
        CaseStore.open(tmp_path)
    assert columns_of(tmp_path) == before
    monkeypatch.undo()
    with CaseStore.open(tmp_path) as store:
        assert len(store.read("wet_foot").loaded.job.timeline) == 3


def test_the_next_version_comes_after_these(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One more step at the end is all that a change of the tables takes."""
    written(tmp_path)
    monkeypatch.setattr(schema, "MIGRATIONS", (*MIGRATIONS, ("CREATE TABLE more (x)",)))
    monkeypatch.setattr(schema, "VERSION", VERSION + 1)
    with CaseStore.open(tmp_path) as store:
        assert store.jobs()[0].entries == 10
    connection = raw(tmp_path)
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION + 1,)
    connection.close()
    monkeypatch.undo()
    assert "newer leakdx" in refused(tmp_path)


# --- what the disk cannot do ------------------------------------------------------------------


def test_a_full_disk_is_told_and_loses_nothing(tmp_path: Path) -> None:
    with CaseStore.open(tmp_path) as store:
        job_id = begun(store)
        pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
        store._connection.execute(f"PRAGMA max_page_count = {pages}")
        long = DRY | {"note": "n" * 9000}
        with pytest.raises(FaultyInput, match="disk is full") as caught:
            for n in range(100):
                store.append(job_id, [Entered(DRY), Entered(long)], f"k{n}")
        assert "Make room" in caught.value.faults[0].remedy
        # Each message is there whole or not at all, and later ones are taken again.
        assert len(store.read(job_id).loaded.job.timeline) % 2 == 9 % 2
        store._connection.execute("PRAGMA max_page_count = 1000000")
        store.append(job_id, [Entered(long)], "later")
    with CaseStore.open(tmp_path) as store:
        assert store.read(job_id).loaded.job.timeline[-1].note == "n" * 9000


def test_a_disk_that_takes_no_more_is_told(tmp_path: Path) -> None:
    """A process that may write no larger files, as on a disk that fails while writing."""
    written(tmp_path, 0)
    script = (
        "import sys; from pathlib import Path\n"
        "from leakdx.files.faults import FaultyInput\n"
        "from leakdx.store.changes import Entered\n"
        "from leakdx.store.store import CaseStore\n"
        "store = CaseStore.open(Path(sys.argv[1]))\n"
        "try:\n"
        f"    entry = {DRY!r} | {{'note': 'n' * 9000}}\n"
        "    for n in range(1000):\n"
        "        store.append('wet_foot', [Entered(entry)], str(n))\n"
        "        print(n, flush=True)\n"
        "except FaultyInput as error:\n"
        "    print(error.faults[0].problem)\n"
    )

    def limited() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))

    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        preexec_fn=limited,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    *numbers, said = done.stdout.splitlines()
    assert done.returncode == 0, done.stderr
    assert "disk" in said
    assert 0 < len(numbers) < 1000
    with CaseStore.open(tmp_path) as store:
        assert len(store.read("wet_foot").loaded.job.timeline) == 9 + len(numbers)


def test_a_store_that_may_not_be_written_is_told(tmp_path: Path) -> None:
    with CaseStore.open(tmp_path) as store:
        job_id = begun(store)
        store._connection.execute("PRAGMA query_only = ON")
        with pytest.raises(FaultyInput, match="may not be written") as caught:
            store.append(job_id, [Entered(DRY)], "k")
        assert "LEAKDX_HOME" in caught.value.faults[0].remedy
        assert len(store.read(job_id).loaded.job.timeline) == 9


def test_a_store_kept_busy_is_told(tmp_path: Path) -> None:
    with CaseStore.open(tmp_path) as store:
        job_id = begun(store)
        store._connection.execute("PRAGMA busy_timeout = 50")
        writer = raw(tmp_path)
        writer.execute("BEGIN IMMEDIATE")
        with pytest.raises(FaultyInput, match="kept busy"):
            store.append(job_id, [Entered(DRY)], "k")
        writer.close()
        store.append(job_id, [Entered(DRY)], "k")


def test_a_mistake_in_a_program_is_no_fault_of_a_person(tmp_path: Path) -> None:
    path = made_ready(tmp_path)
    with pytest.raises(sqlite3.OperationalError, match="syntax"), told(path):
        raw(tmp_path).execute("SELEC")
    store = CaseStore.open(tmp_path)
    store.close()
    with pytest.raises(sqlite3.ProgrammingError, match="closed"):
        store.jobs()
