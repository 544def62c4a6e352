"""A failsafe drill as JSON."""

from typing import Any

from radiosim.results.data import json_of
from radiosim.study.drill.results import Drilled


def document_of(drilled: Drilled) -> dict[str, Any]:
    """The whole drill, with whether all of it is as it should be."""
    fields = drilled.__struct_fields__
    return {name: getattr(drilled, name) for name in fields} | {"ok": drilled.ok}


def as_json(drilled: Drilled) -> str:
    """JSON text, keys always in the same order; what never came is null."""
    return json_of(document_of(drilled))
