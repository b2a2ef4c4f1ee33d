"""JupyterLab with the notebook open, in this process and with nothing that asks elsewhere."""

from __future__ import annotations

import socket
from pathlib import Path

from jupyter_core.paths import jupyter_config_dir
from jupyter_server.serverapp import ServerApp
from jupyterlab.handlers.announcements import NeverCheckForUpdate
from traitlets.config import Config

from leakdx.opening.asked import Culling
from leakdx.opening.door import COOKIE, Door
from leakdx.opening.folder import DISABLED, Folder, written
from leakdx.opening.kernels import kernel_settings

# JupyterLab makes programs of text in places, so it may; but nothing comes from elsewhere.
POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "connect-src 'self' {sockets} data: blob:",
        "worker-src 'self' blob:",
        "frame-src 'self' data: blob:",
        "object-src 'none'",
        "frame-ancestors 'none'",
    )
)


class _Server(ServerApp):
    """A server on a socket that is listening already, which leaves the signals to us."""

    sock_bound: socket.socket

    def _find_http_port(self) -> None:
        pass

    def _bind_http_server_tcp(self) -> bool:
        self.http_server.add_sockets([self.sock_bound])
        return True

    def init_signal(self) -> None:
        """Leave the signals as they are."""


def lab_server(folder: Folder, sock: socket.socket, token: str, culling: Culling) -> ServerApp:
    """JupyterLab's server, ready to serve once its loop runs; ``sock`` listens on loopback."""
    port = sock.getsockname()[1]
    sockets = f"ws://127.0.0.1:{port} ws://localhost:{port}"
    config = Config(
        {
            "ServerApp": {
                "ip": "127.0.0.1",
                "port": port,
                "open_browser": False,
                "root_dir": str(folder.notebooks),
                "identity_provider_class": Door,
                "allow_remote_access": False,
                # Who runs it as root has a reason; it is loopback only, and with a token.
                "allow_root": True,
                "terminals_enabled": False,
                "quit_button": False,
                "log_level": 40,
                "tornado_settings": {
                    "headers": {
                        "Content-Security-Policy": POLICY.format(sockets=sockets),
                        "Referrer-Policy": "no-referrer",
                    }
                },
            },
            "Door": {"token": token, "cookie_options": COOKIE},
            "LabApp": {
                "news_url": None,
                "check_for_updates_class": NeverCheckForUpdate,
                "extension_manager": "readonly",
                "labextensions_path": [str(folder.extensions)],
                "extra_labextensions_path": [],
                "user_settings_dir": str(folder.settings),
                "workspaces_dir": str(folder.root / "workspaces"),
                "log_level": 40,
            },
            "MappingKernelManager": culling.settings(),
            "KernelManager": kernel_settings(),
        }
    )
    _Server.sock_bound = sock
    written(
        Path(jupyter_config_dir()) / "labconfig" / "page_config.json",
        {"disabledExtensions": dict.fromkeys(DISABLED, True)},
    )
    # JupyterLab alone, whatever other extensions of the server are installed.
    server = _Server.instance(config=config, jpserver_extensions={"jupyterlab": True})
    server.no_browser_open_file = True
    server.initialize(argv=[], starter_extension="lab", find_extensions=False)
    return server
