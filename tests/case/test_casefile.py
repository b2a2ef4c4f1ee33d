"""Case files: a job and its machine in one file, read back whole, with faults at their lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdx.case.casefile import CASE_FORMAT, case_of, case_text
from leakdx.case.model import Job, ZoneReading
from leakdx.case.read import LoadedJob, job_from, job_of, load_job, load_shipped_job, shipped_jobs
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.yaml_lines import Document, parse_bytes
from leakdx.kit.read import load_shipped, machine_from

DATA = Path(__file__).parent.parent / "data"
WET_FOOT = load_job(DATA / "wet_foot.yaml")
TEXT = case_text(WET_FOOT)


def read(text: str) -> LoadedJob:
    return case_of(parse_bytes(text.encode(), "case.yaml"))


def line_of(text: str, written: str) -> int:
    """The line of the only place where that is written, from 1."""
    assert text.count(written) == 1, written
    return text[: text.index(written)].count("\n") + 1


def faults_of(text: str) -> list[Fault]:
    with pytest.raises(FaultyInput) as caught:
        read(text)
    return list(caught.value.faults)


# --- there and back ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", shipped_jobs())
def test_a_shipped_job_reads_back(name: str, tmp_path: Path) -> None:
    loaded = load_shipped_job(name)
    path = tmp_path / "case.yaml"
    path.write_text(case_text(loaded), encoding="utf-8", newline="\n")
    assert load_job(path) == loaded


def test_a_job_on_a_built_machine_reads_back() -> None:
    layout = load_shipped("helical_reducer")
    machine = machine_from(
        {
            "format": "leakdx-build/1",
            "id": "my_gearbox",
            "version": "3",
            "name": "Mine: the 'big' one",
            "layout": {"id": layout.id, "version": layout.version},
        }
    )
    zone = machine.zones[0].id
    loaded = job_from(
        {
            "format": "leakdx-job/1",
            "id": "wet",
            "machine": {"id": "my_gearbox", "version": "3"},
            "timeline": [{"zone": zone, "state": "wet"}],
        },
        machine,
    )
    again = read(case_text(loaded))
    assert again == loaded
    assert case_text(again) == case_text(loaded)


def test_it_needs_no_other_file() -> None:
    assert WET_FOOT.job.machine.file == "pump_stand.yaml"
    again = read(TEXT)
    assert again.machine == WET_FOOT.machine
    assert again.job.machine.file is None
    assert again.job.timeline == WET_FOOT.job.timeline
    assert "pump_stand.yaml" not in TEXT


texts = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=80)


@settings(max_examples=60, deadline=None)
@given(texts, texts, texts)
def test_whatever_a_person_writes_reads_back(name: str, note: str, at: str) -> None:
    entry = ZoneReading(zone="cover_top", state="dry", note=note, at=at)
    job = WET_FOOT.job.model_copy(update={"name": name, "timeline": (entry,)})
    again = read(case_text(LoadedJob(job, WET_FOOT.machine))).job
    assert (again.name, again.timeline) == (name, (entry,))


@pytest.mark.parametrize(
    "note",
    [
        "machine:\n  format: leakdx-machine/1",
        "---\n...\n",
        "'\"' # no comment",
        "  two spaces before, and after  \n",
        "🔧\u202e\u2028\x85\x00\x7f",
        "null",
        "!!python/object/apply:os.system ['x']",
        "&a [*a]",
        "<<",
    ],
)
def test_what_looks_like_yaml_is_text(note: str) -> None:
    entry = ZoneReading(zone="cover_top", state="dry", note=note)
    job = WET_FOOT.job.model_copy(update={"timeline": (entry,)})
    assert read(case_text(LoadedJob(job, WET_FOOT.machine))).job.timeline == (entry,)


# --- taken wherever a job is ------------------------------------------------------------------


def test_it_is_taken_as_plain_data_and_as_a_document() -> None:
    document = parse_bytes(TEXT.encode(), "case.yaml")
    assert job_of(document, None) == job_from(document.data) == read(TEXT)


def test_where_a_machine_is_given_a_case_file_is_no_job() -> None:
    with pytest.raises(FaultyInput, match="must be 'leakdx-job/1', is 'leakdx-case/1'"):
        job_from(parse_bytes(TEXT.encode(), "").data, WET_FOOT.machine)


# --- faults -----------------------------------------------------------------------------------

BAD = [
    # what is written, what is written instead, where, what is said
    ("state: weeping", "state: weepy", "job.timeline[2].state", "must be one of"),
    ("zone: foot_left\n", "zone: foot_lef\n", "job.timeline[0].zone", "names the zone 'foot_lef'"),
    ("pitch_deg: 2.0", "pitch_deg: 200", "job.conditions.pitch_deg", "must be at most 90"),
    ("  id: wet_foot", "  id: Wet foot", "job.id", "must"),
    ("area_mm2: 9000.0", "area_mm2: -1", "machine.zones.cover_top.area_mm2", "must be above 0"),
    ("run_minutes: 30.0", "run_minutes: yes", "job.timeline[7].run_minutes", "must be a number"),
    ("format: leakdx-job/1", "format: leakdx-job/2", "job.format", "must be 'leakdx-job/1'"),
    (f"format: {CASE_FORMAT}", "format: leakdx-case/2", "format", "must be 'leakdx-case/1'"),
    (
        "format: leakdx-machine/1",
        "format: leakdx-build/1",
        "machine.format",
        "must be 'leakdx-machine/1'",
    ),
]


@pytest.mark.parametrize(("old", "new", "path", "said"), BAD)
def test_a_fault_is_told_at_its_line(old: str, new: str, path: str, said: str) -> None:
    text = TEXT.replace(old, new)
    found = faults_of(text)
    assert [fault.path for fault in found] == [path]
    (fault,) = found
    assert said in fault.problem
    assert (fault.file, fault.line) == ("case.yaml", line_of(text, new))
    assert fault.remedy


def test_all_faults_are_told_at_once_by_line() -> None:
    text = TEXT
    for old, new, _, _ in BAD:
        text = text.replace(old, new)
    found = faults_of(text)
    # Names are looked for on a machine that is sound; this one is not.
    wanted = {path for _, _, path, _ in BAD} - {"job.timeline[0].zone"}
    assert {fault.path for fault in found} == wanted
    lines = [fault.line for fault in found if fault.line is not None]
    assert lines == sorted(lines)
    assert len(lines) == len(found)


def test_a_job_about_another_machine_is_told() -> None:
    old = "  machine:\n    id: pump_stand\n"
    text = TEXT.replace(old, "  machine:\n    id: pump_sand\n")
    (fault,) = faults_of(text)
    assert fault.path == "job.machine.id"
    assert fault.line == line_of(text, "pump_sand")
    assert fault.problem == "is 'pump_sand', but the machine in this file is 'pump_stand'"
    text = TEXT.replace('    version: "1.2"', '    version: "1.3"')
    (fault,) = faults_of(text)
    assert (fault.path, fault.line) == ("job.machine.version", line_of(text, '"1.3"'))


def test_a_file_of_the_machine_is_not_looked_for() -> None:
    text = TEXT.replace("  machine:\n", "  machine:\n    file: secret.yaml\n")
    (fault,) = faults_of(text)
    assert (fault.path, fault.line) == ("job.machine.file", line_of(text, "secret.yaml"))
    assert fault.remedy == "Take 'file' out here."


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (f"format: {CASE_FORMAT}\n", [("job", "is missing"), ("machine", "is missing")]),
        (
            f"format: {CASE_FORMAT}\njob: 3\nmachine: []\n",
            [("job", "must be a set of keys, is 3"), ("machine", "must be a set of keys")],
        ),
        (TEXT.replace("\nmachine:\n", "\nmachin:\n"), [("machin", "is no key that is known here")]),
        (TEXT + "more: 1\n", [("more", "is no key that is known here")]),
    ],
)
def test_what_a_case_file_has_at_its_top(text: str, told: list[tuple[str, str]]) -> None:
    found = faults_of(text)
    assert [fault.path for fault in found] == [path for path, _ in told]
    for fault, (_, said) in zip(found, told, strict=True):
        assert said in fault.problem
        assert fault.line is not None


def test_plain_data_has_faults_without_lines() -> None:
    data = parse_bytes(TEXT.replace("state: weeping", "state: weepy").encode(), "").data
    with pytest.raises(FaultyInput) as caught:
        case_of(Document("", data))
    (fault,) = caught.value.faults
    assert (fault.file, fault.line, fault.path) == ("", None, "job.timeline[2].state")


def test_the_job_given_stays_as_it_is() -> None:
    case_text(WET_FOOT)
    assert isinstance(WET_FOOT.job, Job)
    assert WET_FOOT.job.machine.file == "pump_stand.yaml"
