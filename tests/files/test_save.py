"""Models written and read back."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from leakdx.case.read import load_job
from leakdx.files.checked import validated
from leakdx.files.save import dump_yaml, save
from leakdx.files.yaml_lines import parse_bytes
from leakdx.machine.read import load_machine

DATA = Path(__file__).parent.parent / "data"


class Anything(BaseModel):
    text: str = ""
    number: float = 0.0
    whole: int = 0
    sure: bool = False
    curve: dict[float, float] = {}
    words: tuple[str, ...] = ()
    named: dict[str, str] = {}


texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
numbers = st.floats(allow_nan=False, allow_infinity=False)


@given(
    st.builds(
        Anything,
        text=texts | st.sampled_from(["1e5", "no", "~", "", "1.0", ".5", "nan", "0o7", "=", "<<"]),
        number=numbers,
        whole=st.integers(-(10**18), 10**18),
        sure=st.booleans(),
        curve=st.dictionaries(numbers, numbers, max_size=3),
        words=st.lists(texts, max_size=3).map(tuple),
    )
)
def test_anything_reads_back(model: Anything) -> None:
    text = dump_yaml(model)
    assert validated(Anything, parse_bytes(text.encode(), "f")) == model


def test_machine_and_job_read_back(tmp_path: Path) -> None:
    machine = load_machine(DATA / "pump_stand.yaml")
    save(machine, tmp_path / "pump_stand.yaml")
    assert load_machine(tmp_path / "pump_stand.yaml") == machine
    loaded = load_job(DATA / "wet_foot.yaml")
    save(loaded.job, tmp_path / "job.yaml")
    assert load_job(tmp_path / "job.yaml") == loaded


def test_only_what_was_set_is_written() -> None:
    assert dump_yaml(Anything(number=2.0)) == "number: 2.0\n"
    text = dump_yaml(load_machine(DATA / "pump_stand.yaml"))
    assert "false_call" not in text
    assert "tight_access" not in text


def test_a_failed_save_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("old\n")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        save(Anything(text="new"), path)
    assert path.read_text() == "old\n"
    assert [p.name for p in tmp_path.iterdir()] == ["a.yaml"]


def test_a_save_keeps_rights_and_links(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("old\n")
    path.chmod(0o640)
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    save(Anything(text="new"), link)
    assert link.is_symlink()
    assert path.read_text() == "text: new\n"
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_save_into_no_folder(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        save(Anything(), tmp_path / "none" / "a.yaml")
