"""The shape of what ``leakdx sheet --json`` prints."""

from __future__ import annotations

from typing import Any

from leakdx.advice.proof import Proof
from leakdx.advice.sheet import CHECKS, INSIDE, MAKER_FIRST, Chance, Joint, Sheet
from leakdx.files.schema import DIALECT, Schema, closed
from leakdx.machine.model import SealKind

FORMAT = "leakdx-sheet/1"


def document_of(sheet: Sheet, file: str | None) -> dict[str, Any]:
    """Plain data in the shape that ``json_schema`` describes; file: the page that was written."""
    times = sheet.times
    return {
        "format": FORMAT,
        "job": sheet.job,
        "machine": sheet.machine,
        "invented": sheet.invented,
        "sentence": sheet.sentence,
        "first_of_all": MAKER_FIRST,
        "renew": [_chance(c) for c in sheet.renew],
        "dry_then": sheet.dry,
        "minutes": {
            "strip": times.strip,
            "joints": times.joints,
            "refit": times.refit,
            "total": times.total,
            "refit_off": times.refit_off,
        },
        "cost": times.said,
        "cautions": list(sheet.cautions),
        "parts": list(sheet.parts),
        "fluids": list(sheet.fluids),
        "off": list(sheet.off),
        "strip": [
            {
                "number": s.number,
                "step": s.id,
                "name": s.name,
                "minutes": s.minutes,
                "cautions": list(s.cautions),
            }
            for s in sheet.steps
        ],
        "reached": [_chance(c) for c in sheet.reached],
        "joints": [_joint(j) for j in sheet.joints],
        "checks": [
            {
                "name": c.name,
                "boxes": [{"check": word, "text": said} for word, said in c.boxes],
                "records": list(c.records),
            }
            for c in sheet.checks
        ],
        "inside": INSIDE,
        "refit": [
            {
                "step": r.id,
                "undoes": r.undoes,
                "text": r.text,
                "torque": r.torque,
                "one_use": list(r.one_use),
            }
            for r in sheet.refit
        ],
        "run_cautions": list(sheet.run_cautions),
        "wash_and_run": list(sheet.wash_and_run),
        "proof": None if sheet.proof is None else _proof(sheet.proof),
        "file": file,
    }


def _chance(chance: Chance) -> dict[str, Any]:
    return {
        "seal_point": chance.seal_point,
        "name": chance.name,
        "leaks": chance.leaks,
        "added": chance.added,
    }


def _joint(joint: Joint) -> dict[str, Any]:
    return {
        "seal_points": [c.seal_point for c in joint.seal_points],
        "name": joint.name,
        "kind": joint.kind.value,
        "tight_access": joint.tight_access,
        "take_out": list(joint.practice.take_out),
        "look": list(joint.practice.look),
        "found": list(joint.practice.found),
        "one_use": list(joint.one_use),
        "refit": list(joint.refit),
    }


def _proof(proof: Proof) -> dict[str, Any]:
    return {
        "inspections": list(proof.round.looks),
        "zones": [z for z, _ in proof.round.zones],
        "looking_minutes": proof.round.minutes,
        "partly": proof.partly,
        "left_out": list(proof.left_out),
        "needed": [
            {"use": n.use, "sure": n.sure, "holds": n.holds, "dry": n.dry} for n in proof.needed
        ],
    }


def json_schema() -> Schema:
    """The schema of what ``leakdx sheet --json`` prints."""
    text: Schema = {"type": "string"}
    texts: Schema = {"type": "array", "items": text}
    chance: Schema = {"type": "number", "minimum": 0, "maximum": 1}
    minutes: Schema = {"type": "number", "minimum": 0, "description": "minutes"}
    yes: Schema = {"type": "boolean"}
    seal = closed(
        {
            "seal_point": text,
            "name": text,
            "leaks": chance,
            "added": yes | {"description": "nobody chose it: it is the rest of a chosen gasket"},
        }
    )
    times = closed(
        {
            "strip": minutes,
            "joints": minutes | {"description": "minutes, parts counted in minutes included"},
            "refit": minutes,
            "total": minutes,
            "refit_off": minutes | {"description": "minutes, of what is off already; not in total"},
        }
    )
    step = closed(
        {
            "number": {"type": "integer", "minimum": 1},
            "step": text,
            "name": text,
            "minutes": minutes,
            "cautions": texts,
        }
    )
    joint = closed(
        {
            "seal_points": texts,
            "name": text,
            "kind": {"enum": [k.value for k in SealKind]},
            "tight_access": yes,
            "take_out": texts,
            "look": texts,
            "found": texts | {"description": "what speaks for a fault there"},
            "one_use": texts,
            "refit": texts | {"description": "in order; torque in N m and order come last"},
        }
    )
    box = closed({"check": {"enum": list(CHECKS)}, "text": text})
    check = closed(
        {
            "name": text,
            "boxes": {"type": "array", "items": box},
            "records": texts | {"description": "events for the timeline of the job file"},
        }
    )
    back = closed(
        {
            "step": text,
            "undoes": {
                "type": ["integer", "null"],
                "description": "number of the step it undoes; null where that was off before",
            },
            "text": text,
            "torque": {"type": ["string", "null"], "description": "null where nothing is fastened"},
            "one_use": texts,
        }
    )
    needed = closed(
        {
            "use": {"enum": ["driven", "idled"]},
            "sure": chance,
            "holds": {
                "type": ["number", "null"],
                "minimum": 0,
                "description": "minutes of run until what was renewed is so surely tight; 0: "
                "before any run; null: not even the longest run does",
            },
            "dry": {
                "type": ["number", "null"],
                "minimum": 0,
                "description": "the same until nothing at all leaks so surely",
            },
        }
    )
    proof = closed(
        {
            "inspections": texts | {"description": "what is looked at after the run"},
            "zones": texts | {"description": "what those read"},
            "looking_minutes": minutes | {"description": "minutes, opening up included"},
            "partly": yes | {"description": "some zones are not counted, nor looked at"},
            "left_out": texts | {"description": "signs that were read and are not counted"},
            "needed": {"type": "array", "items": needed},
        }
    )
    properties: Schema = {
        "format": {"const": FORMAT},
        "job": text,
        "machine": text,
        "invented": yes | {"description": "the machine comes with leakdx: no figure of it is real"},
        "sentence": text,
        "first_of_all": text,
        "renew": {"type": "array", "items": seal, "description": "empty where nothing pays"},
        "dry_then": chance | {"description": "chance that nothing else leaks"},
        "minutes": times,
        "cost": text,
        "cautions": texts,
        "parts": texts,
        "fluids": texts,
        "off": texts | {"description": "access steps that are off already"},
        "strip": {"type": "array", "items": step},
        "reached": {"type": "array", "items": seal, "description": "laid bare, not renewed"},
        "joints": {"type": "array", "items": joint},
        "checks": {"type": "array", "items": check},
        "inside": text,
        "refit": {"type": "array", "items": back},
        "run_cautions": texts,
        "wash_and_run": texts,
        "proof": {
            "anyOf": [{"type": "null"}, proof],
            "description": "washed, run and looked at after this repair, if all is dry then; as "
            "'leakdx cure' works it out; null: nothing to renew, or the sums would be too large",
        },
        "file": {"type": ["string", "null"], "description": "the page that was written"},
    }
    return {
        "$schema": DIALECT,
        "$id": "leakdx:sheet/1",
        "title": "Strip-down and refit sheet",
        "description": "What comes off, what is done at each seal point, and how it goes back.",
        **closed(properties),
    }
