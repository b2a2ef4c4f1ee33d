"""A page as a browser would read it: its elements, its text, and whether they are balanced."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = frozenset({"meta", "input", "br", "hr", "img", "link"})
Attributes = tuple[tuple[str, str | None], ...]


class PageRead(HTMLParser):
    """elements: name and attributes of each, in order.  texts: of each, where it has its own."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, Attributes]] = []
        self.texts: list[tuple[tuple[str, ...], str]] = []
        self.open: list[str] = []
        self.faults: list[str] = []
        self.feed(page)
        self.close()
        self.faults += [f"<{tag}> is left open" for tag in self.open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> closes nothing: open are {self.open}")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((tuple(self.open), data))

    def of(self, tag: str) -> list[str]:
        """The text of each run within such an element."""
        return [text for path, text in self.texts if tag in path]

    @property
    def shown(self) -> str:
        """All that is read on it, on one line."""
        kept = (t for path, t in self.texts if not {"style", "title"} & set(path))
        return " ".join(" ".join(kept).split())
