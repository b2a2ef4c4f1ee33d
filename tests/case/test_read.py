"""Jobs: their machine, their version, and every name they use."""

from __future__ import annotations

from pathlib import Path
from shutil import copy

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from leakdx.case.model import ContextKind, Renewal, Wash, ZoneReading
from leakdx.case.read import job_from, load_job, load_shipped_job, shipped_jobs
from leakdx.files.faults import Fault, FaultyInput
from leakdx.kit.read import load_machine, shipped_machines
from leakdx.machine.model import SignKind
from leakdx.network.refit import Check, How

DATA = Path(__file__).parent.parent / "data"
TEXT = (DATA / "wet_foot.yaml").read_text()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy(DATA / "pump_stand.yaml", tmp_path)
    return tmp_path


def faults_of(folder: Path, text: str) -> list[Fault]:
    path = folder / "job.yaml"
    path.write_text(text)
    with pytest.raises(FaultyInput) as caught:
        load_job(path)
    return list(caught.value.faults)


def faults_after(folder: Path, old: str, new: str) -> list[Fault]:
    assert old in TEXT
    return faults_of(folder, TEXT.replace(old, new, 1))


def test_the_job_is_read_with_its_machine() -> None:
    loaded = load_job(DATA / "wet_foot.yaml")
    assert loaded.machine == load_machine(DATA / "pump_stand.yaml")
    first, *_, wash, whole, _run, _renewal = loaded.job.timeline
    assert isinstance(first, ZoneReading)
    assert first.at == "2031-05-01"
    assert isinstance(wash, Wash)
    assert wash.wash == ("foot_left",)
    assert isinstance(whole, Wash)
    assert whole.wash == "whole"


def test_an_absolute_path_to_the_machine(folder: Path) -> None:
    path = folder / "deeper.yaml"
    path.write_text(TEXT.replace("file: pump", f"file: {DATA}/pump"))
    (folder / "pump_stand.yaml").unlink()
    assert load_job(path).machine.id == "pump_stand"


def test_a_job_from_plain_data() -> None:
    data = yaml.safe_load(TEXT.replace("value: no", "value: 'no'").replace("2031-05-01", "May"))
    machine = load_machine(DATA / "pump_stand.yaml")
    assert job_from(data, machine).machine is machine
    data["timeline"][0]["zone"] = "foot_lift"
    with pytest.raises(FaultyInput, match=r"^timeline\[0\]\.zone .* Did you mean 'foot_left'\?$"):
        job_from(data, machine)


@pytest.mark.parametrize(
    ("old", "new", "path", "remedy"),
    [
        ("{zone: foot_left", "{zone: foot_lift", "timeline[0].zone", "foot_left"),
        ("wet, fluid: gear_oil", "wet, fluid: ger_oil", "timeline[0].fluid", "gear_oil"),
        ("look_at_cover", "look_at_covr", "timeline[1].inspection", "look_at_cover"),
        ("{seal_point: cover_gasket", "{seal_point: cover_gaskt", "timeline[2].seal_point", "co"),
        ("value: no, fluid: gear_oil", "value: no, fluid: gear", "timeline[3].fluid", "gear_oil"),
        (
            "recent_work, seal_point: cover_g",
            "recent_work, seal_point: cov_g",
            "timeline[4].se",
            "",
        ),
        ("wash: [foot_left]", "wash: [foot_left, drip_try]", "timeline[5].wash[1]", "drip_tray"),
        ("renew: shaft_seal", "renew: shaft_sael", "timeline[8].renew", "shaft_seal"),
        ("- {seal_point: shaft_s", "- {seal_point: shft_s", "seal_histories[0].seal_point", "shaf"),
    ],
)
def test_a_name_the_machine_does_not_have(
    folder: Path, old: str, new: str, path: str, remedy: str
) -> None:
    (fault,) = faults_after(folder, old, new)
    assert fault.path.startswith(path)
    assert fault.line == TEXT.count("\n", 0, TEXT.index(old)) + 1
    assert fault.remedy.startswith(f"Did you mean '{remedy}")


@pytest.mark.parametrize(
    "kind",
    [
        ContextKind.RECENT_WORK,
        ContextKind.RENEWED,
        ContextKind.SEALANT_SEEN,
        ContextKind.HARD_AND_RIGID,
        ContextKind.FASTENER_LOOSE,
        ContextKind.FASTENER_MISSING,
        ContextKind.GASKET_ROLLED,
        ContextKind.FASTENER_TOO_LONG,
        ContextKind.OVERTIGHTENED,
        ContextKind.CORRODED,
    ],
)
def test_a_fact_of_a_joint_needs_the_joint(folder: Path, kind: ContextKind) -> None:
    (fault,) = faults_after(folder, "recent_work, seal_point: cover_gasket", kind)
    assert fault.path == "timeline[4].context"
    assert str(fault).endswith("Add 'seal_point:' with the id of the joint.")


@pytest.mark.parametrize("kind", [SignKind.LEVEL_RISES, SignKind.FLUID_THINNED])
def test_a_sign_of_a_fluid_needs_the_fluid_where_there_are_several(
    folder: Path, kind: SignKind
) -> None:
    line = "{sign: level_falls, value: no, fluid: gear_oil}"
    (fault,) = faults_after(folder, line, f"{{sign: {kind}}}")
    assert str(fault).endswith("Add 'fluid:' with the id of the fluid.")
    path = folder / "not_looked.yaml"
    path.write_text(TEXT.replace(line, f"{{sign: {kind}, value: not_looked}}"))
    assert load_job(path)


def test_overfilled_needs_a_fluid(folder: Path) -> None:
    (fault,) = faults_after(folder, "recent_work, seal_point: cover_gasket", "overfilled")
    assert fault.path == "timeline[4].context"


@pytest.mark.parametrize(
    ("old", "new", "path", "said"),
    [
        ("state: dry", "state: damp", "timeline[1].state", "must be one of dry, film, running"),
        ("state: dry", "stat: dry", "timeline[1].stat", "Did you mean 'state'?"),
        ("{run_minutes: 30}", "{runs: 30}", "timeline[7]", "does not say what it is"),
        ("{run_minutes: 30}", "x", "timeline[7]", "must be a set of keys, is 'x'"),
        ("{run_minutes: 30}", "{run_minutes: -1}", "timeline[7].run_minutes", "must be above 0"),
        ("wash: [foot_left]", "wash: []", "timeline[5].wash", "names no zone"),
        ("wash: whole", "wash: all", "timeline[6].wash", "must be 'whole', is 'all'"),
        ("wash: whole", "wash: whole, thoroughness: 1.2", "timeline[6].thoroughness", "at most 1"),
        ("pitch_deg: 2", "pitch_deg: 91", "conditions.pitch_deg", "must be at most 90"),
        ("hours: 40", "hours: 40\n  hours: 41", "conditions.hours", "given twice"),
        (
            "age_years: 6}",
            "age_years: 6}\n  - {seal_point: shaft_seal}",
            "seal_histories[1].seal_point",
            "a second history",
        ),
    ],
)
def test_one_fault(folder: Path, old: str, new: str, path: str, said: str) -> None:
    (fault,) = faults_after(folder, old, new)
    assert fault.path == path
    assert said in str(fault)
    assert fault.line is not None


def test_another_version_of_the_machine(folder: Path) -> None:
    found = faults_after(folder, 'version: "1.2"', 'version: "1.1"')
    # Names are not checked against the wrong version: that would bury the one that matters.
    (fault,) = found
    assert (fault.line, fault.path) == (3, "machine.version")
    assert "'1.1'" in fault.problem
    assert "'1.2'" in fault.problem
    assert 'set version: "1.2"' in fault.remedy


def test_a_version_without_quotes(folder: Path) -> None:
    (fault,) = faults_after(folder, 'version: "1.2"', "version: 1.20")
    assert fault.remedy == 'Put it in quotes: "1.20".'


def test_the_file_of_another_machine(folder: Path) -> None:
    (fault,) = faults_after(folder, "{id: pump_stand", "{id: pump_stool")
    assert fault.path == "machine.id"
    assert "the machine in pump_stand.yaml is 'pump_stand'" in fault.problem


def test_a_machine_file_that_is_missing(folder: Path) -> None:
    (fault,) = faults_after(folder, "file: pump_stand.yaml", "file: pump_stnd.yaml")
    assert (fault.line, fault.path) == (3, "machine.file")
    assert "is not there" in fault.problem
    (fault,) = faults_after(folder, "file: pump_stand.yaml", "file: .")
    assert "is a folder" in fault.problem


def test_a_machine_that_is_not_shipped(folder: Path) -> None:
    (fault,) = faults_after(folder, ", file: pump_stand.yaml", "")
    assert fault.path == "machine.id"
    assert "does not come with the library" in fault.problem
    assert "add 'file:'" in fault.remedy
    near = shipped_machines()[0][:-1]
    text = TEXT.replace(", file: pump_stand.yaml", "").replace("{id: pump_stand", f"{{id: {near}")
    (fault,) = faults_of(folder, text)
    assert f"Did you mean '{shipped_machines()[0]}'?" in fault.remedy


def test_faults_of_the_machine_and_of_the_job_come_together(folder: Path) -> None:
    machine = folder / "pump_stand.yaml"
    machine.write_text(machine.read_text().replace("area_mm2: 9000", "area_mm2: 0"))
    found = faults_after(folder, "state: dry", "state: damp")
    assert [Path(fault.file).name for fault in found] == ["pump_stand.yaml", "job.yaml"]


def test_every_shipped_job_is_whole_and_named_like_its_file() -> None:
    assert "rear_of_engine_wet" in shipped_jobs()
    for name in shipped_jobs():
        assert load_shipped_job(name).job.id == name


def test_a_job_that_is_not_shipped() -> None:
    with pytest.raises(FaultyInput, match="Did you mean 'rear_of_engine_wet'"):
        load_shipped_job("rear_of_engine_we")


@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(["zone", "state", "seal_point", "sign", "context", "wash", "renew",
                             "run_minutes", "fluid", "value", "at", "odd"]),
            st.sampled_from(["foot_left", "wet", "shaft_seal", "whole", [], ["foot_left"], 3, -1.5,
                             None, True, {"a": 1}, "recent_work", "level_rises", "gear_oil"]),
            max_size=5,
        ) | st.none() | st.text(max_size=3) | st.lists(st.integers(), max_size=2),
        max_size=4,
    )
)  # fmt: skip
def test_any_timeline_is_taken_or_told(timeline: list[object]) -> None:
    machine = load_machine(DATA / "pump_stand.yaml")
    data = {
        "format": "leakdx-job/1",
        "id": "any",
        "machine": {"id": "pump_stand", "version": "1.2"},
        "timeline": timeline,
    }
    try:
        assert len(job_from(data, machine).job.timeline) == len(timeline)
    except FaultyInput as error:
        assert all(fault.path.startswith("timeline[") for fault in error.faults)


def test_drops_are_counted_only_where_they_fall(folder: Path) -> None:
    (fault,) = faults_after(folder, "state: dry,", "state: dry, drops_per_minute: 3,")
    assert fault.path == "timeline[1].drops_per_minute"
    assert "dripping" in fault.remedy


# How it stood and what it did.

LAST = "  - {renew: shaft_seal}\n"
STANDS = "stands:\n  - {id: on_ramp, pitch_deg: 8}\n  - {id: leaning, roll_deg: 5}\n"


@pytest.fixture
def with_stands(folder: Path) -> Path:
    machine = folder / "pump_stand.yaml"
    machine.write_text(machine.read_text() + STANDS)
    return folder


@pytest.mark.parametrize("use", ["parked", "idled", "driven"])
def test_a_stand_and_a_use_are_read(with_stands: Path, use: str) -> None:
    path = with_stands / "job.yaml"
    path.write_text(
        TEXT.replace("pitch_deg: 2", f"stand: on_ramp\n  use: {use}").replace(
            "{run_minutes: 30}", "{run_minutes: 30, use: parked, stand: leaning}"
        )
    )
    job = load_job(path).job
    assert (job.conditions.stand, job.conditions.use) == ("on_ramp", use)


@pytest.mark.parametrize(
    ("old", "new", "path", "said"),
    [
        ("pitch_deg: 2", "stand: on_ramp\n  pitch_deg: 0", "conditions.pitch_deg", "take out"),
        ("pitch_deg: 2", "stand: on_ramp\n  roll_deg: 2", "conditions.roll_deg", "take out"),
        ("pitch_deg: 2", "stand: on_rmp", "conditions.stand", "Use one of: on_ramp, leaning."),
        ("pitch_deg: 2", "use: towed", "conditions.use", "must be one of parked, idled, driven"),
        (
            "pitch_deg: 2",
            "use: parked\n  airflow_m_s: 2",
            "conditions.airflow_m_s",
            "Take it out, or write 'use: idled'",
        ),
        (
            "{run_minutes: 30}",
            "{run_minutes: 30, use: parked, airflow_m_s: 2}",
            "timeline[7].airflow_m_s",
            "parked",
        ),
        (
            "{run_minutes: 30}",
            "{run_minutes: 30, stand: upside_down}",
            "timeline[7].stand",
            "Use one of: on_ramp, leaning.",
        ),
    ],
)
def test_one_fault_of_how_it_stood(
    with_stands: Path, old: str, new: str, path: str, said: str
) -> None:
    (fault,) = faults_after(with_stands, old, new)
    assert fault.path == path
    assert said in str(fault)
    assert fault.line is not None


def test_a_machine_without_stands_says_so(folder: Path) -> None:
    (fault,) = faults_after(folder, "pitch_deg: 2", "stand: level")
    assert fault.path == "conditions.stand"
    assert "The machine has none: give 'pitch_deg'" in fault.remedy


def test_still_air_may_be_stated_of_a_parked_machine(folder: Path) -> None:
    path = folder / "job.yaml"
    path.write_text(TEXT.replace("pitch_deg: 2", "use: parked\n  airflow_m_s: 0"))
    assert load_job(path)
    # A run that is driven may meet air, though the machine was parked before.
    path.write_text(
        TEXT.replace("pitch_deg: 2", "use: parked").replace(
            "{run_minutes: 30}", "{run_minutes: 30, use: driven, airflow_m_s: 9}"
        )
    )
    assert load_job(path)


def test_a_run_parked_by_the_conditions_meets_no_air_either(folder: Path) -> None:
    path = folder / "job.yaml"
    path.write_text(
        TEXT.replace("pitch_deg: 2", "use: parked").replace(
            "{run_minutes: 30}", "{run_minutes: 30, airflow_m_s: 9}"
        )
    )
    with pytest.raises(FaultyInput, match=r"timeline\[7\]\.airflow_m_s"):
        load_job(path)


def drain_back(folder: Path, causes: str, context: str) -> Path:
    machine = folder / "pump_stand.yaml"
    machine.write_text(machine.read_text().replace("causes:\n", f"causes:\n{causes}"))
    path = folder / "job.yaml"
    path.write_text(TEXT.replace(LAST, LAST + f"  - {{context: drain_back_blocked{context}}}\n"))
    return path


ONE_DRAIN = "  - {id: drain, kind: drain_back_blocked, fluid: gear_oil, raises: [cover_gasket]}\n"
TWO_DRAINS = ONE_DRAIN + ONE_DRAIN.replace("id: drain,", "id: other_drain,")


@pytest.mark.parametrize(
    ("causes", "context", "said"),
    [
        ("", "", "lists none"),
        (TWO_DRAINS, "", "has several: drain, other_drain"),
        (ONE_DRAIN, ", fluid: water", "lists none"),
    ],
)
def test_a_blocked_drain_back_is_somewhere(
    folder: Path, causes: str, context: str, said: str
) -> None:
    with pytest.raises(FaultyInput, match=r"timeline\[9\]\.context") as caught:
        load_job(drain_back(folder, causes, context))
    assert said in str(caught.value)
    assert "Add 'seal_point:'" in str(caught.value)


@pytest.mark.parametrize(
    ("causes", "context"),
    [("", ", seal_point: cover_gasket"), (ONE_DRAIN, ""), (ONE_DRAIN, ", fluid: gear_oil")],
)
def test_a_blocked_drain_back_that_is_told_well(folder: Path, causes: str, context: str) -> None:
    assert load_job(drain_back(folder, causes, context))


# Renewals, withdrawals and corrections.

HOSE = """
  - {id: feed_hose_end, kind: hose_end, zones: [foot_left], fluid: gear_oil}
"""


def after_the_last(folder: Path, *entries: str) -> list[Fault]:
    return faults_of(folder, TEXT.rstrip() + "".join(f"\n  - {e}" for e in entries) + "\n")


COUNT = len(yaml.safe_load(TEXT)["timeline"])
LINE = TEXT.rstrip().count("\n") + 2


def test_a_renewal_tells_what_was_checked(folder: Path) -> None:
    path = folder / "job.yaml"
    old = "renew: shaft_seal"
    path.write_text(TEXT.replace(old, f"{old}, checks: [mirror, wiped], how: refitted"))
    renewal = load_job(path).job.timeline[8]
    assert isinstance(renewal, Renewal)
    assert (renewal.checks, renewal.how) == ((Check.MIRROR, Check.WIPED), How.REFITTED)


@pytest.mark.parametrize(
    ("entry", "path", "said"),
    [
        ("renew: shaft_seal, checks: [mirrow]", "checks[0]", "Did you mean 'mirror'?"),
        ("renew: shaft_seal, checks: mirror", "checks", "must be a list"),
        ("renew: shaft_seal, how: shortend", "how", "Did you mean 'shortened'?"),
        ("renew: shaft_seal, how: shortened", "how", "only a hose end can be cut back"),
        ("withdraw: 0", "withdraw", "must be at least 1"),
        ("withdraw: two", "withdraw", "number"),
        (f"withdraw: {COUNT + 1}", "withdraw", "not before it: it is entry 10 itself"),
        (f"withdraw: {COUNT + 2}", "withdraw", f"the timeline has {COUNT + 1}"),
        (f"correct: {COUNT + 9}, to: {{zone: foot_left, state: dry}}", "correct", "counted from 1"),
        ("correct: 1", "to", "is missing"),
        ("correct: 1, to: {sign: level_falls, fluid: gear_oil}", "to", "a sign in the place of"),
        ("correct: 3, to: {zone: foot_left, state: dry}", "to", "Give a reading of a seal point"),
        ("correct: 1, to: {zone: foot_lift, state: dry}", "to.zone", "Did you mean 'foot_left'?"),
        ("correct: 1, to: {zone: foot_left, stat: dry}", "to.stat", "Did you mean 'state'?"),
        ("correct: 9, to: {renew: shaft_seal, how: shortened}", "to.how", "'new_part'"),
        ("correct: 1, to: {withdraw: 1}", "to", "does not say what it is"),
    ],
)
def test_one_fault_of_what_was_renewed_withdrawn_or_corrected(
    folder: Path, entry: str, path: str, said: str
) -> None:
    assert COUNT == 9
    (fault,) = after_the_last(folder, f"{{{entry}}}")
    assert fault.path == f"timeline[{COUNT}].{path}"
    assert fault.line == LINE
    assert said in str(fault)


def test_a_later_entry_cannot_be_taken_back_yet(folder: Path) -> None:
    (fault,) = faults_after(folder, "timeline:", "timeline:\n  - {withdraw: 2}")
    assert fault.path == "timeline[0].withdraw"
    assert "names entry 2, which comes after it: it is entry 1" in str(fault)


def test_what_was_taken_back_is_not_taken_back_again(folder: Path) -> None:
    (fault,) = after_the_last(folder, "{withdraw: 1}", "{withdraw: 1}")
    assert (fault.path, fault.line) == (f"timeline[{COUNT + 1}].withdraw", LINE + 1)
    assert "has been withdrawn already" in str(fault)
    path = folder / "well.yaml"
    back = f"\n  - {{withdraw: 1}}\n  - {{withdraw: {COUNT + 1}}}\n  - {{withdraw: 1}}\n"
    path.write_text(TEXT.rstrip() + back)
    assert len(load_job(path).job.timeline) == COUNT + 3


def test_a_correction_is_not_corrected_itself(folder: Path) -> None:
    right = "{correct: 1, to: {zone: foot_left, state: dry}}"
    again = f"{{correct: {COUNT + 1}, to: {{zone: foot_left, state: film}}}}"
    (fault,) = after_the_last(folder, right, again)
    assert fault.path == f"timeline[{COUNT + 1}].to"
    assert "which is a correction" in str(fault)


def test_numbers_are_those_of_the_file_where_entries_have_faults_of_their_own(
    folder: Path,
) -> None:
    faults = after_the_last(
        folder,
        "{zone: foot_left, state: damp}",
        f"{{withdraw: {COUNT + 1}}}",
        f"{{withdraw: {COUNT + 3}}}",
        f"{{correct: {COUNT + 1}, to: {{sign: level_falls, fluid: gear_oil}}}}",
    )
    assert [(f.path, f.line) for f in faults] == [
        (f"timeline[{COUNT}].state", LINE),
        (f"timeline[{COUNT + 2}].withdraw", LINE + 2),
        (f"timeline[{COUNT + 3}].to", LINE + 3),
    ]


def test_only_a_hose_end_can_be_shortened(folder: Path) -> None:
    made = (folder / "pump_stand.yaml").read_text()
    (folder / "pump_stand.yaml").write_text(
        made.replace("seal_points:\n", "seal_points:" + HOSE.rstrip() + "\n", 1)
    )
    path = folder / "job.yaml"
    path.write_text(TEXT.rstrip() + "\n  - {renew: feed_hose_end, how: shortened}\n")
    assert load_job(path)
