"""``leakdx open --page``: only for who has the token, from loopback alone, and gone at the end."""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from tests.opening.served import Opened, eventually, started

# An address on another computer, however it is written.
ELSEWHERE = re.compile(r"""(?:https?:|wss?:|["'(=\s])//[\w.-]+""")


@pytest.fixture(scope="module")
def page(folder: Path) -> Iterator[Opened]:
    command = ("-m", "leakdx.cli", "open", "rear_of_engine_wet", "--page", "--no-browser")
    with started(folder, *command) as opened:
        yield opened


def test_without_the_token_it_is_refused_in_words(page: Opened) -> None:
    before = len(page.kernels())
    for path in ("/", "/?token=wrong", "/?token="):
        stranger = page.stranger()
        answer = stranger.get(path)
        assert answer.status == 302
        assert answer.where.startswith("/login")
        refused = stranger.get(answer.where)
        assert refused.status == 403
        assert "whole address that leakdx printed" in refused.text
        assert "<form" not in refused.text
        # What it was given is no way in the second time either.
        assert stranger.get("/").status == 302
    assert len(page.kernels()) == before


def test_the_token_is_exchanged_for_a_cookie_and_leaves_the_address(page: Opened) -> None:
    reader = page.stranger()
    answer = reader.get(page.entrance)
    assert (answer.status, answer.where) == (302, "/")
    [cookie] = [v for k, v in answer.headers.items() if k == "set-cookie" and "username" in v]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_the_token_is_new_each_time_and_long(page: Opened) -> None:
    token = page.address.partition("token=")[2]
    assert len(token) >= 32


@pytest.fixture(scope="module")
def shown(page: Opened) -> str:
    page.get(page.entrance)
    answer = page.get("/")
    assert answer.status == 200
    page.headers_shown = answer.headers  # type: ignore[attr-defined]
    return answer.text


def test_the_page_says_what_it_is_and_that_it_is_opening(shown: str) -> None:
    assert "<title>leakdx</title>" in shown
    assert '<html lang="en">' in shown
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in shown
    assert "Opening leakdx" in shown
    # The words come before the kernel is waited for.
    assert shown.index("Opening leakdx") < shown.index("jupyter-config-data")
    assert re.search(r'<button id="reload" type="button" hidden>Reload</button>', shown)


def test_the_page_holds_the_desk(shown: str) -> None:
    assert 'class="failed"' not in shown
    assert shown.count("application/vnd.jupyter.widget-view+json") == 1


def test_nothing_is_asked_of_another_computer(page: Opened, shown: str) -> None:
    assert not ELSEWHERE.findall(shown)
    linked = re.findall(r'(?:href|src)="(/[^"]+)"', shown)
    ours = [path for path in linked if "/templates/leakdx/" in path]
    assert {Path(path.partition("?")[0]).name for path in ours} == {"page.css", "waiting.js"}
    for path in ours:
        answer = page.get(path)
        assert answer.status == 200
        assert not ELSEWHERE.findall(answer.text)


def test_the_policy_lets_nothing_in_from_elsewhere(page: Opened, shown: str) -> None:
    policy = page.headers_shown["content-security-policy"]  # type: ignore[attr-defined]
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split(";")}
    assert rules["default-src"] == ["'none'"]
    assert rules["script-src"] == ["'self'", "blob:"]
    assert set(rules["connect-src"]) == {
        "'self'", f"ws://127.0.0.1:{page.port}", f"ws://localhost:{page.port}"
    }  # fmt: skip
    assert rules["frame-ancestors"] == ["'none'"]
    assert not [w for words in rules.values() for w in words if w in ("*", "http:", "https:")]


def test_other_sites_and_other_names_are_refused(page: Opened, shown: str) -> None:
    kernel = re.search(r'"kernelId": "([\w-]+)"', shown)
    assert kernel
    channels = f"/api/kernels/{kernel[1]}/channels"
    socket = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec_WebSocket_Version": "13",
        "Sec_WebSocket_Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }
    assert page.get(channels, Origin="http://elsewhere.example", **socket).status == 403
    assert page.stranger().get(channels, **socket).status == 403
    assert page.get("/", Host="elsewhere.example").status == 403
    assert page.stranger().get(f"/api/kernels/{kernel[1]}").status == 403


@pytest.mark.parametrize(
    "path", ["/voila/files/diagnose.ipynb", "/api/terminals", "/api/contents", "/api/kernels"]
)
def test_there_is_nothing_else_to_fetch(page: Opened, shown: str, path: str) -> None:
    answer = page.get(path)
    assert answer.status in (302, 404)
    assert "cells" not in answer.text


def test_all_of_it_listens_on_loopback_only(page: Opened, shown: str) -> None:
    everyone = [psutil.Process(page.process.pid), *page.family()]
    listening = {
        each.laddr.ip
        for process in everyone
        for each in process.net_connections(kind="inet")
        if each.status == psutil.CONN_LISTEN
    }
    assert listening == {"127.0.0.1"}


def test_the_example_was_begun_as_a_job(page: Opened) -> None:
    from leakdx.store.store import CaseStore

    with CaseStore.open(page.store) as store:
        assert [job.id for job in store.jobs()] == ["rear_of_engine_wet"]


def test_ctrl_c_leaves_nothing(page: Opened, shown: str) -> None:
    """The last of this module: it stops the server."""
    family = page.family()
    assert family
    assert page.run_folders
    assert page.end(signal.SIGINT) == 130
    page.assert_nothing_left(family)
    # Nor was anything put among the user's own settings.
    assert not (page.store.parent / "mine").exists()
    assert eventually(lambda: page.process.poll() is not None, 1)
