"""A validator's finding turned into what is wrong and what to do, in plain words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from leakdx.files.words import as_identifier, choose, listed, nearest, plain, shown, unit_of

Words = tuple[str, str]


@dataclass(frozen=True)
class Finding:
    """One finding of the validator.

    ``key`` is the name of the value ("" for an entry of a list), ``written`` the unquoted word
    of the file where there is one, ``keys`` what may stand beside it, ``tags`` the keys that
    choose the kind of an entry.
    """

    kind: str
    key: str
    value: Any
    context: Mapping[str, Any]
    message: str = ""
    written: str | None = None
    keys: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()


# Patterns of the models in words.  One that is not here is shown as it stands.
_PATTERNS = {
    r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$": (
        "must be a name of small letters and digits, first a letter, with single underscores",
        "",
    ),
    r"^[a-zA-Z0-9_]+(\.[a-zA-Z0-9_]+)*$": (
        "must be a name of letters, digits and underscores, with dots between its parts",
        "",
    ),
    r"^[0-9]+(\.[0-9]+){0,2}$": ("must be a version", 'Write one to three numbers, as "1.0".'),
    (
        r"^(VG (2|3|5|7|10|15|22|32|46|68|100|150|220|320|460|680|1000|1500)"
        r"|SAE (20|30|40|50|60))$"
    ): (
        "must be a grade",
        "Write it as 'VG 46' (ISO 3448: 2 to 1500) or 'SAE 40' (SAE J300: 20 to 60).",
    ),
}


def _give(key: str) -> str:
    unit = unit_of(key)
    return f"Give the {unit[0]} in {unit[1]}." if unit else ""


def _missing(finding: Finding) -> Words:
    if finding.key.isdigit():
        return f"has no entry number {int(finding.key) + 1}", "Give all entries of the list."
    unit = unit_of(finding.key)
    asked = f", the {unit[0]} in {unit[1]}" if unit else ""
    return "is missing", f"Add '{finding.key}:'{asked}."


def _unknown_key(finding: Finding) -> Words:
    return "is no key that is known here", choose(finding.key, finding.keys, what="key")


def _choice(finding: Finding) -> Words:
    # The validator gives the choices as one text: 'a', 'b' or 'c'.
    names = re.findall(r"'((?:[^'\\]|\\.)*)'", str(finding.context.get("expected", "")))
    if len(names) == 1:
        return f"must be '{names[0]}', is {shown(finding.value)}", f"Write {names[0]}."
    near = nearest(str(finding.value), names)
    remedy = f"Did you mean '{near}'?" if near else "Pick one of these."
    return f"must be one of {listed(names, most=40)}; is {shown(finding.value)}", remedy


def _bound(word: str, name: str) -> Callable[[Finding], Words]:
    def words(finding: Finding) -> Words:
        limit = finding.context.get(name)
        problem = f"must be {word} {shown(limit)}, is {shown(finding.value)}"
        if name == "le" and limit == 1:
            return problem, "Give a share between 0 and 1 (70 % is 0.7)."
        return problem, _give(finding.key) or f"Give a number {word} {shown(limit)}."

    return words


def _number(finding: Finding) -> Words:
    if finding.value is None:
        return "is empty", _give(finding.key) or "Give a number, or leave the key out."
    problem = f"must be a number, is {shown(finding.value)}"
    if isinstance(finding.value, str):
        return problem, _give(finding.key) or "Give digits only, without unit or quotes."
    return problem, _give(finding.key) or "Give a number."


def _whole(finding: Finding) -> Words:
    return f"must be a whole number, is {shown(finding.value)}", "Give digits only."


def _finite(finding: Finding) -> Words:
    return "must be a finite number", _give(finding.key) or "Give a finite number."


def _text(finding: Finding) -> Words:
    if finding.value is None:
        return "is empty", "Write a text, or leave the key out."
    if isinstance(finding.value, int | float):
        word = finding.written or shown(finding.value)
        return f"must be text, is {word} without quotes", f'Put it in quotes: "{plain(word)}".'
    return f"must be text, is {shown(finding.value)}", "Write one text."


def _pattern(finding: Finding) -> Words:
    pattern = str(finding.context.get("pattern", ""))
    wanted, remedy = _PATTERNS.get(pattern, (f"must look like {pattern}", "Write it that way."))
    if not remedy:
        made = as_identifier(str(finding.value))
        remedy = f"Write it as '{made}'." if made else "Choose such a name."
    return f"{wanted}; is {shown(finding.value)}", remedy


def _short_text(finding: Finding) -> Words:
    least = finding.context.get("min_length", 1)
    if least == 1:
        return "is empty", "Write a text, or leave the key out."
    return f"must have at least {least} letters", "Write more."


def _long_text(finding: Finding) -> Words:
    most = finding.context.get("max_length")
    return f"is longer than {most} letters", "Shorten it."


def _few(finding: Finding) -> Words:
    least, has = finding.context.get("min_length"), finding.context.get("actual_length")
    return f"must have at least {least} in it, has {has}", f"Add {'one' if least == 1 else 'more'}."


def _many(finding: Finding) -> Words:
    most = finding.context.get("max_length")
    return f"must have {most} in it, has more", f"Keep {most}."


def _list(finding: Finding) -> Words:
    return f"must be a list, is {shown(finding.value)}", "Write it as [a, b] or as '- ' lines."


def _keys(finding: Finding) -> Words:
    known = f": {listed(finding.keys)}" if finding.keys else ""
    return f"must be a set of keys, is {shown(finding.value)}", f"Give it keys{known}."


def _truth(finding: Finding) -> Words:
    return f"must be true or false, is {shown(finding.value)}", "Write true or false."


def _no_kind(finding: Finding) -> Words:
    if not isinstance(finding.value, Mapping):
        return _keys(finding)
    if finding.tags:
        return "does not say what it is", f"Give one of the keys {listed(finding.tags)}."
    names = re.findall(r"'([^']*)'", str(finding.context.get("expected_tags", "")))
    key = str(finding.context.get("discriminator", "")).strip("'")
    if names:
        given = str(finding.value.get(key))
        return f"has the {key} '{plain(given)}'", choose(given, names, what=key)
    return f"does not say its {key}", f"Add '{key}:'."


def _said(finding: Finding) -> Words:
    said = finding.context.get("error") or finding.message
    problem = plain_sentence(str(said))
    return problem or "is not what is asked for", "Put this right."


def plain_sentence(text: str) -> str:
    """``text`` on one line without a full stop, for use as a problem."""
    return "".join(c if c.isprintable() else " " for c in text).strip().rstrip(".")[:300]


_WORDS: dict[str, Callable[[Finding], Words]] = {
    "missing": _missing,
    "extra_forbidden": _unknown_key,
    "enum": _choice,
    "literal_error": _choice,
    "greater_than": _bound("above", "gt"),
    "greater_than_equal": _bound("at least", "ge"),
    "less_than": _bound("below", "lt"),
    "less_than_equal": _bound("at most", "le"),
    "float_type": _number,
    "float_parsing": _number,
    "int_type": _whole,
    "int_parsing": _whole,
    "int_from_float": _whole,
    "finite_number": _finite,
    "string_type": _text,
    "string_unicode": _text,
    "string_pattern_mismatch": _pattern,
    "string_too_short": _short_text,
    "string_too_long": _long_text,
    "too_short": _few,
    "too_long": _many,
    "tuple_type": _list,
    "list_type": _list,
    "dict_type": _keys,
    "model_type": _keys,
    "model_attributes_type": _keys,
    "bool_type": _truth,
    "bool_parsing": _truth,
    "union_tag_invalid": _no_kind,
    "union_tag_not_found": _no_kind,
}


def in_words(finding: Finding) -> Words:
    """What is wrong (no full stop) and what to do (a sentence)."""
    return _WORDS.get(finding.kind, _said)(finding)
