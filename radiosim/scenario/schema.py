"""The JSON schema of a scenario file."""

import json
from typing import Any

import msgspec

from radiosim.scenario.structs.scenario import SceneFile

KIND_MOVES = ("stream.duplicates", "output.servo_error_deg")
KIND_MEASURE = "watch the control while somebody drives: does it rest, jump, swing?"
"""Of the key that tells a signal's kind, which a struct's tag cannot carry."""


def json_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12): every key with meaning, unit, default, the figures that it
    moves and how to measure it.

    A default of null stands for a key that is filled in from others when it is left out.
    """
    schema: dict[str, Any] = json.loads(msgspec.json.encode(msgspec.json.schema(SceneFile)))
    for table in schema["$defs"].values():
        _describe_kind(table)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _describe_kind(table: dict[str, Any]) -> None:
    """Give the key that tells a signal's kind its meaning, which a struct's tag cannot carry."""
    kind = table.get("properties", {}).get("kind")
    if kind is not None and "description" not in kind:
        kind["description"] = f"kind of signal: {table['description'].splitlines()[0]}"
        kind |= {"moves": list(KIND_MOVES), "measure": KIND_MEASURE}
