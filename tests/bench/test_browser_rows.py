"""The rows of the page, without a browser: what is missing is said, and what is made of taps."""

from __future__ import annotations

import builtins
import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from leakdx.bench import browser_rows, command, main, page_taps
from leakdx.bench.browser_rows import BROWSER_ROWS
from leakdx.bench.page_taps import NoBrowser, Taps, page_server, shown_after
from leakdx.bench.problem import Bench
from leakdx.bench.report import NOT_ASKED, Row, json_schema
from leakdx.bench.rows import ROWS

JOB = str(Path(__file__).parents[1] / "data" / "wet_foot.yaml")
# Seconds; of all 100 together, 95 are at most 0.095.
AT_ONCE = tuple(k / 1000 for k in range(1, 51))
BUSY = tuple(k / 1000 for k in range(51, 101))


@pytest.fixture
def no_chromium(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LEAKDX_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", "")


@pytest.fixture
def pretended(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """In place of Chromium and its taps; how many taps or openings each row asked for."""
    asked: list[int] = []

    @contextmanager
    def window() -> Iterator[None]:
        yield

    def taps(loaded: object, folder: Path, window: object, count: int) -> Taps:
        assert folder.is_dir() and not any(folder.iterdir())
        asked.append(count)
        return Taps(AT_ONCE, BUSY)

    def opening(loaded: object, folder: Path, window: object) -> float:
        assert folder.is_dir() and not any(folder.iterdir())
        asked.append(1)
        return float(len(asked))

    monkeypatch.setattr(browser_rows, "browser", window)
    monkeypatch.setattr(browser_rows, "taps_of", taps)
    monkeypatch.setattr(browser_rows, "opening_time", opening)
    return asked


@pytest.fixture
def asked_for(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The rows and tables that a command measures; each takes no time."""
    measured: list[str] = []

    def quick(name: str) -> Any:
        def row(bench: Bench) -> Row:
            measured.append(name)
            return Row(name, name, "", 3, 1.0, 0.0, "s")

        return row

    rows = {name: quick(name) for name in (*ROWS, *BROWSER_ROWS)}
    monkeypatch.setattr(command, "all_rows", lambda: rows)
    monkeypatch.setattr(command, "shipped_layouts", lambda: ())
    return measured


def printed(capsys: pytest.CaptureFixture[str], code: int, *args: str) -> dict[str, Any]:
    assert main(["--job", JOB, "--json", *args]) == code
    document: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json_schema()).validate(document)
    return document


@pytest.mark.parametrize("name", ["tap", "open"])
@pytest.mark.usefixtures("no_chromium")
def test_a_missing_chromium_is_said(capsys: pytest.CaptureFixture[str], name: str) -> None:
    (row,) = printed(capsys, 1, "--only", name)["rows"]
    assert row["median"] is None and row["spread"] is None and row["repeats"] == 0
    (said,) = row["notes"]
    assert said.endswith("Chromium was not found: install it, or name it in LEAKDX_CHROMIUM")


@pytest.mark.usefixtures("no_chromium")
def test_a_missing_chromium_is_said_in_the_table_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--job", JOB, "--only", "tap"]) == 1
    said = capsys.readouterr().out
    assert "failed" in said and "name it in LEAKDX_CHROMIUM" in said
    assert "Traceback" not in said


@pytest.mark.usefixtures("no_chromium")
def test_a_chromium_named_in_the_environment_that_is_not_there_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    named = str(tmp_path / "nowhere")
    monkeypatch.setenv("LEAKDX_CHROMIUM", named)
    (row,) = printed(capsys, 1, "--only", "open")["rows"]
    (said,) = row["notes"]
    assert said.endswith(f"LEAKDX_CHROMIUM says {named}, and no program is there")


@pytest.mark.usefixtures("no_chromium")
def test_a_program_that_is_not_chromium_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEAKDX_CHROMIUM", sys.executable)
    (row,) = printed(capsys, 1, "--only", "tap")["rows"]
    (said,) = row["notes"]
    assert f"Chromium at {sys.executable} did not start: " in said and "\n" not in said


@pytest.mark.parametrize("name", ["tap", "open"])
def test_a_missing_playwright_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv("LEAKDX_CHROMIUM", sys.executable)
    for module in [m for m in sys.modules if m.partition(".")[0] == "playwright"]:
        monkeypatch.delitem(sys.modules, module)
    usual = builtins.__import__

    def without(module: str, *rest: Any) -> Any:
        if module.partition(".")[0] == "playwright":
            raise ImportError(module)
        return usual(module, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    (row,) = printed(capsys, 1, "--only", name)["rows"]
    assert row["median"] is None
    (said,) = row["notes"]
    assert said.endswith("Playwright was not found: pip install 'leakdx[tests]'")


def test_chromium_is_looked_for_by_two_names(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("LEAKDX_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(NoBrowser):
        page_taps.chromium()
    other = tmp_path / "chromium-browser"
    for program in (other, tmp_path / "chromium"):
        program.touch(0o755)
        assert page_taps.chromium() == str(program)
    monkeypatch.setenv("LEAKDX_CHROMIUM", str(other))
    assert page_taps.chromium() == str(other)


def test_without_being_asked_no_browser_is_needed(
    capsys: pytest.CaptureFixture[str], asked_for: list[str]
) -> None:
    printed(capsys, 0)
    assert asked_for == list(ROWS)
    assert not set(ROWS) & set(BROWSER_ROWS)


@pytest.mark.parametrize(
    ("args", "wanted"),
    [
        (["--browser"], [*ROWS, "tap", "open"]),
        (["--only", "open"], ["open"]),
        (["--only", "tap", "--only", "open", "--only", "tap"], ["tap", "open"]),
        (["--only", "update"], ["update"]),
    ],
)
def test_with_being_asked_the_page_is_measured(
    capsys: pytest.CaptureFixture[str],
    asked_for: list[str],
    args: Sequence[str],
    wanted: Sequence[str],
) -> None:
    document = printed(capsys, 0, *args)
    assert asked_for == list(wanted) == [row["name"] for row in document["rows"]]


def test_the_row_of_taps_says_in_what_time_95_of_100_are_shown(
    capsys: pytest.CaptureFixture[str], pretended: list[int]
) -> None:
    (row,) = printed(capsys, 0, "--only", "tap")["rows"]
    assert pretended == [60]
    assert (row["unit"], row["repeats"], row["median"]) == ("ms", 100, pytest.approx(50.5))
    assert row["size"] == "100 taps on a job of 9 entries, 4 zones, 3 seal points"
    assert row["notes"] == [
        "95 of 100 within 95 ms, the longest 100 ms",
        "median of taps that follow at once 26 ms, with the background at work 76 ms",
        NOT_ASKED,
    ]


def test_the_row_of_openings_says_the_longest(
    capsys: pytest.CaptureFixture[str], pretended: list[int]
) -> None:
    (row,) = printed(capsys, 0, "--only", "open", "--quick")["rows"]
    assert pretended == [1, 1, 1]
    assert (row["unit"], row["repeats"], row["median"]) == ("s", 3, 2.0)
    assert row["size"] == "4 zones, 3 seal points"
    assert row["notes"] == ["the longest 3.0 s", NOT_ASKED]


def test_a_tap_that_brings_no_ranking_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    class Still:
        def __init__(self) -> None:
            self.asked: list[str] = []

        def evaluate(self, script: str) -> None:
            self.asked.append(script)

        def wait_for_timeout(self, ms: float) -> None:
            pass

    page: Any = Still()
    monkeypatch.setattr(page_taps, "PATIENCE_ms", 60)
    with pytest.raises(RuntimeError, match="a tap brought no new ranking"):
        shown_after(page, 2)
    assert len(page.asked) == 3


def test_a_page_that_does_not_open_says_why(tmp_path: Path) -> None:
    not_a_folder = tmp_path / "file"
    not_a_folder.write_text("not a folder")
    with pytest.raises(RuntimeError, match="file"), page_server(not_a_folder / "store"):
        raise AssertionError("it opened")
