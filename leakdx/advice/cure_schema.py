"""What ``leakdx cure --json`` prints, and its JSON Schema."""

from __future__ import annotations

from typing import Any

from leakdx.advice.cure import Cure, Held
from leakdx.advice.proof import Proof
from leakdx.advice.proving import SURE
from leakdx.advice.ranking import Ranked
from leakdx.files.schema import closed

FORMAT = "leakdx-cure/1"


def document_of(found: Cure) -> dict[str, Any]:
    """Plain data in the shape that ``leakdx schema cure`` describes."""
    again = found.again
    return {
        "format": FORMAT,
        "job": found.job,
        "machine": found.machine,
        "renewed": list(found.renewed),
        "washed": found.washed,
        "dry": found.dry,
        "before": found.before,
        "holds": found.holds,
        "held": [_held(h) for h in found.held],
        "joints": [_held(h) for h in found.joints],
        "course": [
            {"reading": m.reading, "wet": m.wet, "dry": m.dry, "holds": list(m.holds)}
            for m in found.course
        ],
        "again": None
        if again is None
        else {
            "wet": list(again.wet),
            "same": again.same,
            "another": again.another,
            "not_listed": again.not_listed,
            "ranking": [_ranked(r) for r in again.ranking],
        },
        "proof": None if found.proof is None else _proof(found.proof),
        "sentences": list(found.sentences),
        "next_step": found.next_step,
        "cautions": list(found.cautions),
    }


def _held(held: Held) -> dict[str, Any]:
    return {
        "id": held.id,
        "name": held.name,
        "seal_points": list(held.seal_points),
        "before": held.before,
        "now": held.now,
    }


def _ranked(row: Ranked) -> dict[str, Any]:
    return {"seal_point": row.seal_point, "name": row.name, "leaks": row.leaks}


def _proof(proof: Proof) -> dict[str, Any]:
    return {
        "inspections": list(proof.round.looks),
        "zones": [z for z, _ in proof.round.zones],
        "looking_minutes": proof.round.minutes,
        "now": {"holds": proof.now[0], "dry": proof.now[1]},
        "detail": proof.detail,
        "partly": proof.partly,
        "left_out": list(proof.left_out),
        "points": [
            {"use": p.use, "minutes": p.minutes, "holds": p.holds, "dry": p.dry}
            for p in proof.points
        ],
        "needed": [
            {"use": n.use, "sure": n.sure, "holds": n.holds, "dry": n.dry} for n in proof.needed
        ],
        "helps": [
            {
                "what": h.what,
                "inspections": list(h.inspections),
                "holds": h.holds,
                "dry": h.dry,
            }
            for h in proof.helps
        ],
        "left": [{"seal_point": s, "leaks": p} for s, p in proof.left],
        "shows": proof.shows,
        "looks_needed": [
            {"sure": s, "runs": n} for s, n in zip(SURE, proof.looks_needed, strict=True)
        ],
    }


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of what ``leakdx cure --json`` prints."""
    chance = {"type": "number", "minimum": 0, "maximum": 1}
    text = {"type": "string"}
    texts = {"type": "array", "items": text}
    minutes = {"type": "number", "minimum": 0}
    maybe_minutes = {"type": ["number", "null"], "minimum": 0}
    use = {"enum": ["driven", "idled"]}
    held = {
        "id": text,
        "name": text,
        "seal_points": texts,
        "before": chance | {"description": "that all of it is tight, right after the last repair"},
        "now": chance | {"description": "the same by all readings"},
    }
    moved = {
        "reading": text,
        "wet": {"type": "boolean", "description": "wet after the last wash"},
        "dry": chance | {"description": "nothing leaks, by this reading and all before it"},
        "holds": {"type": "array", "items": chance, "description": "of each of joints, in order"},
    }
    ranked = {"seal_point": text, "name": text, "leaks": chance}
    again = {
        "wet": texts | {"description": "readings that are wet after the last wash"},
        "same": chance | {"description": "something that was renewed leaks"},
        "another": chance | {"description": "nothing that was renewed leaks, but something else"},
        "not_listed": chance | {"description": "an origin not in the machine file leaks"},
        "ranking": _list(ranked, "seal points as they are now, most likely first"),
    }
    needed = {
        "use": use,
        "sure": chance,
        "holds": maybe_minutes
        | {
            "description": "of run until what was renewed is so surely tight; 0: it is now; "
            "null: not even the longest run does"
        },
        "dry": maybe_minutes | {"description": "the same until nothing at all leaks so surely"},
    }
    proof = {
        "inspections": texts | {"description": "what is looked at after the run"},
        "zones": texts | {"description": "what those read"},
        "looking_minutes": minutes | {"description": "of labour, opening up included"},
        "now": closed({"holds": chance, "dry": chance})
        | {"description": "before the trial, by the network the trial is worked out with"},
        "detail": {"type": "integer", "minimum": 0, "description": "0: every way of the flow"},
        "partly": {"type": "boolean", "description": "some zones are not counted, nor looked at"},
        "left_out": texts | {"description": "signs that were read and are not counted"},
        "points": _list(
            {"use": use, "minutes": minutes, "holds": chance, "dry": chance},
            "washed, run so long, all dry: what is believed then",
        ),
        "needed": _list(needed, "minutes of run to be so sure"),
        "helps": _list(
            {"what": text, "inspections": texts, "holds": chance, "dry": chance},
            "beside the longest driven run, where that does not do",
        ),
        "left": _list(
            {"seal_point": text, "leaks": chance}, "may leak all the same after the longest drive"
        ),
        "shows": chance | {"description": "a driven hour shows a leak of what was renewed"},
        "looks_needed": _list(
            {"sure": chance, "runs": {"type": "integer", "minimum": 1}},
            "such runs dry in a row, by counting alone (success-run theorem)",
        ),
    }
    properties = {
        "format": {"const": FORMAT},
        "job": text,
        "machine": text,
        "renewed": texts | {"description": "seal points renewed or worked on"},
        "washed": {"type": "boolean", "description": "something was washed after the repair"},
        "dry": chance | {"description": "nothing leaks now, listed or not"},
        "before": {
            "type": ["number", "null"],
            "minimum": 0,
            "maximum": 1,
            "description": "the same right after the last repair; null: nothing was renewed",
        },
        "holds": {
            "type": ["number", "null"],
            "minimum": 0,
            "maximum": 1,
            "description": "all that was renewed is tight now; null: nothing was",
        },
        "held": _list(held, "each seal point renewed or worked on"),
        "joints": _list(held, "the same with the stretches of one gasket together"),
        "course": _list(moved, "readings since the last repair, in order"),
        "again": {"anyOf": [{"type": "null"}, closed(again)]},
        "proof": {"anyOf": [{"type": "null"}, closed(proof)]},
        "sentences": texts,
        "next_step": text,
        "cautions": texts,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "leakdx:cure/1",
        "title": "Cure",
        "description": "Whether a repair has cured it, and what would make that surer.",
        **closed(properties),
    }


def _list(item: dict[str, Any], description: str) -> dict[str, Any]:
    return {"type": "array", "items": closed(item), "description": description}
