"""YAML read safely, with the line of every value.

Only plain data is taken: no tags, no anchors or aliases (a few lines of them can stand for
more data than fits in memory), no merge keys, one document.  Everything works on the stream
of parser events, so depth is limited before anything is built on it.
"""

from __future__ import annotations

import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from leakdx.files.faults import MOST_FAULTS, Fault, FaultyInput, limited
from leakdx.files.locations import Location, Step, path_of
from leakdx.files.scalars import NotFinite, meaning
from leakdx.files.words import plain, shown

MOST_BYTES = 5_000_000
MOST_DEPTH = 30
_NO_KEY = object()
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(slots=True)
class Place:
    """Where a value stands: line from 1, what was written if unquoted, and what is inside."""

    line: int
    word: str | None = None
    inside: dict[Any, Place] | list[Place] | None = None


@dataclass(frozen=True)
class Document:
    """Plain data and where each part of it was written; ``places`` is None for data of no file."""

    file: str
    data: Any
    places: Place | None = None

    def place(self, location: Iterable[Step]) -> Place | None:
        """The place of a value, or of the nearest thing around it that exists."""
        here = self.places
        for step in location:
            inside = None if here is None else here.inside
            try:
                here = inside[step]  # type: ignore[index]
            except (IndexError, KeyError, TypeError):
                break
        return here

    def line(self, location: Iterable[Step]) -> int | None:
        """The line of a value, from 1; None for data of no file."""
        place = self.place(location)
        return None if place is None else place.line


@dataclass(slots=True)
class _Frame:
    """A list or mapping that is still open, and its location."""

    value: Any
    place: Place
    location: Location
    key: Any = _NO_KEY
    key_line: int = 0


@dataclass(slots=True)
class _Builder:
    file: str
    found: list[tuple[int, Location, str, str]] = field(default_factory=list)
    stack: list[_Frame] = field(default_factory=list)
    root: Any = None
    root_place: Place | None = None

    def fault(self, line: int, where: Location, problem: str, remedy: str) -> None:
        self.found.append((line, where, problem, remedy))
        # One more than is told is enough to know that there are more.
        if len(self.found) > MOST_FAULTS:
            raise FaultyInput(limited(self.faults()))

    def where(self, *last: Step) -> Location:
        """The location of the value that comes next, or of a key of the open mapping."""
        if not self.stack:
            return last
        frame = self.stack[-1]
        if isinstance(frame.value, list):
            return (*frame.location, len(frame.value), *last)
        known = () if frame.key is _NO_KEY else (frame.key,)
        return (*frame.location, *known, *last)

    def faults(self) -> list[Fault]:
        """The faults with paths; only now are the ids on them known."""
        return [
            Fault(self.file, line, path_of(where, self.root), problem, remedy)
            for line, where, problem, remedy in self.found
        ]

    def scalar(self, event: Any) -> None:
        line = _line(event)
        value: Any = event.value
        word: str | None = None
        if event.implicit[0]:
            word = event.value
            try:
                value = meaning(event.value)
            except NotFinite:
                self.fault(
                    line,
                    self.where(),
                    f"is '{plain(event.value)}', which is no number that can be reckoned with",
                    "Give a finite number, or leave the key out.",
                )
                value = 0
        frame = self.stack[-1] if self.stack else None
        if frame is not None and isinstance(frame.value, dict) and frame.key is _NO_KEY:
            self.open_key(frame, value, line, word)
        else:
            self.add(value, Place(line, word))

    def open_key(self, frame: _Frame, key: Any, line: int, word: str | None) -> None:
        if word == "<<":
            self.fault(
                line,
                self.where(key),
                "is a merge key, which is not taken",
                "Write the keys out in full.",
            )
        elif key is None or isinstance(key, bool):
            self.fault(
                line, self.where(), f"has a key that is {shown(key)}", "Use a name as the key."
            )
        assert isinstance(frame.place.inside, dict)
        if key in frame.value:
            first = frame.place.inside[key].line
            self.fault(
                line,
                self.where(key),
                f"is given twice, on line {first} and on line {line}",
                "Keep one of the two.",
            )
        frame.key, frame.key_line = key, line

    def add(self, value: Any, place: Place) -> None:
        if not self.stack:
            self.root, self.root_place = value, place
            return
        frame = self.stack[-1]
        inside = frame.place.inside
        if isinstance(inside, list):
            frame.value.append(value)
            inside.append(place)
        elif isinstance(inside, dict):
            # The line of a value is the line of its key: that is where a person looks.
            place.line = frame.key_line
            frame.value[frame.key] = value
            inside[frame.key] = place
            frame.key = _NO_KEY

    def open(self, event: Any, value: Any, inside: Any) -> None:
        line = _line(event)
        if len(self.stack) == MOST_DEPTH:
            raise _stop(
                self.file,
                line,
                f"is nested more than {MOST_DEPTH} deep",
                "No file of this library needs that; check the brackets and the indents.",
            )
        top = self.stack[-1] if self.stack else None
        if top is not None and isinstance(top.value, dict) and top.key is _NO_KEY:
            raise _stop(
                self.file,
                line,
                "has a list or a set of keys where a key is expected",
                "Use a name as the key; text that starts with a bracket needs quotes.",
            )
        place = Place(line, None, inside)
        where = self.where()
        self.add(value, place)
        self.stack.append(_Frame(value, place, where))


def _line(event: Any) -> int:
    return int(event.start_mark.line) + 1


def _stop(file: str, line: int | None, problem: str, remedy: str) -> FaultyInput:
    return FaultyInput([Fault(file, line, "", problem, remedy)])


def _refuse_extras(builder: _Builder, event: Any) -> None:
    line = _line(event)
    if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
        sign = "*" if isinstance(event, yaml.AliasEvent) else "&"
        raise _stop(
            builder.file,
            line,
            f"uses '{sign}{plain(event.anchor)}', an anchor or alias, which is not taken",
            "Write the value out in full; text that starts with & or * needs quotes.",
        )
    if getattr(event, "tag", None) is not None:
        builder.fault(
            line,
            builder.where(),
            f"has the tag '{plain(event.tag)}', which is not taken",
            "Remove the tag; text that starts with ! needs quotes.",
        )


def _build(events: Iterator[Any], file: str) -> Document:
    builder = _Builder(file)
    documents = 0
    for event in events:
        match event:
            case yaml.DocumentStartEvent():
                documents += 1
                if documents > 1:
                    raise _stop(
                        file,
                        _line(event),
                        "starts a second document",
                        "Put each in a file of its own and remove the '---' line.",
                    )
                continue
            case yaml.NodeEvent():
                _refuse_extras(builder, event)
        match event:
            case yaml.ScalarEvent():
                builder.scalar(event)
            case yaml.MappingStartEvent():
                builder.open(event, {}, {})
            case yaml.SequenceStartEvent():
                builder.open(event, [], [])
            case yaml.CollectionEndEvent():
                builder.stack.pop()
    if builder.found:
        raise FaultyInput(limited(builder.faults()))
    if builder.root is None:
        raise _stop(file, None, "is empty", "Write a machine, job or prior file in it.")
    if not isinstance(builder.root, dict):
        raise _stop(
            file,
            1,
            f"must be a set of keys, is {shown(builder.root)}",
            "Start with 'format:' and one key on each line.",
        )
    return Document(file, builder.root, builder.root_place)


def _syntax_fault(file: str, text: str, error: yaml.YAMLError) -> FaultyInput:
    if isinstance(error, yaml.reader.ReaderError):
        return _stop(
            file,
            text.count("\n", 0, error.position) + 1,
            "has a character that does not belong in text",
            "Save the file as plain UTF-8 text.",
        )
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line = None if mark is None else min(mark.line + 1, text.count("\n") + 1)
    lines = text.split("\n")
    written = lines[line - 1] if line is not None and line <= len(lines) else ""
    if "\t" in written:
        return _stop(
            file, line, "has a tab, which YAML does not take here", "Use spaces to indent."
        )
    said = plain(str(getattr(error, "problem", None) or "cannot be read"))
    return _stop(
        file,
        line,
        f"is not YAML: {said}",
        "Look at this line and the one before it for a missing colon, quote or bracket, "
        "or an indent that does not line up.",
    )


def parse_bytes(content: bytes, file: str) -> Document:
    """The document in ``content``; ``file`` is the name that faults give.

    Raises:
        FaultyInput: for anything but one UTF-8 document of plain data, 5 MB at most.
    """
    if len(content) > MOST_BYTES:
        raise _too_big(file, len(content))
    if b"\0" in content:
        line = content.count(b"\n", 0, content.index(b"\0")) + 1
        raise _stop(file, line, "is not a text file", "Give a YAML file, saved as UTF-8 text.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at = content.count(b"\n", 0, error.start) + 1
        raise _stop(file, at, "is not UTF-8 text", "Save the file as UTF-8.") from None
    try:
        return _build(yaml.parse(text, Loader=_LOADER), file)
    except yaml.YAMLError as error:
        raise _syntax_fault(file, text, error) from None


def _too_big(file: str, size: int) -> FaultyInput:
    return _stop(
        file,
        None,
        f"is too large: {size / 1e6:.1f} MB, at most {MOST_BYTES / 1e6:.0f} MB is read",
        "Give a machine, job or prior file; one is seldom over 1 MB.",
    )


def _content(path: Path) -> bytes:
    about = path.stat()
    if stat.S_ISDIR(about.st_mode):
        raise _stop(str(path), None, "is a folder", "Give the file itself.")
    if not stat.S_ISREG(about.st_mode):
        raise _stop(str(path), None, "is not an ordinary file", "Give a YAML file.")
    if about.st_size > MOST_BYTES:
        raise _too_big(str(path), about.st_size)
    with path.open("rb") as stream:
        return stream.read(MOST_BYTES + 1)


def read_document(path: str | Path) -> Document:
    """The document in the file at ``path``, refused by its size before it is read.

    Raises:
        FaultyInput: for a file that is missing, unreadable, too large (over 5 MB), not UTF-8,
            or anything but one YAML document of plain data.
    """
    try:
        content = _content(Path(path))
    except FileNotFoundError:
        raise _stop(str(path), None, "is not there", "Check the name and the folder.") from None
    except PermissionError:
        raise _stop(
            str(path), None, "may not be read", "Ask for the right to read it, or copy it."
        ) from None
    except (OSError, ValueError) as error:
        said = plain(getattr(error, "strerror", None) or str(error)).lower()
        raise _stop(str(path), None, f"cannot be read: {said}", "Check the name.") from None
    return parse_bytes(content, str(path))
