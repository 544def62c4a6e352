"""What a scene may say one day, and is refused until then."""

from typing import Any

from radiosim.scenario.paths import Path

_KEYS: dict[Path, str] = {
    ("air", "burst"): "loss in spells; give loss and acknowledge_loss",
    ("air", "range"): "loss by distance; give loss and acknowledge_loss",
    ("air", "between_transmitters_m"): (
        "levels that differ by place; all signals count as equally strong"
    ),
}
_INTERFERER = "senders from outside the link"
_FAULTS = {
    "jam": "a jammed channel; power_off of a transmitter silences it too",
    "out_of_range": "distance; power_off of a transmitter silences it too",
}


def not_yet(path: Path, value: Any) -> tuple[Path, str] | None:
    """The (path, text) with which a key is refused, whatever stands in it; None if it is not."""
    if path in _KEYS:
        return path, f"not yet: {_KEYS[path]}"
    match path:
        case ("interferer", str()):
            return path, f"not yet: {_INTERFERER}"
        case ("fault", int()) if isinstance(value, dict):
            kind = value.get("kind")
            if isinstance(kind, str) and kind in _FAULTS:
                return (*path, "kind"), f"not yet: {_FAULTS[kind]}"
    return None


def is_offered(path: Path, word: object) -> bool:
    """Whether a message may name a key of a table, or a word for a key, as one to use."""
    if path[:1] == ("fault",) and path[-1:] == ("kind",):
        return word not in _FAULTS
    return (*path, word) not in _KEYS and (*path, word) != ("interferer",)
