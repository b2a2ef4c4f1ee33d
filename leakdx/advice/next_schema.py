"""The shape of what ``leakdx next --json`` prints."""

from __future__ import annotations

from leakdx.advice.lookahead import json_schema as two_schema
from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.flow.courses import DETAILS

FORMAT = "leakdx-next/1"


def json_schema() -> Schema:
    """The schema of what ``leakdx next --json`` prints."""
    text: Schema = {"type": "string"}
    texts: Schema = {"type": "array", "items": text}
    chance: Schema = {"type": "number", "minimum": 0, "maximum": 1}
    minutes: Schema = {"type": "number", "description": "minutes"}
    seal = closed({"seal_point": text, "leaks": chance})
    outcome = closed({"label": text, "chance": chance, "first": {"type": "array", "items": seal}})
    look: Schema = {
        "inspection": text,
        "name": text,
        "minutes": minutes | {"description": "minutes, with all that must be done before it"},
        "steps": texts | {"description": "access steps that must still be taken, in order"},
        "bits": {"type": "number", "minimum": 0, "description": "expected information, bits"},
        "bits_per_minute": {"type": "number", "minimum": 0},
        "fall": minutes | {"description": "expected fall in the cost of the repair, minutes"},
        "gain": minutes | {"description": "the fall, less its minutes, what it spoils and risks"},
        "whole": {"type": "boolean", "description": "all it reads was counted, not a lower bound"},
        "spoils": texts | {"description": "looks that cannot be taken as they are after it"},
        "outcomes": {"type": "array", "items": outcome},
        "state": texts | {"description": "state the machine must be in"},
        "cautions": texts,
        "ready": minutes | {"description": "of the minutes, to bring the machine into its state"},
        "waits": minutes | {"description": "minutes that it stands meanwhile, if need be"},
        "delays": texts | {"description": "looks that take longer after it"},
        "risk": minutes | {"description": "minutes on average for joints it may make leak"},
        "risks": texts,
    }
    telling = closed(
        {
            "first": text,
            "second": text,
            "inspection": text,
            "thing": text,
            "wet": {"type": "number", "description": "decibans for the first if wet"},
            "dry": {"type": "number", "description": "decibans for the first if dry"},
            "per_minute": {"type": "number", "description": "expected decibans a minute"},
        }
    )
    renew = closed({"seal_points": texts, "minutes": minutes, "dry_then": chance})
    properties: Schema = {
        "format": {"const": FORMAT},
        "job": text,
        "machine": text,
        "sentence": text,
        "stop": {"type": ["string", "null"], "description": "why no look is worth taking"},
        "looks": {"type": "array", "items": closed(look), "description": "the best first"},
        "telling_apart": {"anyOf": [{"type": "null"}, telling]},
        "renew": renew,
        "closed": {"type": "array", "items": closed({"inspection": text, "why": text})},
        "detail": {"type": "integer", "minimum": 0, "maximum": len(DETAILS) - 1},
        "left_out": texts | {"description": "signs read that looking ahead leaves out"},
        "two_ahead": two_schema(),
    }
    return {
        "$schema": DIALECT,
        "$id": "leakdx:next/1",
        "title": "Next look",
        "description": "What to look at next in a job, or what to renew.",
        **closed(properties),
    }
