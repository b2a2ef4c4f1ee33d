"""Every kind of finding in plain words, with its line and path."""

from __future__ import annotations

import re
from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, model_validator

from leakdx.files.checked import validated
from leakdx.files.faults import MOST_FAULTS, Fault, FaultyInput
from leakdx.files.yaml_lines import Document, parse_bytes


class Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str = "x"
    area_mm2: Annotated[float, Field(gt=0, allow_inf_nan=False)] = 1
    share: Annotated[float, Field(ge=0, le=1)] = 0
    minutes: Annotated[int, Field(ge=0, lt=60)] = 0
    point_mm: tuple[float, float] = (0, 0)
    kind: Literal["hose", "union"] = "hose"
    wide: bool = False
    named: Annotated[str, Field(pattern=r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$")] = "a"
    odd: Annotated[str, Field(pattern=r"^q+$")] = "q"
    curve: dict[float, float] = {}
    note: Annotated[str, Field(min_length=1, max_length=5)] = "n"


class Round(BaseModel):
    family: Literal["round"]
    radius_mm: float


class Square(BaseModel):
    family: Literal["square"]
    side_mm: float


class Whole(BaseModel):
    model_config = ConfigDict(extra="forbid")

    parts: Annotated[tuple[Part, ...], Field(min_length=1)] = (Part(),)
    shape: Annotated[Round | Square, Field(discriminator="family")] | None = None
    low: float = 0
    high: float = 1

    @model_validator(mode="after")
    def _ordered(self) -> Whole:
        if self.low > self.high:
            raise ValueError("low lies above high.")
        return self


def faults(text: str) -> tuple[Fault, ...]:
    with pytest.raises(FaultyInput) as caught:
        validated(Whole, parse_bytes(text.encode(), "f.yaml"))
    return caught.value.faults


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("area_mm2: -3", "area_mm2  must be above 0, is -3. Give the area in mm2."),
        ("area_mm2: true", "area_mm2  must be a number, is true. Give the area in mm2."),
        ("area_mm2: '7'", "area_mm2  must be a number, is '7'. Give the area in mm2."),
        ("area_mm2: wide", "area_mm2  must be a number, is 'wide'. Give the area in mm2."),
        ("area_mm2:", "area_mm2  is empty. Give the area in mm2."),
        ("area_mm: 3", "area_mm  is no key that is known here. Did you mean 'area_mm2'?"),
        ("share: 1.5", "share  must be at most 1, is 1.5. Give a share between 0 and 1"),
        ("share: -1", "share  must be at least 0, is -1. Give a number at least 0."),
        ("minutes: 60", "minutes  must be below 60, is 60. Give the time in minutes."),
        ("minutes: 1.5", "minutes  must be a whole number, is 1.5. Give digits only."),
        ("point_mm: [1]", "point_mm[1]  has no entry number 2. Give all entries of the list."),
        ("point_mm: [1, 2, 3]", "point_mm  must have 2 in it, has more. Keep 2."),
        ("point_mm: 4", "point_mm  must be a list, is 4. Write it as [a, b] or as '- ' lines."),
        ("kind: hos", "kind  must be one of hose, union; is 'hos'. Did you mean 'hose'?"),
        ("kind: 7", "kind  must be one of hose, union; is 7. Pick one of these."),
        ("wide: 3", "wide  must be true or false, is 3. Write true or false."),
        ("note: 1.50", 'note  must be text, is 1.50 without quotes. Put it in quotes: "1.50".'),
        ("note: ''", "note  is empty. Write a text, or leave the key out."),
        ("note: toolong", "note  is longer than 5 letters. Shorten it."),
        ("named: Rear Cover", "is 'Rear Cover'. Write it as 'rear_cover'."),
        ("odd: x", "odd  must look like ^q+$; is 'x'. Write it that way."),
        ("curve: {hot: 2}", "curve.hot  must be a number, is 'hot'."),
        ("curve: {40: hot}", "curve.40  must be a number, is 'hot'."),
        ("curve: 3", "curve  must be a set of keys, is 3."),
    ],
)
def test_words_of_a_finding(entry: str, said: str) -> None:
    (fault,) = faults(f"parts:\n- id: sump\n  {entry}\n")
    assert said in str(fault)
    assert str(fault).startswith("f.yaml:3  parts.sump.") or fault.line == 3
    assert fault.path.startswith("parts.sump.")
    assert not re.search(r"pydantic|https?:|Input should|validator", str(fault))


def test_a_missing_key_is_told_where_it_belongs() -> None:
    (fault,) = faults("low: 0\nshape: {family: round}\n")
    assert str(fault) == (
        "f.yaml:2  shape.radius_mm  is missing. Add 'radius_mm:', the length in mm."
    )


def test_a_branch_of_a_union_leaves_no_trace_in_the_path() -> None:
    (fault,) = faults("shape:\n  family: square\n  side_mm: far\n")
    assert (fault.line, fault.path) == (3, "shape.side_mm")
    (fault,) = faults("shape: {family: squar}\n")
    assert str(fault).endswith("has the family 'squar'. Did you mean 'square'?")
    (fault,) = faults("shape: {side_mm: 1}\n")
    assert str(fault).endswith("does not say its family. Add 'family:'.")


def test_what_a_model_says_itself_is_passed_on() -> None:
    (fault,) = faults("low: 3\n")
    assert fault.problem == "low lies above high"


def test_an_empty_list() -> None:
    (fault,) = faults("parts: []\n")
    assert str(fault) == "f.yaml:1  parts  must have at least 1 in it, has 0. Add one."


def test_all_faults_at_once_by_line() -> None:
    found = faults("low: x\nparts:\n- {id: a, share: 2}\n- {id: b, kind: z, wide: 9}\nhigh: y\n")
    assert [(f.line, f.path) for f in found] == [
        (1, "low"),
        (3, "parts.a.share"),
        (4, "parts.b.kind"),
        (4, "parts.b.wide"),
        (5, "high"),
    ]


def test_many_faults_are_cut() -> None:
    found = faults("parts:\n" + "- {share: 2}\n" * (MOST_FAULTS + 50))
    assert len(found) == MOST_FAULTS + 1
    assert "more than 200 faults" in found[-1].problem


def test_values_cannot_write_on_the_terminal() -> None:
    (fault,) = faults('parts: [{kind: "a\\e[31m\\nb"}]\n')
    assert "\x1b" not in str(fault)
    assert "\n" not in str(fault)


def test_data_without_a_file_has_no_line() -> None:
    with pytest.raises(FaultyInput) as caught:
        validated(Whole, Document("", {"low": "x"}))
    assert (
        str(caught.value)
        == "low  must be a number, is 'x'. Give digits only, without unit or quotes."
    )
