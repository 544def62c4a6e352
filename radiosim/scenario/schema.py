"""The JSON schema of a scene file."""

import json
from typing import Any

import msgspec

from radiosim.scenario.structs.scene import SceneFile


def json_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12): every key with its meaning, its unit and its default.

    A default of null stands for a key that is filled in from others when it is left out.
    """
    schema: dict[str, Any] = json.loads(msgspec.json.encode(msgspec.json.schema(SceneFile)))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
