"""The folder that all runs out of, and where its contents come from."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from leakdx.opening.folder import installed_shares, run_folder, shipped_notebook


def test_it_is_private_and_gone_afterwards() -> None:
    with run_folder() as folder:
        assert folder.notebook.read_bytes() == shipped_notebook().read_bytes()
        assert folder.root.stat().st_mode & 0o077 == 0
        # All that a program puts aside for a while goes with it.
        assert Path(tempfile.mkdtemp()).is_relative_to(folder.root)
    assert not folder.root.exists()
    assert tempfile.gettempdir() != str(folder.temporary)


def test_it_goes_when_something_fails() -> None:
    try:
        with run_folder() as folder:
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        assert not folder.root.exists()


def test_every_folder_of_jupyter_is_in_it_or_came_with_the_programs() -> None:
    with run_folder() as folder:
        environment = folder.environment
        shares = installed_shares()
        assert any((Path(each) / "voila" / "templates" / "base").is_dir() for each in shares)
        own = {"JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "TMPDIR"}
        for name in own | {"JUPYTERLAB_SETTINGS_DIR", "JUPYTERLAB_WORKSPACES_DIR"}:
            assert Path(environment[name]).is_relative_to(folder.root)
        data, template, *rest = environment["JUPYTER_PATH"].split(os.pathsep)
        assert Path(data).is_relative_to(folder.root)
        assert (Path(template) / "voila" / "templates" / "leakdx" / "index.html.j2").is_file()
        assert tuple(rest) == shares
        for name in ("anywidget", "@jupyter-widgets/jupyterlab-manager"):
            assert (folder.extensions / name / "package.json").is_file()
