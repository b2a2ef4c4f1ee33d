"""JSON Schema (2020-12) of the files the library reads and of the documents it prints."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from leakdx.files.words import unit_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"
CHECK_FORMAT = "leakdx-check/1"
FAULTS_FORMAT = "leakdx-faults/1"

Schema = dict[str, Any]


def model_schema(model: type[BaseModel], name: str, version: int = 1) -> Schema:
    """The schema of a file, with an id such as ``leakdx:machine/1`` and units described."""
    made = model.model_json_schema(mode="validation")
    for part in (made, *made.get("$defs", {}).values()):
        for key, described in part.get("properties", {}).items():
            unit = unit_of(key)
            if unit is not None and "description" not in described:
                described["description"] = f"{unit[0]} in {unit[1]}"
    return {"$schema": DIALECT, "$id": f"leakdx:{name}/{version}"} | made


def closed(properties: Schema) -> Schema:
    """An object with these properties, all of them there and no others."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _record(properties: Schema, description: str) -> Schema:
    return {"description": description} | closed(properties)


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def faults_schema() -> Schema:
    """The schema of the faults printed on standard output with ``--json``."""
    fault = _record(
        {
            "file": _text("the file as it was named, empty where there is none"),
            "line": {
                "type": ["integer", "null"],
                "minimum": 1,
                "description": "line from 1; null where the file as a whole is at fault",
            },
            "path": _text("path to the value, such as zones.sump.area_mm2; empty for the file"),
            "problem": _text("what is wrong"),
            "remedy": _text("what to do"),
        },
        "One thing wrong in one place.",
    )
    return {
        "$schema": DIALECT,
        "$id": "leakdx:faults/1",
        "title": "Faults",
        **_record(
            {
                "format": {"const": FAULTS_FORMAT},
                "faults": {
                    "type": "array",
                    "items": fault,
                    "minItems": 1,
                    "description": "every fault found, in the order of the files",
                },
            },
            "What any command prints in place of its result when a file has faults (exit code 2).",
        ),
    }


def check_schema() -> Schema:
    """The schema of what ``leakdx check --json`` prints for files without a fault."""
    file = _record(
        {
            "file": _text("the file as it was named"),
            "format": {
                "enum": [
                    "leakdx-machine/1",
                    "leakdx-layout/1",
                    "leakdx-build/1",
                    "leakdx-part/1",
                    "leakdx-job/1",
                    "leakdx-case/1",
                    "leakdx-prior/1",
                ],
                "description": "what the file is",
            },
            "id": _text("its id"),
            "version": {"type": ["string", "null"], "description": "version of a machine"},
            "counts": {
                "type": "object",
                "additionalProperties": {"type": "integer", "minimum": 0},
                "description": "how many of each kind of entry it has",
            },
        },
        "One file without a fault.",
    )
    return {
        "$schema": DIALECT,
        "$id": "leakdx:check/1",
        "title": "Check",
        **_record(
            {
                "format": {"const": CHECK_FORMAT},
                "files": {"type": "array", "items": file, "description": "in the order given"},
            },
            "All files are without a fault.",
        ),
    }
