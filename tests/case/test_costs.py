"""The costs a job may give: all that is needed or none, and parts of seal points there are."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdx.case.model import Costs, Job
from leakdx.case.read import load_job
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.save import save

DATA = Path(__file__).parent.parent / "data"
TEXT = (DATA / "wet_foot.yaml").read_text().replace("file: pump", f"file: {DATA}/pump")
WHOLE = """\
costs:
  currency: EUR
  labour_per_hour: 70
  comeback: 300
  part: 12.5
  parts: {shaft_seal: 18, water_union: 0}
"""
# The line of the file on which the costs begin.
START = TEXT.count("\n") + 1


def read(folder: Path, costs: str) -> Job:
    path = folder / "job.yaml"
    path.write_text(TEXT + costs)
    return load_job(path).job


def faults_after(folder: Path, old: str, new: str) -> list[Fault]:
    assert old in WHOLE
    with pytest.raises(FaultyInput) as caught:
        read(folder, WHOLE.replace(old, new, 1))
    return list(caught.value.faults)


def test_costs_are_read(tmp_path: Path) -> None:
    assert read(tmp_path, WHOLE).costs == Costs(
        currency="EUR",
        labour_per_hour=70,
        comeback=300,
        part=12.5,
        parts={"shaft_seal": 18, "water_union": 0},
    )


def test_a_job_may_give_none_or_only_what_is_needed(tmp_path: Path) -> None:
    assert read(tmp_path, "").costs is None
    costs = read(tmp_path, "costs: {currency: kr, labour_per_hour: 700, comeback: 3000}\n").costs
    assert costs is not None
    assert (costs.part, costs.parts) == (None, {})


@pytest.mark.parametrize("costs", [WHOLE, ""])
def test_costs_are_saved_as_they_were_read(tmp_path: Path, costs: str) -> None:
    job = read(tmp_path, costs)
    save(job, tmp_path / "again.yaml")
    assert load_job(tmp_path / "again.yaml").job == job


@pytest.mark.parametrize("key", ["currency", "labour_per_hour", "comeback"])
def test_a_cost_that_is_missing_is_named(tmp_path: Path, key: str) -> None:
    (line,) = [line for line in WHOLE.splitlines(keepends=True) if line.strip().startswith(key)]
    (fault,) = faults_after(tmp_path, line, "")
    assert (fault.path, fault.problem) == (f"costs.{key}", "is missing")
    assert fault.remedy.startswith(f"Add '{key}:'")
    assert fault.line is not None
    assert START <= fault.line <= START + 1


def test_every_cost_that_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(FaultyInput) as caught:
        read(tmp_path, "costs: {part: 3}\n")
    paths = [fault.path for fault in caught.value.faults]
    assert paths == ["costs.currency", "costs.labour_per_hour", "costs.comeback"]


@pytest.mark.parametrize(
    ("old", "new", "path", "said"),
    [
        ("shaft_seal:", "shaft_sael:", "costs.parts.shaft_sael", "Did you mean 'shaft_seal'?"),
        ("shaft_seal:", "Shaft seal:", "costs.parts.Shaft seal", "Write it as 'shaft_seal'."),
        ("shaft_seal:", "foot_left:", "costs.parts.foot_left", "names the seal point 'foot_left'"),
        ("seal: 18", "seal: -1", "costs.parts.shaft_seal", "must be at least 0, is -1"),
        ("seal: 18", "seal: true", "costs.parts.shaft_seal", "must be a number, is true"),
        ("hour: 70", "hour: 0", "costs.labour_per_hour", "must be above 0"),
        ("comeback: 300", "comeback: 0", "costs.comeback", "must be above 0"),
        ("part: 12.5", "part: 0", "costs.part", "must be above 0"),
        ("comeback:", "comback:", "costs.comback", "Did you mean 'comeback'?"),
        ("currency: EUR", "currency: '  '", "costs.currency", "is empty"),
        ("currency: EUR", "currency: thirteen of it", "costs.currency", "longer than 12 letters"),
        ("comeback: 300", "comeback: 700001", "costs.comeback", "more than 10000 hours of labour"),
        ("part: 12.5", "part: 700001", "costs.part", "in the same currency"),
        ("seal: 18", "seal: 700001", "costs.parts.shaft_seal", "in the same currency"),
    ],
)
def test_one_fault_of_the_costs(tmp_path: Path, old: str, new: str, path: str, said: str) -> None:
    (fault,) = faults_after(tmp_path, old, new)
    assert fault.path == path
    assert said in str(fault)
    assert fault.line is not None


def test_much_money_is_taken_where_it_may_be_meant(tmp_path: Path) -> None:
    assert read(tmp_path, WHOLE.replace("comeback: 300", "comeback: 700000"))
