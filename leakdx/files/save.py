"""Models written as YAML that reads back to the same model."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from enum import Enum
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel

from leakdx.files.scalars import needs_quotes


class _Dumper(yaml.SafeDumper):
    """Quotes text that would read back as a number or truth value."""

    def ignore_aliases(self, data: Any) -> bool:
        """Always: files of this library have no aliases."""
        return True


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    odd_break = any(c in text for c in "\x85\u2028\u2029")
    style = '"' if odd_break or needs_quotes(text) else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text)


def _plain(value: Any) -> Any:
    match value:
        case BaseModel():
            # In the order of the model, not of setting; and only what was set, so that a
            # default that changes later changes this file too.
            names = [n for n in type(value).model_fields if n in value.model_fields_set]
            return {name: _plain(getattr(value, name)) for name in names}
        case Enum():
            return value.value
        case Mapping():
            return {key: _plain(inner) for key, inner in value.items()}
        case tuple() | list():
            return [_plain(inner) for inner in value]
        case _:
            return value


def dump_yaml(model: BaseModel) -> str:
    """The model as YAML text with only the fields that were set; reading it gives it back."""
    return yaml.dump(_plain(model), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)


def save(model: BaseModel, path: str | Path) -> None:
    """Write the model to ``path``: the file is there whole, or as it was before.

    Raises:
        OSError: where the folder is missing or may not be written; nothing is left behind.
    """
    # Through a link to the file it points to, or the link itself would be replaced.
    target = Path(path).resolve()
    beside = target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}.part")
    text = dump_yaml(model)
    try:
        with beside.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)
