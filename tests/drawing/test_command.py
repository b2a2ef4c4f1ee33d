"""The command: what it writes, what it says, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from leakdx import cli
from leakdx.drawing.asked import Asked, scene_of
from leakdx.drawing.command import VIEWS, json_schema
from leakdx.drawing.laying import sheet_of
from leakdx.drawing.report import Drawn, document_of
from leakdx.drawing.seeing import Side
from leakdx.files.faults import FaultyInput
from leakdx.kit.read import load_shipped
from leakdx.machine.model import Machine, Stand
from leakdx.priors.read import shipped_priors
from tests.drawing.drawn import REFERENCE
from tests.flow.boxes import box, machine, tray

STANDS = (Stand(id="kerb", roll_deg=6.0), Stand(id="ramp", pitch_deg=10.0))


def made(**more: object) -> Machine:
    return machine((*box(), tray()), **more)


def test_the_drawing_is_written_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(["show", REFERENCE]) == 0
    said = capsys.readouterr().out
    reference = load_shipped(REFERENCE)
    counts = f"{len(reference.zones)} zones, {len(reference.seal_points)} seal points"
    path = tmp_path / f"{REFERENCE}.svg"
    assert f"{REFERENCE}.svg: {counts}" in said
    assert ElementTree.parse(path).getroot().tag.endswith("svg")
    assert "can be wetted" in said
    # Once more over it.
    path.write_text("old", encoding="utf-8")
    assert cli.main(["show", REFERENCE, "--out", str(path)]) == 0
    assert path.read_text(encoding="utf-8").startswith("<svg")
    assert str(path).replace("\n", "") in capsys.readouterr().out.replace("\n", "")


def test_the_document_fits_its_schema(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    out = tmp_path / "a.svg"
    for more in ([], ["--view", "left"], ["--from", "crank_seal_rear", "--pitch", "-8"]):
        assert cli.main(["show", REFERENCE, "--json", "--out", str(out), *more]) == 0
        document = json.loads(capsys.readouterr().out)
        jsonschema.Draft202012Validator(schema).validate(document)
        assert document["file"] == str(out)
        assert len(document["zones"]) == len(load_shipped(REFERENCE).zones)
        assert document["views"] == (["left"] if "--view" in more else [str(s) for s in Side])
        seen = {z["id"] for z in document["zones"]}
        assert seen >= set(document["unreached"])
    assert document["stands"]["pitch_deg"] == -8
    # Nose down nothing runs back onto the gearbox, and no seal point of its own is listed.
    assert "gearbox_top" in document["unreached"]
    followed = document["followed"]
    assert followed["seal_point"] == "crank_seal_rear"
    assert followed["zones"]["bell_inside"] == 1
    assert 0 < followed["to_ground"] <= 1


def test_the_document_says_where_each_thing_is_to_be_seen() -> None:
    scene = scene_of(made(), Asked(), shipped_priors())
    document = document_of(Drawn("a.svg", scene, sheet_of(scene), ()))
    views = {z["id"]: z["views"] for z in document["zones"]}
    assert views["left"] == ["left"] and views["underside"] == ["below"]
    assert [s["fluid"] for s in document["seal_points"]] == ["oil"]
    way = next(w for w in document["ways"] if (w["source"], w["target"]) == ("left", "tray"))
    assert way["way"] == "drip" and way["views"] == ["left"]
    assert any(w["target"] is None for w in document["ways"])


def test_the_views_that_may_be_asked_are_those_there_are() -> None:
    assert set(VIEWS) == {str(s) for s in Side}


def test_a_stand_is_taken_from_the_machine_and_degrees_go_before_it() -> None:
    scene = scene_of(made(stands=STANDS), Asked(stand="kerb"), shipped_priors())
    assert (scene.wind.attitude.pitch_deg, scene.wind.attitude.roll_deg) == (0, 6)
    scene = scene_of(made(stands=STANDS), Asked("kerb", 3.0, None, 4.0), shipped_priors())
    assert (scene.wind.attitude.pitch_deg, scene.wind.attitude.roll_deg) == (3, 6)
    assert scene.wind.airflow_m_s == 4


@pytest.mark.parametrize(
    ("asked", "path", "remedy"),
    [
        (Asked(stand="krb"), "--stand", "kerb, ramp"),
        (Asked(seal_point="jiont"), "--from", "'joint'"),
        (Asked(pitch_deg=91.0), "--pitch", "-90 to 90"),
        (Asked(roll_deg=float("nan")), "--roll", "-180 to 180"),
        (Asked(airflow_m_s=-1.0), "--airflow", "0 to 100"),
        (Asked(airflow_m_s=float("inf")), "--airflow", "0 to 100"),
    ],
)
def test_what_cannot_be_is_refused_with_a_remedy(asked: Asked, path: str, remedy: str) -> None:
    with pytest.raises(FaultyInput) as caught:
        scene_of(made(stands=STANDS), asked, shipped_priors())
    (fault,) = caught.value.faults
    assert fault.path == path and remedy in fault.remedy


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(FaultyInput) as caught:
        scene_of(made(), Asked("bob", 100.0, None, 0.0, "bob"), shipped_priors())
    assert [f.path for f in caught.value.faults] == ["--stand", "--pitch", "--from"]
    assert "has none" in caught.value.faults[0].remedy


def test_a_file_that_cannot_be_written_is_a_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "missing" / "a.svg"
    assert cli.main(["show", REFERENCE, "--out", str(out)]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert cli.main(["show", "forestry_carrier_fve", "--out", str(tmp_path / "a.svg")]) == 2
    assert "forestry_carrier_five" in capsys.readouterr().err


def test_zones_out_of_reach_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from leakdx.files.save import save

    low = made().model_copy(
        update={
            "seal_points": tuple(
                s.model_copy(update={"zones": ("underside",)}) for s in made().seal_points
            )
        }
    )
    path = tmp_path / "low.yaml"
    save(low, path)
    assert cli.main(["show", str(path), "--out", str(tmp_path / "low.svg")]) == 0
    said = capsys.readouterr().out
    assert "No listed seal point can wet: top" in said
