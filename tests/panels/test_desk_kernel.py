"""The desk in a real kernel, as JupyterLab and Voila use it: messages go through the wire."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jupyter_client.blocking.client import BlockingKernelClient
from jupyter_client.manager import start_new_kernel

from leakdx.store.changes import Entered
from leakdx.store.store import CaseStore
from tests.panels.desks import wet_foot

ROOT = Path(__file__).parent.parent.parent
WAIT_S = 60
FILM = {"zone": "cover_top", "state": "film"}


class Page:
    """What a page has of a desk: the values of its traits and a way to say something."""

    def __init__(self, client: BlockingKernelClient) -> None:
        self.client = client
        self.traits: dict[str, Any] = {}
        self.comm = ""
        self.files: list[Any] = []

    def run(self, code: str) -> None:
        """Run a cell of the notebook; what fails in it fails the test."""
        message = self.client.execute(code)
        self.until(lambda told: told["parent_header"].get("msg_id") == message and _idle(told))

    def say(self, do: str, key: str, subshell: str | None = None, **rest: Any) -> None:
        """Send a message, from a subshell if told."""
        content = {"do": do, "key": key, "control": "page", **rest}
        data = {"method": "custom", "content": content}
        message = self.client.session.msg("comm_msg", {"comm_id": self.comm, "data": data})
        if subshell is not None:
            message["header"]["subshell_id"] = subshell
        self.client.shell_channel.send(message)

    def until(self, wanted: Any) -> None:
        """Hear what the kernel tells, until something is so."""
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            told = self.client.get_iopub_msg(timeout=WAIT_S)
            self._hear(told)
            if wanted(told):
                return
        pytest.fail("it was not told in time")

    def until_saved(self, key: str) -> None:
        """Hear until Python has acknowledged a message."""
        self.until(lambda _: key in self.traits.get("saved", ()))

    def _hear(self, told: Any) -> None:
        content = told["content"]
        if told["msg_type"] == "error":
            pytest.fail("\n".join(content["traceback"]))
        elif told["msg_type"] == "comm_open" and "_esm" in content["data"]["state"]:
            self.comm = content["comm_id"]
            self.traits |= content["data"]["state"]
        elif told["msg_type"] == "comm_msg" and content["comm_id"] == self.comm:
            data = content["data"]
            self.traits |= data.get("state", {})
            self.files += [data["content"]["file"]] if "content" in data else []


def _idle(told: Any) -> bool:
    return bool(told["msg_type"] == "status" and told["content"]["execution_state"] == "idle")


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    """A page with the small job open, without background work."""
    store = CaseStore.open(tmp_path)
    loaded = wet_foot()
    store.opened(store.begin(loaded.job, loaded.machine, "begin:test"))
    store.close()
    env = os.environ | {"LEAKDX_HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    manager, client = start_new_kernel(env=env)
    there = Page(client)
    try:
        there.run(
            "from leakdx.panels.desk import Desk\n"
            "from tests.panels.desks import FakeErrands\n"
            "desk = Desk(None, FakeErrands)"
        )
        yield there
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)


@pytest.mark.long
def test_messages_of_the_shell_and_of_a_subshell_are_obeyed_in_order(page: Page) -> None:
    assert page.traits["job"]["id"] == "wet_foot"
    page.until(lambda _: page.traits["machine"] is not None)
    # JupyterLab sends messages of widgets to a subshell, which has a thread of its own.
    client = page.client
    client.control_channel.send(client.session.msg("create_subshell_request"))
    subshell = client.get_control_msg(timeout=WAIT_S)["content"]["subshell_id"]
    for n, state in enumerate(("film", "running", "dripping", "wet")):
        entry = {"zone": "cover_top", "state": state}
        page.say("enter", f"k{n}", subshell if n % 2 else None, entries=[entry])
        page.until_saved(f"k{n}")
    assert page.traits["faults"] == []
    assert [line["data"]["state"] for line in page.traits["job"]["timeline"][9:]] == [
        "film",
        "running",
        "dripping",
        "wet",
    ]
    page.say("export", "out", subshell)
    page.until_saved("out")
    assert page.files[0]["name"] == "wet_foot.yaml"


@pytest.mark.long
def test_what_others_write_comes_by_itself(page: Page, tmp_path: Path) -> None:
    other = CaseStore.open(tmp_path)
    other.append("wet_foot", [Entered(FILM)], "by hand")
    page.until(lambda _: page.traits["notices"])
    assert page.traits["notices"][0]["said"] == "Another window added: cover top: film."
    assert len(page.traits["job"]["timeline"]) == 10
    # A report comes from a thread of its own.
    page.run(
        "from threading import Thread\n"
        "from leakdx.panels.messages import Report\n"
        "head = desk.job['head']\n"
        "told = Report('settle', head, 'running', said='weighing', done=1, of=2)\n"
        "Thread(target=desk._working.told, args=(told,)).start()"
    )
    page.until(lambda _: "weighing" in [w["said"] for w in page.traits["work"]])
    # A closed one asks for nothing and looks round no more.
    page.run("desk.close()\nassert desk._tending._later == {}")
