"""Layouts as JSON text."""

import math
from typing import Any

import msgspec

from radiosim.layout import Field
from radiosim.layout.compare import Comparison, FieldReading, Outcome
from radiosim.layout.emit_vectors import Vector
from radiosim.layout.layout import unused_bits
from radiosim.layout.traps import Trap
from radiosim.report.layouts.byte_map import type_of
from radiosim.report.layouts.check import is_ok
from radiosim.report.layouts.compare import effects, receiver_of, scenario_of
from radiosim.report.layouts.servo_view import servo_views
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import LayoutChange


def text_of(document: Any) -> str:
    """JSON text of a document, indented by two."""
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode() + "\n"


def layout_json(named: NamedLayout) -> dict[str, Any]:
    """A layout with its fields."""
    layout, struct = named.layout, named.struct
    return {
        "name": layout.name,
        "abi": named.abi.name if named.abi else None,
        "abi_status": named.abi.label if named.abi else "",
        "byte_order": layout.byte_order,
        "size_bytes": layout.size_bytes,
        "padding_bytes": layout.padding_bytes,
        "padding_bits": unused_bits(layout),
        "fields": [_field(named, field) for field in layout.fields],
        "ignored": struct.ignored if struct else (),
        "assumed": struct.assumed if struct else (),
    }


def traps_json(named: NamedLayout, traps: tuple[Trap, ...]) -> dict[str, Any]:
    """The traps of one layout."""
    return {"layout": named.label, "ok": is_ok(traps), "findings": traps}


def comparison_json(
    compared: Comparison, old: NamedLayout, new: NamedLayout, length: str
) -> dict[str, Any]:
    """Both directions; each direction's own verdict is that for `length`."""
    return {
        "old": _named(old),
        "new": _named(new),
        "payload_length": length,
        "padded_to_bytes": compared.padded_to_bytes,
        "versions": compared.versions,
        "directions": {
            name: _direction(compared, name, old, new, length)
            for name in ("new_to_old", "old_to_new")
        },
    }


def change_json(found: LayoutChange) -> dict[str, Any]:
    """What becomes of a scenario, beside the verdicts."""
    return {
        "scenario": found.scenario,
        "streams": found.streams,
        "starts": found.starts,
        "duration_s": found.duration_s,
        "frame_us": {name: {"old": old, "new": new} for name, (old, new) in found.frame_us.items()},
        "change": found.change,
        "bound_ms": found.bounds,
        "notes": found.notes,
    }


def vectors_json(named: NamedLayout, vectors: tuple[Vector, ...]) -> dict[str, Any]:
    """Frames to test a firmware with."""
    names = [field.name for field in named.layout.fields]
    return {
        "layout": named.layout.name,
        "size_bytes": named.layout.size_bytes,
        "vectors": [
            {
                "name": vector.name,
                "numbers": dict(zip(names, vector.numbers, strict=True)),
                "values": dict(zip(names, vector.values, strict=True)),
                "bytes": vector.data.hex(" "),
            }
            for vector in vectors
        ],
    }


def _named(named: NamedLayout) -> dict[str, Any]:
    return {
        "layout": named.label,
        "name": named.layout.name,
        "abi": named.abi.name if named.abi else None,
        "size_bytes": named.layout.size_bytes,
    }


def _field(named: NamedLayout, field: Field) -> dict[str, Any]:
    struct = named.struct
    written = next((f.c_type for f in struct.fields if f.name == field.name), "") if struct else ""
    return {
        "name": field.name,
        "type": type_of(field),
        "c_type": written,
        "offset_bits": field.bit_offset,
        "size_bits": field.bits,
        "scale": field.scale,
        "neutral": field.neutral,
        "offset": field.offset,
        "min": field.minimum,
        "max": field.maximum,
        "resolution": field.resolution,
        "servos": [
            {
                "output": view.output or None,
                "step_us": view.step_us,
                "step_deg": view.step_deg,
                "dead_band_us": view.dead_band_us,
                "felt": view.is_felt,
            }
            for view in servo_views(named.layout, field, named.scenario)
        ],
    }


def _direction(
    compared: Comparison, name: str, old: NamedLayout, new: NamedLayout, length: str
) -> dict[str, Any]:
    direction = compared.new_to_old if name == "new_to_old" else compared.old_to_new
    outcomes: dict[str, dict[str, Any]] = {
        outcome.length: _outcome(compared, name, outcome, old, new)
        for outcome in (direction.own, direction.fixed, direction.padded)
    }
    return {**outcomes[length], "by_length": outcomes}


def _outcome(
    compared: Comparison, name: str, outcome: Outcome, old: NamedLayout, new: NamedLayout
) -> dict[str, Any]:
    receiver, scenario = receiver_of(compared, name), scenario_of(name, old, new)
    return {
        "verdict": outcome.verdict,
        "why": outcome.why,
        "passes_version": outcome.passes,
        "fields": [
            _reading(reading, effects(receiver, reading, scenario)) for reading in outcome.fields
        ],
    }


def _reading(reading: FieldReading, said: tuple[str, ...]) -> dict[str, Any]:
    worst = reading.worst
    return {
        "name": reading.name,
        "verdict": reading.verdict,
        "how": reading.how,
        "share": reading.share,
        "says": reading.says,
        "worst": None
        if worst is None
        else {"sent": worst.sent, "read": _finite(worst.read), "effect": "; ".join(said)},
    }


def _finite(value: float) -> float | None:
    """A number as JSON can have it; None for one that is none."""
    return value if math.isfinite(value) else None
