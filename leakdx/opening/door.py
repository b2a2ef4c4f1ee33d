"""Who is let in: only who has the token, or the cookie that the token was exchanged for."""

from __future__ import annotations

from typing import Any

from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider
from jupyter_server.base.handlers import JupyterHandler

_REFUSED = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>leakdx</title>
<link rel="icon" href="data:,">
</head>
<body>
<main>
<h1>This address alone does not open the page</h1>
<p>Use the whole address that leakdx printed in its terminal; it ends with a secret that is new
each time. If leakdx was stopped and started since, the old address no longer holds.</p>
</main>
</body>
</html>
"""


class Refusal(JupyterHandler):
    """What a reader sees who comes without the token: nothing to fill in, nothing to guess."""

    @allow_unauthenticated
    def get(self) -> None:
        """Say how to get in."""
        self.set_status(403)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(_REFUSED)


class Door(IdentityProvider):
    """Lets in by token, then by a cookie that scripts cannot read and other sites do not send."""

    def get_handlers(self) -> list[tuple[str, object]]:
        """Instead of a form to log in: a refusal in words."""
        return [(r"/login", Refusal)]

    @property
    def login_available(self) -> bool:
        """There is nothing to log in with but the address."""
        return False


# Given to the servers with the name of the class that reads it.
COOKIE: dict[str, Any] = {"samesite": "Lax"}
