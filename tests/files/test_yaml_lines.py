"""Reading YAML: values, lines, and everything that is refused."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.yaml_lines import MOST_BYTES, parse_bytes, read_document


def the_fault(text: str | bytes) -> Fault:
    content = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(FaultyInput) as caught:
        parse_bytes(content, "f.yaml")
    (fault,) = caught.value.faults
    assert fault.remedy.endswith((".", "?"))
    return fault


def test_values_follow_the_newer_rules() -> None:
    text = "a: no\nb: 12:30\nc: 1e3\nd: 012\ne: ~\nf: true\ng: 2031-01-02\nh: '3'\ni: 0x1F\nj: .5\n"
    assert parse_bytes(text.encode(), "f").data == {
        "a": "no",
        "b": "12:30",
        "c": 1000.0,
        "d": 12,
        "e": None,
        "f": True,
        "g": "2031-01-02",
        "h": "3",
        "i": "0x1F",
        "j": 0.5,
    }


def test_every_value_has_the_line_of_its_key() -> None:
    document = parse_bytes(b"# note\na: 1\nb:\n  - x\n  - c:\n      9\nd: [1,\n  2]\n", "f")
    assert document.line(("a",)) == 2
    assert document.line(("b",)) == 3
    assert document.line(("b", 0)) == 4
    assert document.line(("b", 1, "c")) == 5
    assert document.line(("d", 1)) == 8
    # A key that is missing is looked for where it belongs.
    assert document.line(("b", 1, "nothing", "here")) == 5
    assert document.line(("b", 7)) == 3


@pytest.mark.parametrize(
    ("text", "line", "problem"),
    [
        (b"", None, "is empty"),
        (b"# only a note\n", None, "is empty"),
        (b"a: 1\n\x00\x01", 2, "is not a text file"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", 1, "is not UTF-8 text"),
        (b"a: 1\nb: \xff\n", 2, "is not UTF-8 text"),
        (b"a: 1\nb: \x07\n", 2, "has a character that does not belong in text"),
        (b"- a\n- b\n", 1, "must be a set of keys, is a list"),
        (b"just words\n", 1, "must be a set of keys, is 'just words'"),
        (b"a: 1\n---\nb: 2\n", 2, "starts a second document"),
        (b"a: 1\nb: &x 2\n", 2, "uses '&x', an anchor or alias, which is not taken"),
        (b"a: 1\nb: *x\n", 2, "uses '*x', an anchor or alias, which is not taken"),
        (b"a: !!python/object/apply:os.system [x]\n", 1, "has the tag"),
        (b"a: 1\nb: !thing x\n", 2, "has the tag '!thing', which is not taken"),
        (b"a:\n  <<: {b: 1}\n", 2, "is a merge key, which is not taken"),
        (b"a: 1\nb: 2\na: 3\n", 3, "is given twice, on line 1 and on line 3"),
        (b"a: .nan\n", 1, "is '.nan', which is no number that can be reckoned with"),
        (b"a: 1\nb: [-.inf]\n", 2, "is '-.inf', which is no number"),
        (b"a: 1e999\n", 1, "is '1e999', which is no number"),
        (b"a:\n\t- b\n", 2, "has a tab, which YAML does not take here"),
        (b"a: [1, 2\nb: 3\n", 2, "is not YAML: "),
        (b"? [a, b]\n: 1\n", 1, "has a list or a set of keys where a key is expected"),
        (b"a: 1\ntrue: 2\n", 2, "has a key that is true"),
        (b"a: " + b"[" * 31 + b"]" * 31, 1, "is nested more than 30 deep"),
    ],
)
def test_is_refused(text: bytes, line: int | None, problem: str) -> None:
    fault = the_fault(text)
    assert (fault.line, fault.problem[: len(problem)]) == (line, problem)


def test_the_path_of_a_refused_value_uses_ids() -> None:
    assert the_fault("zones:\n- id: sump\n  at: [1, .nan]\n").path == "zones.sump.at[1]"
    assert the_fault("zones:\n- {x: {y: 1, y: 2}}\n").path == "zones[0].x.y"


def test_all_refused_values_are_told_at_once() -> None:
    with pytest.raises(FaultyInput) as caught:
        parse_bytes(b"a: .nan\nb: !t 1\na: 2\n", "f")
    assert [fault.line for fault in caught.value.faults] == [1, 2, 3]


def test_a_bomb_of_aliases_is_refused_at_the_first_anchor() -> None:
    bomb = "a: &a [x, x]\n" + "".join(f"{chr(98 + i)}: &{chr(98 + i)} [*a, *a]\n" for i in range(9))
    assert the_fault(bomb).line == 1


@pytest.mark.parametrize(
    "text", ["[" * 1_000_000, "- " * 1_000_000, "{a: " * 1_000_000, "{" + "a," * 1_000_000 + "}"]
)
def test_a_hostile_file_is_refused_quickly(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(FaultyInput):
        parse_bytes(text.encode(), "f")
    assert time.perf_counter() - start < 5


def test_depth_of_30_is_taken() -> None:
    assert parse_bytes(b"a: " + b"[" * 29 + b"]" * 29, "f").data["a"] is not None


def test_a_large_file_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    start = time.perf_counter()
    with pytest.raises(FaultyInput, match=r"is too large: 50\.0 MB, at most 5 MB is read"):
        read_document(path)
    assert time.perf_counter() - start < 0.5


def test_a_file_of_the_largest_size_is_read_in_some_seconds() -> None:
    entry = "- {id: z, centroid_mm: [1, 2, 3], normal: [0, 0, 1], area_mm2: 5}\n"
    text = "zones:\n" + entry * (MOST_BYTES // len(entry) - 1)
    start = time.perf_counter()
    document = parse_bytes(text.encode(), "f")
    assert time.perf_counter() - start < 30
    assert document.line(("zones", 1000, "id")) == 1002


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(FaultyInput, match="is not there"):
        read_document(tmp_path / "nothing.yaml")
    with pytest.raises(FaultyInput, match="is a folder"):
        read_document(tmp_path)
    with pytest.raises(FaultyInput, match="cannot be read"):
        read_document("a\0b")
    with pytest.raises(FaultyInput, match="cannot be read"):
        read_document("x" * 5000)
    fifo = tmp_path / "pipe"
    os.mkfifo(fifo)
    with pytest.raises(FaultyInput, match="is not an ordinary file"):
        read_document(fifo)


def test_an_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "secret.yaml"
    path.write_text("a: 1\n")

    def refuse(*_args: object, **_more: object) -> None:
        raise PermissionError(13, "Permission denied")

    # The rights of a file do not stop a test that runs as root.
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(FaultyInput, match="may not be read"):
        read_document(path)


@given(st.binary(max_size=200))
def test_bytes_give_a_document_or_faults(content: bytes) -> None:
    try:
        assert isinstance(parse_bytes(content, "f").data, dict)
    except FaultyInput as error:
        assert all(fault.problem and fault.remedy for fault in error.faults)


@given(st.text(alphabet="ab:-[]{}&*!?|>'\"%#,. \n\t01~<", max_size=80))
def test_punctuation_gives_a_document_or_faults(text: str) -> None:
    try:
        assert isinstance(parse_bytes(text.encode(), "f").data, dict)
    except FaultyInput as error:
        assert all("\n" not in str(fault) for fault in error.faults)
