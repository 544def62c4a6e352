"""How a key of the scenario file is described: the one text behind the schema and `explain`."""

from msgspec import Meta

FIELD_UNIT = "the field's own"
"""Unit of a value that a layout's field carries."""


def key(
    description: str,
    unit: str = "",
    *,
    moves: tuple[str, ...] = (),
    measure: str = "",
    enum: tuple[str, ...] = (),
) -> Meta:
    """What the schema prints for one key.

    `description`: its meaning in a builder's words. `moves`: paths of the figures that it moves
    most, without names, such as `stream.gap_ms.max`. `measure`: how to find its value out; empty
    for a table, whose keys say it. `enum`: the words that it takes."""
    schema: dict[str, object] = {"unit": unit} if unit else {}
    if enum:
        schema["enum"] = list(enum)
    if measure:
        schema |= {"moves": list(moves), "measure": measure}
    return Meta(description=description, extra_json_schema=schema or None)
