"""``leakdx machines``: what is listed, and its size."""

from __future__ import annotations

import json

import jsonschema
import pytest

from leakdx import cli
from leakdx.commands import machines
from leakdx.commands.machines import json_schema, line_of, table
from leakdx.kit.read import load_shipped, load_shipped_layout, shipped_machines


def test_a_line_counts_what_the_machine_has() -> None:
    line = line_of("inline_five_diesel")
    machine = load_shipped("inline_five_diesel")
    assert (line.zones, line.seal_points) == (len(machine.zones), len(machine.seal_points))
    assert (line.inspections, line.fluids) == (len(machine.inspections), 3)
    options = load_shipped_layout("inline_five_diesel").layout.options
    assert line.options == tuple(o.id for o in options)
    assert 0 <= line.detail < 8
    # A table of so many two-valued things cannot have fewer entries than this.
    assert line.entries >= 2 ** (line.width + 1)


def test_all_are_listed_with_their_options(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    one = line_of("inline_five_diesel")
    monkeypatch.setattr(machines, "line_of", lambda name: one)
    assert cli.main(["machines", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json_schema()).validate(document)
    assert len(document["machines"]) == len(shipped_machines())
    text = table([one], 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "cylinders" in text
