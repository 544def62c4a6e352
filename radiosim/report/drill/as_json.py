"""A failsafe drill as JSON text."""

from typing import Any

import msgspec

from radiosim.study.drill.results import Drilled


def as_json(drilled: Drilled) -> str:
    """JSON text, indented by two, keys always in the same order; what never came is null."""
    fields = drilled.__struct_fields__
    document: dict[str, Any] = {name: getattr(drilled, name) for name in fields}
    document["ok"] = drilled.ok
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode() + "\n"
