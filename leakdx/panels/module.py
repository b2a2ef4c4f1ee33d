"""The page as one local ES module, and its style, joined from the files in ``web``.

The files are plain scripts that share one scope, so nothing has to be built or fetched: a
technician's machine may have neither a bundler nor a network.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

# A library in the universal module format gives its names to what calls itself a module.
_WRAPPED = """\
const {name} = (() => {{
const module = {{ exports: {{}} }}, exports = module.exports;
const require = (name) => {{
  if (name === "preact") return preact;
  throw new Error(`unknown library ${{name}}`);
}};
{text}
return module.exports;
}})();
"""


def _text(name: str) -> str:
    return (files("leakdx.panels") / "web" / name).read_text(encoding="utf-8")


def _listed(name: str) -> list[str]:
    lines = (line.strip() for line in _text(name).splitlines())
    return [line for line in lines if line and not line.startswith("#")]


@cache
def page_module() -> str:
    """The text of the ES module that draws the page; its default export has ``render``."""
    parts = []
    for line in _listed("order.txt"):
        path, _, name = line.partition(" as ")
        text = _text(path)
        parts.append(_WRAPPED.format(name=name, text=text) if name else text)
    return "\n".join(parts)


@cache
def page_style() -> str:
    """The text of the style sheet of the page."""
    return "\n".join(_text(name) for name in _listed("styles.txt"))
