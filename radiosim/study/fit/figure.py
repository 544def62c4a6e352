"""What a figure of a log is, and the part of a log that it is of."""

from collections.abc import Mapping

from msgspec import Struct

from radiosim.bench_log.estimates import Estimate
from radiosim.engine.plan_units import CLOCK_PPB
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import Transmitter

SETTLED_US = 1_000_000
"""After the last stream's first frame, as the bench test sheet has it."""
FEWEST = 60
"""Frames of a stream below which only their number is a figure."""

Values = Mapping[str, float]
"""Numbers by the keys of figures."""


class Figure(Struct, frozen=True, kw_only=True):
    """One number of a log."""

    key: str
    """Names it: letters, digits and dots."""
    of: str
    """The unit or stream."""
    what: str
    unit: str
    resolution: float
    value: float
    slack: int = 0
    """Steps of the resolution by which equal ones may differ: two that are cut to whole steps."""
    estimate: Estimate | None = None
    """The same with an interval, where one follows from the log alone."""
    clock_off: float = 0.0
    """By what part of it the clock that took it may be off."""


class Window(Struct, frozen=True, kw_only=True):
    """The part of each unit's log that is judged, on its own clock."""

    skipped_us: int
    """After SETTLED_US."""
    length_us: int
    failsafes: tuple[str, ...] = ()
    """Streams of whose failsafe the receiver's log tells."""


def clock_off(unit: Transmitter | Receiver) -> float:
    """By what part of a time a unit's clock may be off (rule T5)."""
    return CLOCK_PPB[unit.clock] / 1e9 if unit.clock_ppm is None else abs(unit.clock_ppm) / 1e6


def scaled(found: Estimate, by: float) -> Estimate:
    """An estimate in another unit."""
    return Estimate(value=found.value * by, low=found.low * by, high=found.high * by)
