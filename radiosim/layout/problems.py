"""Everything that can be wrong with a layout's description, found in one go."""

import math

from radiosim.layout.description import FieldDescription, LayoutDescription
from radiosim.layout.field import exact_wire
from radiosim.layout.wire import WIRE_TYPES, WireType, round_half_away, wire_range

Problem = tuple[str, str]
"""Path as written in the scenario file, and what must be true there."""

KINDS_IN_WORDS = {"unsigned": "an unsigned", "signed": "a signed", "float": "a floating-point"}


def problems_of(name: str, description: LayoutDescription) -> tuple[Problem, ...]:
    """Every problem of a layout's description, as (path, text), in the order of the file."""
    path = f"layout.{name}"
    of_source = _of_source(description)
    if of_source:
        return tuple((f"{path}.{key}", text) for key, text in of_source)
    if not description.fields:
        return ((f"{path}.fields", "must have at least one field, got none"),)
    found: list[Problem] = []
    first_with: dict[str, int] = {}
    for index, field in enumerate(description.fields):
        here = f"{path}.fields[{index}]"
        earlier = first_with.setdefault(field.name, index)
        if earlier != index:
            found.append(
                (
                    f"{here}.name",
                    f"must be a name no other field has, got '{field.name}' "
                    f"(fields[{earlier}] has it)",
                )
            )
        found.extend((f"{here}.{key}", text) for key, text in _of_field(field))
    return tuple(found)


def _of_source(description: LayoutDescription) -> list[Problem]:
    """Keys that go with a header alone, or that its reading fills in."""
    if description.header:
        return [] if description.fields else [("header", "must be read before it has fields")]
    found = [
        (key, f"must be left out without header, got '{value}'")
        for key in ("struct", "abi")
        if (value := getattr(description, key))
    ]
    if description.convert:
        found.append(("convert", "must be left out without header: fields say it themselves"))
    if description.size_bytes is not None:
        found.append(("size_bytes", f"must be left out, got {description.size_bytes}"))
    found += [
        (f"fields[{index}].at_bit", f"must be left out, got {field.at_bit}")
        for index, field in enumerate(description.fields)
        if field.at_bit is not None
    ]
    return found


def _of_field(field: FieldDescription) -> list[Problem]:
    """Problems of one field as (key, text)."""
    found: list[Problem] = []
    if not (field.name.isascii() and field.name.isidentifier()):
        found.append(
            (
                "name",
                "must be letters, digits and underscores and not begin with a digit, "
                f"got '{field.name}'",
            )
        )
    wire_type = WIRE_TYPES.get(field.type)
    if wire_type is None:
        found.append(("type", f"must be one of {', '.join(WIRE_TYPES)}, got '{field.type}'"))
        return found
    of_numbers = _of_numbers(field)
    of_bits = _of_bits(field, wire_type)
    found += of_numbers + of_bits
    if not of_numbers and not of_bits:
        found += _of_range(field, wire_type)
    return found


def _of_numbers(field: FieldDescription) -> list[Problem]:
    """Numbers that are no use on their own."""
    found = [
        (key, f"must be a finite number, got {number}")
        for key in ("scale", "neutral", "min", "max")
        if (number := getattr(field, key)) is not None and not math.isfinite(number)
    ]
    if field.scale == 0:
        found.append(("scale", "must be a number other than 0, got 0"))
    return found


def _of_bits(field: FieldDescription, wire_type: WireType) -> list[Problem]:
    """Bit fields that cannot be."""
    if field.bits is None:
        return []
    if wire_type.kind == "float":
        return [("bits", f"must be left out of a field of type {field.type}, got {field.bits}")]
    if not 1 <= field.bits <= wire_type.bits:
        return [("bits", f"must be 1 to {wire_type.bits} for {field.type}, got {field.bits}")]
    return []


def _of_range(field: FieldDescription, wire_type: WireType) -> list[Problem]:
    """Ends that the wire cannot carry, or that leave nothing between them."""
    lowest, highest = value_range(field, wire_type)
    found: list[Problem] = []
    for key in ("min", "max"):
        value = getattr(field, key)
        if value is not None and not _is_carried(value, field, wire_type):
            found.append(
                (
                    key,
                    f"must be {lowest:g} to {highest:g}, which is what "
                    f"{KINDS_IN_WORDS[wire_type.kind]} field of {field.bits or wire_type.bits} "
                    f"bits carries at this scale, got {value:g}",
                )
            )
    low = lowest if field.min is None else field.min
    high = highest if field.max is None else field.max
    if not found and low >= high:
        key, rule, value = ("max", f"> {low:g}", high) if field.min is None else ("min", "", low)
        found.append((key, f"must be {rule or f'< {high:g}'}, got {value:g}"))
    return found


def _is_carried(value: float, field: FieldDescription, wire_type: WireType) -> bool:
    """Does the wire have a number for this value?"""
    low, high = wire_range(wire_type.kind, field.bits or wire_type.bits)
    if wire_type.kind == "float":
        return low <= _exact(value, field, field.offset) <= high
    steps = _exact(value, field, 0)
    return math.isfinite(steps) and low <= round_half_away(steps) + field.offset <= high


def _exact(value: float, field: FieldDescription, offset: int) -> float:
    return exact_wire(value, scale=field.scale, neutral=field.neutral, offset=offset)


def value_range(field: FieldDescription, wire_type: WireType) -> tuple[float, float]:
    """Lowest and highest value that the wire can carry, in the field's own unit."""
    _, largest = wire_range("float", 64)
    ends = [
        (raw - field.offset) * field.scale + field.neutral
        for raw in wire_range(wire_type.kind, field.bits or wire_type.bits)
    ]
    return max(min(ends), -largest), min(max(ends), largest)
