"""What a scene may say one day, and is refused until then."""

from collections.abc import Iterator

from radiosim.scenario.checks.view import Found, View

_AIR_KEYS = (
    ("burst", "loss in spells; give loss and acknowledge_loss"),
    ("range", "loss by distance; give loss and acknowledge_loss"),
    ("between_transmitters_m", "levels that differ by place; all signals count as equally strong"),
)
_FAULTS = {
    "jam": "a jammed channel; power_off of a transmitter silences it too",
    "out_of_range": "distance; power_off of a transmitter silences it too",
}


def problems(view: View) -> Iterator[Found]:
    """Keys and kinds that are known but cannot be simulated."""
    for key, what in _AIR_KEYS:
        if getattr(view.file.air, key) is not None:
            yield ("air", key), f"not yet: {what}"
    for name in view.file.interferer:
        yield ("interferer", name), "not yet: senders from outside the link"
    for number, fault in enumerate(view.file.fault):
        if fault.kind in _FAULTS:
            yield ("fault", number, "kind"), f"not yet: {_FAULTS[fault.kind]}"
