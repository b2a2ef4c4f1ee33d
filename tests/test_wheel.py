"""The wheel holds all that is needed, and works away from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path
from shutil import copytree, ignore_patterns

import pytest

ROOT = Path(__file__).parent.parent


def build(source: Path, kind: str, target: Path) -> Path:
    """Build a wheel or sdist without the network: with the builder that is installed."""
    done = subprocess.run(
        [sys.executable, "-m", "build", f"--{kind}", "--no-isolation", "--outdir", target, source],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (made,) = target.glob("*.whl" if kind == "wheel" else "*.tar.gz")
    return made


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the sdist, built from a copy: what a user would get."""
    work = tmp_path_factory.mktemp("wheel")
    leave = ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis", "dist")
    copytree(ROOT, work / "source", ignore=leave)
    if not (work / "source" / "README.md").exists():
        (work / "source" / "README.md").write_text("# leakdx\n")
    sdist = build(work / "source", "sdist", work / "sdist")
    with tarfile.open(sdist) as archive:
        archive.extractall(work / "unpacked", filter="data")
    (unpacked,) = (work / "unpacked").iterdir()
    return build(unpacked, "wheel", work / "made")


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the package in it, as installed, and nothing of the checkout."""
    target = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(target)
    return target


def run(installed: Path, folder: Path, *args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *args],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_wheel_holds_code_and_data_and_no_tests(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    kinds = ("machines", "layouts", "parts", "jobs")
    places = [("priors", "_priors"), *((f"leakdx/library/{k}", f"library/{k}") for k in kinds)]
    for folder, inside in places:
        for path in (ROOT / folder).glob("*.yaml"):
            assert f"leakdx/{inside}/{path.name}" in names
    for path in (ROOT / "leakdx/report/templates").iterdir():
        assert f"leakdx/report/templates/{path.name}" in names
    assert "leakdx/cli.py" in names
    assert "leakdx/py.typed" in names
    assert not [name for name in names if not name.startswith(("leakdx/", "leakdx-"))]


def test_its_own_files_are_found(installed: Path, tmp_path: Path) -> None:
    code = (
        "import leakdx.files.places as p, leakdx.kit.read as m; "
        "print(p.__file__); print(p.priors_folder()); print(*m.shipped_machines())"
    )
    done = run(installed, tmp_path, "-c", code)
    assert done.returncode == 0, done.stderr
    module, priors, machines = done.stdout.splitlines()
    assert Path(module).is_relative_to(installed)
    assert Path(priors) == installed / "leakdx" / "_priors"
    assert machines


def test_check_works_away_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    library = installed / "leakdx" / "library"
    files = [str(path) for path in sorted(library.glob("*/*.yaml"))]
    done = run(installed, tmp_path, "-m", "leakdx.cli", "check", *files)
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.splitlines()) == len(files)


def test_a_page_can_be_made_away_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    job = tmp_path / "dry.yaml"
    job.write_text(
        "format: leakdx-job/1\nid: dry\nmachine: {id: forestry_carrier_five, version: '1'}\n"
    )
    done = run(installed, tmp_path, "-m", "leakdx.cli", "sheet", str(job), "--out", "sheet.html")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_rank_works_away_from_the_checkout(installed: Path, tmp_path: Path) -> None:
    done = run(installed, tmp_path, "-m", "leakdx.cli", "rank")
    assert done.returncode == 0, done.stderr
    assert done.stdout
    assert not list(tmp_path.iterdir())
