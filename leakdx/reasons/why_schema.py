"""The shape of what ``leakdx why --json`` prints."""

from __future__ import annotations

from typing import Any

from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.reasons.account import Account

FORMAT = "leakdx-why/1"


def document_of(found: Account) -> dict[str, Any]:
    """Plain data in the shape that ``json_schema`` describes."""
    weights, doubted, change = found.weights, found.against, found.change
    conflict, rivals = found.conflict.conflict, found.rivals
    firm = found.firmness
    return {
        "format": FORMAT,
        "job": found.job,
        "machine": found.machine,
        "candidates": [
            {
                "seal_point": c.seal_point,
                "name": c.name,
                "leaks": c.leaks,
                "sentence": c.sentence,
                "before": float(weights.before[weights.claims.index(c.seal_point)]),
                "after": float(weights.after[weights.claims.index(c.seal_point)]),
                "readings": [
                    {"reading": row[0], "in_order": row[1], "alone": row[2], "left_out": row[3]}
                    for row in found.table(c.seal_point).itertuples(index=False)
                ],
            }
            for c in found.candidates
        ],
        "adds_up": weights.adds_up,
        "if_wrong": [
            {
                "reading": d.reading,
                "leader": d.leader,
                "leaks": float(d.chances[weights.claims.index(doubted.leader)]),
            }
            for d in doubted.doubts
        ],
        "smallest_change": None
        if change is None
        else {
            "left_out": list(change.left_out),
            "wrong": list(change.wrong),
            "leader": change.leader,
        },
        "conflict": {
            "whole": conflict.whole,
            "against_rest": dict(conflict.against_rest),
            "within": dict(conflict.within),
            "between": conflict.between,
            "left_if": dict(found.conflict.left_if),
        },
        "rivals": {
            "readings": [
                {"reading": d.reading, "otherwise": d.otherwise, "ways": dict(d.ways)}
                for d in rivals.doubts
            ],
            "second_leak": rivals.second_leak,
            "not_listed": rivals.not_listed,
            "nothing_leaks": rivals.nothing_leaks,
        },
        "causes": [
            {
                "cause": c.cause,
                "before": c.before,
                "after": c.after,
                "explains": list(c.explains),
            }
            for c in found.together.causes
        ],
        "sets": [
            {
                "seal_points": list(s.seal_points),
                "probability": s.probability,
                "causes": dict(s.causes),
            }
            for s in found.together.sets
        ],
        "routes": [
            {
                "zone": route.zone,
                "fluid": route.fluid,
                "chance": route.chance,
                "arrives": route.arrives,
                "steps": [
                    {"from": s.source, "to": s.target, "way": s.way, "chance": s.chance}
                    for s in route.steps
                ],
            }
            for route, _ in found.routes
        ],
        "firmness": {
            "draws": firm.draws,
            "flow_draws": firm.flow_draws,
            "seal_points": [
                {
                    "seal_point": s,
                    "low": float(firm.low[k]),
                    "median": float(firm.median[k]),
                    "high": float(firm.high[k]),
                    "first": float(firm.first[k]),
                }
                for k, s in enumerate(firm.seals)
            ],
        },
        "numbers": [
            {"number": s.key, "unit": s.unit, "source": s.source, "low": s.low, "high": s.high}
            for s in found.swings
        ],
        "sentences": sentences_of(found),
    }


def sentences_of(found: Account) -> list[str]:
    """All that is said in words, in the order of the terminal."""
    return [
        *(c.sentence for c in found.candidates),
        *dict.fromkeys(found.doubts),
        *found.conflict.sentences,
        *found.rivals.sentences,
        *found.together.sentences,
        *(s for _, s in found.routes),
        *found.firmness.sentences,
    ]


def json_schema() -> Schema:
    """The schema of what ``leakdx why --json`` prints."""
    text: Schema = {"type": "string"}
    texts = _list(text)
    chance: Schema = {"type": "number", "minimum": 0, "maximum": 1}
    decibans: Schema = {"type": "number", "description": "decibans"}
    bits: Schema = {"type": "number", "description": "bits; above 0 hints at disagreement"}
    count: Schema = {"type": "integer", "minimum": 0}
    seal = text | {"description": "seal point, id in the machine file"}
    reading = text | {"description": "label of a reading"}
    weight = closed(
        {
            "reading": reading,
            "in_order": decibans | {"description": "decibans, as it joined those before it"},
            "alone": decibans | {"description": "decibans, as if nothing else had been read"},
            "left_out": decibans | {"description": "decibans that would be lost without it"},
        }
    )
    candidate = closed(
        {
            "seal_point": seal,
            "name": text,
            "leaks": chance,
            "sentence": text,
            "before": decibans,
            "after": decibans,
            "readings": _list(weight),
        }
    )
    wrong = closed({"reading": reading, "leader": seal, "leaks": chance})
    change = closed({"left_out": texts, "wrong": texts, "leader": seal})
    conflict = closed(
        {
            "whole": bits,
            "against_rest": _map(bits),
            "within": _map(bits),
            "between": bits,
            "left_if": _map(bits),
        }
    )
    doubt = closed({"reading": reading, "otherwise": chance, "ways": _map(chance)})
    rivals = closed(
        {
            "readings": _list(doubt),
            "second_leak": chance,
            "not_listed": chance,
            "nothing_leaks": chance,
        }
    )
    cause = closed({"cause": text, "before": chance, "after": chance, "explains": _list(seal)})
    leak_set = closed({"seal_points": _list(seal), "probability": chance, "causes": _map(chance)})
    step = closed({"from": text, "to": text, "way": text, "chance": chance})
    route = closed(
        {"zone": text, "fluid": text, "chance": chance, "arrives": chance, "steps": _list(step)}
    )
    interval = closed(
        {"seal_point": seal, "low": chance, "median": chance, "high": chance, "first": chance}
    )
    firmness = closed({"draws": count, "flow_draws": count, "seal_points": _list(interval)})
    number = closed({"number": text, "unit": text, "source": text, "low": chance, "high": chance})
    properties: Schema = {
        "format": {"const": FORMAT},
        "job": text,
        "machine": text,
        "candidates": _list(candidate) | {"description": "the one asked for, then the likeliest"},
        "adds_up": {"type": "boolean", "description": "in_order adds up to after less before"},
        "if_wrong": _list(wrong) | {"description": "the leader if that reading were wrong"},
        "smallest_change": {"anyOf": [{"type": "null"}, change]},
        "conflict": conflict,
        "rivals": rivals,
        "causes": _list(cause),
        "sets": _list(leak_set),
        "routes": _list(route),
        "firmness": firmness,
        "numbers": _list(number) | {"description": "the number that matters most first"},
        "sentences": texts,
    }
    return {
        "$schema": DIALECT,
        "$id": "leakdx:why/1",
        "title": "Reasons",
        "description": "Why the ranking of a job is as it is, and how firm.",
        **closed(properties),
    }


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _map(values: Schema) -> Schema:
    return {"type": "object", "additionalProperties": values}
