"""What the page says, as typed orders: every fault of a message is told at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StringConstraints, Tag

from leakdx.files.checked import validated
from leakdx.files.faults import Fault, FaultyInput
from leakdx.files.words import choose, shown
from leakdx.files.yaml_lines import Document
from leakdx.machine.model import Identifier, Record

# The store takes keys of up to 200 letters and puts a word before them.
Key = Annotated[str, StringConstraints(min_length=1, max_length=150)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=64)]
Title = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=400)]
FileText = Annotated[str, StringConstraints(max_length=5_000_000)]
EntryNumber = Annotated[int, Field(ge=1, description="from 1")]
Plain = dict[str, Any]

Answered = Literal["next", "why", "ahead", "cure", "sheet"]
ErrandName = Literal["settle", "next", "why", "ahead", "cure", "sheet"]


class Order(Record):
    """Common to all; the key names the message, the control says what was tapped."""

    key: Key
    control: Annotated[str, StringConstraints(max_length=200)] = "page"


class OpenJob(Order):
    """Turn to a job of the store."""

    do: Literal["open"]
    job: Name


class CloseJob(Order):
    """Back to the shelf."""

    do: Literal["close"]


class Shipped(Record):
    """A machine that comes with leakdx."""

    shipped: Name


class FromLayout(Record):
    """A machine chosen from a layout; what is not chosen is as usual."""

    layout: Name
    options: dict[Name, str | bool | int] = Field(default_factory=dict)
    name: Title | None = None


class FromFile(Record):
    """A machine in the text of a file."""

    file: Title
    text: FileText


def _machine_kind(value: Any) -> str | None:
    keys = value if isinstance(value, Mapping) else getattr(type(value), "model_fields", {})
    return next((k for k in ("shipped", "layout", "text") if k in keys), None)


Wanted = Annotated[
    Annotated[Shipped, Tag("shipped")]
    | Annotated[FromLayout, Tag("layout")]
    | Annotated[FromFile, Tag("text")],
    Discriminator(_machine_kind),
]


class Begin(Order):
    """A new job on a machine."""

    do: Literal["begin"]
    title: Title
    machine: Wanted


class OpenExample(Order):
    """A copy of a job that comes with leakdx."""

    do: Literal["example"]
    job: Name


class TakeIn(Order):
    """A job in the text of a file, with its machine or on one that comes with leakdx."""

    do: Literal["import"]
    file: Title
    text: FileText


class GiveOut(Order):
    """The open job as a file."""

    do: Literal["export"]


class Change(Order):
    """Something to be written.  job: the one it was said of; the open one if absent."""

    job: Identifier | None = None


class Enter(Change):
    """Entries as in a job file, all of them or none."""

    do: Literal["enter"]
    entries: Annotated[tuple[Plain, ...], Field(min_length=1, max_length=200)]


class Undo(Change):
    """Take back one entry, or several together; ``entries`` count where both are given."""

    do: Literal["undo"]
    entry: EntryNumber | None = None
    entries: Annotated[tuple[EntryNumber, ...], Field(max_length=200)] = ()


class SetConditions(Change):
    """How the machine stood and ran."""

    do: Literal["conditions"]
    conditions: Plain


class SetCosts(Change):
    """What a repair costs here; None: nothing is known of it."""

    do: Literal["costs"]
    costs: Plain | None


class Rename(Change):
    """Another title."""

    do: Literal["renamed"]
    title: Title


class Ask(Order):
    """Have something worked out."""

    do: Literal["ask"]
    errand: ErrandName
    seal: Identifier | None = None
    which: Literal["job", "customer"] | None = None
    renew: tuple[Identifier, ...] = ()
    pair: tuple[Identifier, Identifier] | None = None


class Stop(Order):
    """Give up what is being worked out."""

    do: Literal["stop"]
    errand: ErrandName


class Dismiss(Order):
    """Take a fault or a notice away; the key is that of the fault or the notice."""

    do: Literal["dismiss"]


ORDERS: Mapping[str, type[Order]] = {
    "open": OpenJob,
    "close": CloseJob,
    "begin": Begin,
    "example": OpenExample,
    "import": TakeIn,
    "export": GiveOut,
    "enter": Enter,
    "undo": Undo,
    "conditions": SetConditions,
    "costs": SetCosts,
    "renamed": Rename,
    "ask": Ask,
    "stop": Stop,
    "dismiss": Dismiss,
}


def heard(content: object) -> Order:
    """The order in a message.

    Raises:
        FaultyInput: with everything that is wrong with the message.
    """
    if not isinstance(content, Mapping):
        raise _fault("the message", f"is {shown(content)}", "A message is a set of keys.")
    do = content.get("do")
    if not isinstance(do, str) or do not in ORDERS:
        told = "is missing" if do is None else f"is {shown(do)}, which is nothing to be done"
        raise _fault("do", told, choose(str(do or ""), ORDERS, what="word"))
    order = validated(ORDERS[do], Document("", dict(content)))
    if isinstance(order, Undo) and order.entry is None and not order.entries:
        raise _fault("entry", "does not say what to take back", "Name one entry, or several.")
    return order


def marks_of(content: object) -> tuple[str, str]:
    """Key and control of a message that may be no order at all; "" and "page" where it has none."""
    data = content if isinstance(content, Mapping) else {}
    key, control = data.get("key"), data.get("control")
    return (
        key[:150] if isinstance(key, str) else "",
        control[:200] if isinstance(control, str) and control else "page",
    )


def _fault(path: str, problem: str, remedy: str) -> FaultyInput:
    return FaultyInput([Fault("", None, path, problem, remedy)])
