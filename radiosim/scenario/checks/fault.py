"""The fault tables."""

from collections.abc import Iterator

from radiosim.scenario.checks.references import unknown
from radiosim.scenario.checks.view import Found, View

_OF_AIR = frozenset({"jam"})
_OF_TRANSMITTER = frozenset({"stale"})
_OF_ANY = frozenset({"out_of_range"})


def problems(view: View) -> Iterator[Found]:
    """Units that are not there, or to which a fault cannot happen."""
    transmitters = tuple(view.file.transmitter)
    for number, fault in enumerate(view.file.fault):
        if fault.kind in _OF_AIR:
            units: tuple[str, ...] = ("air",)
        elif fault.kind in _OF_TRANSMITTER:
            units = transmitters
        elif fault.kind in _OF_ANY:
            units = (*transmitters, "air")
        else:
            units = (*transmitters, "receiver")
        path = ("fault", number, "unit")
        yield from unknown(path, f"a unit that can have {fault.kind!r}", fault.unit, units)
