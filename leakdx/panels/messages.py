"""What the page's process and its worker tell each other, and how it goes through a pipe.

A message is four letters, one for its kind, eight bytes for the length of its body, and the body.
Both ends are programs of one installation on one machine, and nobody else can write to the pipe:
only so may bodies be pickles.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

from leakdx.case.read import LoadedJob
from leakdx.panels.shapes import Trouble

Status = Literal["running", "answer", "done", "failed", "stopped"]
# After one of these nothing more comes of an errand.
ENDS = frozenset({"done", "failed", "stopped"})
_LETTERS = b"ldx1"
_HEAD = struct.Struct(">4scQ")
# No job and no answer is anywhere near; a length beyond it is no length.
_LONGEST = 2**30
_PIECE = 2**16


@dataclass(frozen=True, eq=False)
class Errand:
    """Something to be worked out for a job.

    head: how many changes the job had.  seal: the seal point that is asked about.  which: "job" or
    "customer", of a sheet.  renew: seal points of a sheet, without any the best plan.  pair: two
    seal points to be told apart by the next look.
    """

    name: str
    head: int
    loaded: LoadedJob
    seal: str | None = None
    which: str | None = None
    renew: tuple[str, ...] = ()
    pair: tuple[str, str] | None = None

    def asks_the_same(self, other: Errand) -> bool:
        """Whether another errand would bring the same answer under the same head."""
        mine = (self.name, self.head, self.seal, self.which, self.renew, self.pair)
        its = (other.name, other.head, other.seal, other.which, other.renew, other.pair)
        # Two jobs may well have the same head.
        return mine == its and self.loaded == other.loaded


@dataclass(frozen=True, eq=False)
class Report:
    """How far an errand is.  job: id of the job it is of.

    said, done, of: while it runs, what is being done, and how many of how many stages are behind.
    part, answer: of an "answer", which one and the answer itself, in a shape of ``panels.shapes``
    (of "ready", a Swift; of "full", a Full).  error: why it has failed.
    """

    name: str
    head: int
    status: Status
    said: str = ""
    done: int = 0
    of: int = 0
    part: str = ""
    answer: object = None
    error: Trouble | None = None
    job: str = ""


class Post(Protocol):
    """Where whoever does an errand tells how far it is."""

    def running(self, said: str, done: int, of: int) -> None:
        """Tell the stage that begins.  Raises Dropped where nobody waits for the rest."""

    def answer(self, part: str, answer: object) -> None:
        """Tell a part of the answer."""


Do = Callable[[Errand, Post], None]


class Dropped(Exception):
    """A newer errand of the same name waits, so the rest of this one is not needed."""


class NotUnderstood(Exception):
    """What came through the pipe is no message."""


class Pipe(Protocol):
    """One end of a pipe, without a buffer: it may read or write less than was asked for."""

    def read(self, size: int, /) -> bytes | None:
        """At most so many bytes; none at the end."""

    def write(self, data: memoryview, /) -> int | None:
        """How many bytes were written."""


def send(pipe: Pipe, kind: bytes, body: bytes = b"") -> None:
    """Write one message; kind is one letter.  Raises OSError where nobody reads any more."""
    left = memoryview(_HEAD.pack(_LETTERS, kind, len(body)) + body)
    while left:
        left = left[pipe.write(left) or 0 :]


def receive(pipe: Pipe) -> tuple[bytes, bytes] | None:
    """Kind and body of the next message; None where no more come.

    Raises:
        NotUnderstood: for anything else than a message.
    """
    head = _exactly(pipe, _HEAD.size)
    if not head:
        return None
    if len(head) == _HEAD.size:
        letters, kind, length = _HEAD.unpack(head)
        if letters == _LETTERS and length <= _LONGEST:
            body = _exactly(pipe, length)
            # An end within a body is the end of whoever wrote it.
            return (kind, body) if len(body) == length else None
    if _LETTERS.startswith(head[:4]) and len(head) < _HEAD.size:
        return None
    raise NotUnderstood(f"{head!r} does not begin a message")


def _exactly(pipe: Pipe, size: int) -> bytes:
    """So many bytes, or all there are until the end."""
    found = bytearray()
    while len(found) < size:
        piece = pipe.read(min(size - len(found), _PIECE))
        if not piece:
            break
        found += piece
    return bytes(found)
