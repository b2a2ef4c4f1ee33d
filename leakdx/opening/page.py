"""The page: Voila with a template of our own, in this process."""

from __future__ import annotations

import socket
from typing import Any

import tornado.web
from tornado.httpserver import HTTPServer
from traitlets.config import Config
from voila.app import Voila
from voila.tornado.handler import TornadoVoilaHandler

from leakdx.opening.asked import Culling
from leakdx.opening.door import COOKIE, Door
from leakdx.opening.folder import Folder
from leakdx.opening.kernels import kernel_settings

TEMPLATE = "leakdx"
# The widgets of ipywidgets 8, and those made with anywidget.
USED_EXTENSIONS = [
    "@voila-dashboards/widgets-manager8",
    "@jupyter-widgets/jupyterlab-manager",
    "anywidget",
]
# What the page may load: its own server's files, and the modules that widgets make of text.
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self' blob:",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        # Not every browser takes "self" to mean its sockets too.
        "connect-src 'self' {sockets}",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)


class _Page(TornadoVoilaHandler):
    """The page itself; the token leaves the address as soon as it was read."""

    @tornado.web.authenticated
    async def get(self, path: str | None = None) -> None:
        if self.get_query_argument("token", None) is not None:
            self.redirect(self.base_url)
        else:
            # Sends the cookie without which the page could not end its kernel when it goes.
            _ = self.xsrf_token
            await super().get(path)


def _without_mathjax(page_config: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Nothing here sets formulas, and their program would come from elsewhere."""
    return page_config | {"fullMathjaxUrl": None, "mathjaxConfig": None}


class Page(Voila):
    """Voila on a socket that is listening already."""

    def init_settings(self) -> dict[str, Any]:
        """The settings of Voila, with our pages for whatever goes wrong."""
        settings: dict[str, Any] = super().init_settings()
        settings["jinja2_env"] = settings["voila_jinja2_env"]
        return settings

    def init_handlers(self) -> list[Any]:
        """The handlers of Voila, with our page and without files to fetch."""
        handlers = []
        for pattern, handler, *rest in super().init_handlers():
            if "/voila/files/" in pattern:
                continue
            ours = _Page if handler is TornadoVoilaHandler else handler
            handlers.append((pattern, ours, *rest))
        return handlers

    def _handle_signal_stop(self, sig: int, frame: object) -> None:
        """Stop, where nothing runs yet; afterwards the signals are heard by others."""
        raise KeyboardInterrupt

    def listen(self) -> None:
        """Take the socket that was bound; returns at once."""
        server = HTTPServer(self.app)
        server.add_sockets([self.sock])

    sock: socket.socket


def page_server(folder: Folder, sock: socket.socket, token: str, culling: Culling) -> Page:
    """The server of the page, not yet started.

    ``sock`` listens on loopback.
    """
    config = Config()
    port = sock.getsockname()[1]
    sockets = f"ws://127.0.0.1:{port} ws://localhost:{port}"
    config.Voila = Config(
        {
            "ip": "127.0.0.1",
            "port": port,
            "open_browser": False,
            "token": token,
            "identity_provider_class": Door,
            "notebook_path": str(folder.notebook),
            "root_dir": str(folder.notebooks),
            "connection_dir_root": str(folder.runtime),
            "config_file_paths": [],
            "log_level": 40,
            "tornado_settings": {
                # Only names of this computer: no other site's name may be pointed here.
                "allow_remote_access": False,
                "local_hostnames": ["localhost"],
                "xsrf_cookies": True,
                "headers": {
                    "Content-Security-Policy": POLICY.format(sockets=sockets),
                    "Referrer-Policy": "no-referrer",
                    "X-Content-Type-Options": "nosniff",
                },
            },
        }
    )
    config.Door = Config({"cookie_options": COOKIE})
    config.VoilaConfiguration = Config(
        {
            "template": TEMPLATE,
            "theme": "light",
            "allow_template_override": "NO",
            "allow_theme_override": "NO",
            "extension_allowlist": USED_EXTENSIONS,
            "file_allowlist": [],
            "show_tracebacks": True,
            # What it would send meanwhile is a script within the page, which the policy forbids.
            "http_keep_alive_timeout": 3600,
            "page_config_hook": _without_mathjax,
        }
    )
    config.MappingKernelManager = Config(culling.settings())
    config.KernelManager = Config(kernel_settings())
    page = Page(config=config)
    page.sock = sock
    page.initialize([])
    return page
