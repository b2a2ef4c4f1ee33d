"""The folder that everything runs out of while the page is open; gone at the end.

Jupyter's own folders (settings, run files, history) are put in there, so that the settings and
extensions of the user neither disturb nor are touched.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from importlib.resources import files
from pathlib import Path
from typing import Any

from leakdx.opening.warm import COMMAND

NOTEBOOK = "diagnose.ipynb"
# Distributions that bring what the browser needs, and the folder of each among labextensions.
EXTENSIONS = {
    "anywidget": "anywidget",
    "jupyterlab_widgets": "@jupyter-widgets/jupyterlab-manager",
}
# Parts of JupyterLab that ask elsewhere, or that are of no use here.
DISABLED = (
    "@jupyterlab/apputils-extension:announcements",
    "@jupyterlab/extensionmanager-extension",
    "@jupyterlab/terminal-extension",
    "@jupyterlab/lsp-extension",
    "@jupyterlab/notebook-extension:language-server",
    "@jupyterlab/fileeditor-extension:language-server",
    "@jupyterlab/hub-extension",
    "@jupyterlab/help-extension:jupyter-forum",
)
_SETTINGS: Mapping[str, Mapping[str, Any]] = {
    "apputils-extension/notification": {
        "fetchNews": "false",
        "checkForUpdates": False,
        "doNotDisturbMode": True,
    },
    "apputils-extension/themes": {"adaptive-theme": True},
}


@dataclass(frozen=True)
class Folder:
    """The folder while it is there, and what is where in it."""

    root: Path

    @property
    def notebooks(self) -> Path:
        """What the reader opens: copies, so that saving never changes what is installed."""
        return self.root / "notebooks"

    @property
    def notebook(self) -> Path:
        """The copy of the notebook that opens the desk."""
        return self.notebooks / NOTEBOOK

    @property
    def runtime(self) -> Path:
        """Connection files of kernels."""
        return self.root / "run"

    @property
    def extensions(self) -> Path:
        """The extensions of JupyterLab that are used, and no others."""
        return self.root / "labextensions"

    @property
    def temporary(self) -> Path:
        """Where programs put what they need for a while."""
        return self.root / "tmp"

    @property
    def settings(self) -> Path:
        """Settings of JupyterLab."""
        return self.root / "settings"

    @property
    def environment(self) -> dict[str, str]:
        """Environment variables that have Jupyter use this folder."""
        package = Path(str(files("leakdx")))
        # In a checkout, kernels use that checkout, whatever else is installed.
        checkout = package.parent if (package.parent / "pyproject.toml").is_file() else ""
        paths = (str(checkout), os.environ.get("PYTHONPATH", ""))
        shares = (str(files("leakdx.opening") / "share"), *installed_shares())
        return {
            "PYTHONPATH": os.pathsep.join(path for path in paths if path),
            "JUPYTER_DATA_DIR": str(self.root / "data"),
            "JUPYTER_RUNTIME_DIR": str(self.runtime),
            # It then takes a new folder among the temporary ones, which are in here too.
            "JUPYTER_NO_CONFIG": "1",
            "TMPDIR": str(self.temporary),
            "JUPYTER_PATH": os.pathsep.join((str(self.root / "data"), *shares)),
            "JUPYTERLAB_SETTINGS_DIR": str(self.settings),
            "JUPYTERLAB_WORKSPACES_DIR": str(self.root / "workspaces"),
            "IPYTHONDIR": str(self.root / "ipython"),
        }


def shipped_notebook() -> Path:
    """The notebook that opens the desk: inside the installed package, or in the checkout.

    Raises:
        FileNotFoundError: where neither is there, so the installation is not whole.
    """
    package = Path(str(files("leakdx")))
    for path in (package / "_notebooks" / NOTEBOOK, package.parent / "notebooks" / NOTEBOOK):
        if path.is_file():
            return path
    raise FileNotFoundError("the notebook of leakdx is missing; install leakdx again")


def _installed(name: str, ending: str) -> Path | None:
    """Where the file of a distribution is whose path ends so, links followed."""
    try:
        found = distribution(name).files or []
    except PackageNotFoundError:
        return None
    for each in found:
        if each.as_posix().endswith(ending):
            path = Path(str(each.locate())).resolve()
            if path.is_file():
                return path
    return None


def installed_shares() -> tuple[str, ...]:
    """The folders ``share/jupyter`` that the page's programs were installed to.

    Jupyter looks in some usual places only; what was installed for one user, or into another
    prefix, is found by what the installer wrote down.
    """
    conf = _installed("voila", "share/jupyter/voila/templates/base/page.html")
    lab = _installed("jupyterlab", "share/jupyter/lab/static/package.json")
    found = [path.parents[up] for path, up in ((conf, 3), (lab, 2)) if path is not None]
    return tuple(dict.fromkeys(str(path) for path in found))


@contextmanager
def run_folder() -> Iterator[Folder]:
    """A folder made ready, removed with everything in it at the end."""
    root = Path(tempfile.mkdtemp(prefix="leakdx-open-"))
    try:
        folder = Folder(root)
        _furnish(folder)
        tempfile.tempdir = str(folder.temporary)
        yield folder
    finally:
        tempfile.tempdir = None
        shutil.rmtree(root, ignore_errors=True)


def _furnish(folder: Folder) -> None:
    for each in (
        folder.temporary,
        folder.notebooks,
        folder.runtime,
        folder.extensions,
        folder.root / "ipython",
    ):
        each.mkdir(mode=0o700)
    shutil.copyfile(shipped_notebook(), folder.notebook)
    argv = [*COMMAND, "-f", "{connection_file}"]
    written(
        folder.root / "data" / "kernels" / "python3" / "kernel.json",
        {
            "argv": argv,
            "display_name": "Python 3",
            "language": "python",
            # Other users of this computer may connect to a kernel's ports, but not read along.
            "metadata": {"supported_encryption": ["curve"]},
        },
    )
    for name, values in _SETTINGS.items():
        written(folder.settings / "@jupyterlab" / f"{name}.jupyterlab-settings", values)
    for name, place in EXTENSIONS.items():
        described = _installed(name, f"labextensions/{place}/package.json")
        if described is not None:
            _linked(described.parent, folder.extensions / place)


def written(path: Path, data: Mapping[str, Any]) -> None:
    """Write ``data`` to ``path`` as JSON, with the folders on the way."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(data), encoding="utf-8")


def _linked(there: Path, here: Path) -> None:
    """``there`` found at ``here``: as a link, or as a copy where links are not allowed."""
    here.parent.mkdir(parents=True, exist_ok=True)
    try:
        here.symlink_to(there, target_is_directory=True)
    except OSError:
        shutil.copytree(there, here)
