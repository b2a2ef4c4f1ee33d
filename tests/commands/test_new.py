"""``leakdx new``: a machine file by choosing, by flags and at the keyboard; nothing overwritten."""

from __future__ import annotations

import io
import json
from pathlib import Path

import jsonschema
import pytest

from leakdx import cli
from leakdx.commands.new import json_schema
from leakdx.kit.read import load_machine


class Keyboard(io.StringIO):
    """Answers typed one after the other."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", Keyboard("\n".join([*lines, ""])))


def test_flags_alone_make_a_file_that_validates(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--layout", "inline_five_diesel", "--set", "cylinders=4", "--set", "turbo=no"]
    assert cli.main(["new", *asked, "--name", "Our Loader", "--usual"]) == 0
    machine = load_machine("our_loader.yaml")
    assert (machine.id, machine.name) == ("our_loader", "Our Loader")
    assert not [z.id for z in machine.zones if z.id.startswith("turbo")]
    said = capsys.readouterr().out
    assert "leakdx show our_loader.yaml" in said
    assert 'machine: {id: our_loader, version: "1", file: our_loader.yaml}' in said
    assert cli.main(["check", "our_loader.yaml"]) == 0


def test_what_is_not_said_is_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # Which layout; cylinders, then everything else as usual; and what it is called.
    typed(monkeypatch, "inline_five_diesel", "seven", "6", "n", "", "YES", "", "Shop engine")
    assert cli.main(["new"]) == 0
    machine = load_machine("shop_engine.yaml")
    assert not [z.id for z in machine.zones if z.id.startswith("turbo")]
    assert machine.name == "Shop engine"
    asked = capsys.readouterr().err
    assert "How many cylinders? (4, 5, 6) [5]" in asked
    assert "Please answer with one of: 4, 5, 6." in asked
    assert "(yes, no) [yes]" in asked


def test_a_number_chooses_a_layout(monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, "999", "1", *[""] * 12)
    assert cli.main(["new"]) == 0
    assert load_machine("my_machine.yaml").zones


def test_a_file_that_is_there_is_left_alone(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "mine.yaml").write_text("precious")
    args = ["new", "--layout", "inline_five_diesel", "--out", "mine.yaml", "--usual"]
    assert cli.main(args) == 2
    assert (here / "mine.yaml").read_text() == "precious"
    assert "--out" in capsys.readouterr().err


def test_every_wrong_option_at_once_and_nothing_written(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = ["--set", "cylindres=4", "--set", "turbo=maybe"]
    assert cli.main(["new", "--layout", "inline_five_diesel", *wrong, "--usual"]) == 2
    said = capsys.readouterr().err
    assert "Did you mean 'cylinders'?" in said
    assert "Use one of: yes, no." in said
    assert list(here.iterdir()) == []


def test_no_layout_and_an_unknown_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", "--usual"]) == 2
    assert "inline_five_diesel" in capsys.readouterr().err
    assert cli.main(["new", "--usual", "--layout", "inline_five_deisel"]) == 2
    assert "Did you mean 'inline_five_diesel'?" in capsys.readouterr().err


def test_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["new", "--layout", "inline_five_diesel", "--id", "x1", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json_schema()).validate(document)
    assert document["file"] == "x1.yaml"
    assert document["counts"]["zones"] == len(load_machine("x1.yaml").zones)


def test_a_name_of_odd_letters(here: Path) -> None:
    odd = 'Ж "quoted" # {not: yaml}'
    assert cli.main(["new", "--layout", "inline_five_diesel", "--name", odd, "--usual"]) == 0
    (made,) = here.iterdir()
    assert load_machine(made).name == odd
