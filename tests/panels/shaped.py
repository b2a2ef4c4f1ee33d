"""Whether plain data has the shape that a TypedDict states, to the last key."""

from __future__ import annotations

import json
import types
from collections.abc import Iterator
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints, is_typeddict


def misshapen(value: object, shape: Any, path: str = "answer") -> list[str]:
    """Where plain data is not of a shape; also what JSON cannot say or says differently."""
    found = list(_wrong(value, shape, path))
    if not found and json.loads(json.dumps(value, allow_nan=False)) != value:
        found.append(f"{path} is not the same after JSON")
    return found


def _wrong(value: object, shape: Any, path: str) -> Iterator[str]:
    origin, of = get_origin(shape), get_args(shape)
    if shape is Any:
        return
    if is_typeddict(shape):
        hints = get_type_hints(shape)
        if not isinstance(value, dict) or list(value) != list(hints):
            yield f"{path} has not the keys {list(hints)}: {value!r:.200}"
            return
        for key, inner in hints.items():
            yield from _wrong(value[key], inner, f"{path}.{key}")
    elif origin is list:
        if type(value) is not list:
            yield f"{path} is no list: {value!r:.200}"
            return
        for place, item in enumerate(value):
            yield from _wrong(item, of[0], f"{path}[{place}]")
    elif origin is dict:
        if type(value) is not dict or any(type(key) is not str for key in value):
            yield f"{path} is no plain dict: {value!r:.200}"
    elif origin in (Union, types.UnionType):
        if all(list(_wrong(value, one, path)) for one in of):
            yield f"{path} is none of {of}: {value!r:.200}"
    elif origin is Literal:
        if value not in of:
            yield f"{path} is none of {of}: {value!r:.200}"
    elif shape is type(None):
        if value is not None:
            yield f"{path} is not None"
    elif type(value) is not shape:
        yield f"{path} is {type(value).__name__}, not {shape.__name__}: {value!r:.200}"
