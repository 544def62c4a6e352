"""What starts have measured, and the figures that have a rule of their own."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import msgspec
from msgspec import UNSET

from radiosim.measure.intervals import MISS
from radiosim.measure.of_output import NEVER
from radiosim.measure.summary import BrownoutFigures
from radiosim.measure.tally import Fate, FaultTally, OutputFaultTally, Pool, RadioTally
from radiosim.radio.profiles import State, charge_mah, currents_ma
from radiosim.registers.figure import SPAN_HOURS, SPAN_NS
from radiosim.scenario import Scenario
from radiosim.scenario.noise import noise_per_hour
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.trace import BrownoutRow
from radiosim.units import NS_PER_HOUR, NS_PER_S, ms_from_ns
from radiosim.vehicle.supply_limits import loads_of


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What some starts, at least one, have of one thing: a stream, an output, the air."""

    scenario: Scenario
    name: str
    total: Any
    """Their tallies together; of the air None."""
    tallies: Sequence[Any]
    """Tally of each start."""
    pool: Pool
    miss: float = MISS
    """Share of intervals that may miss their figure."""

    @property
    def is_several(self) -> bool:
        """Whether there is more than one start."""
        return len(self.tallies) > 1

    def weighted(self, of: str) -> list[float]:
        """What each start has of something, as often as the start counts."""
        if of in _SPANS:
            return self._spans[of]
        return _times(self.pool.weights, [getattr(tally, of) for tally in self.tallies])

    @cached_property
    def _spans(self) -> dict[str, list[float]]:
        spans_ns = [row.duration_ns for row in self.pool.rows]
        return {
            of: _times(self.pool.weights, [ns / unit_ns for ns in spans_ns])
            for of, unit_ns in _SPANS.items()
        }


_SPANS = {SPAN_NS: 1, SPAN_HOURS: NS_PER_HOUR}
"""Spans of a start, and their unit in ns."""


def _times(weights: Sequence[float], values: Sequence[float]) -> list[float]:
    """Values of starts, each as often as its start counts."""
    return [weight * value for weight, value in zip(weights, values, strict=True)]


def _worst_start(stream: Measured) -> int:
    """Which of the starts has the longest gap."""
    tallies = stream.tallies
    return max(range(len(tallies)), key=lambda k: tallies[k].longest_gap_ns)


def _longest_gap_at_s(stream: Measured) -> float:
    return float(stream.tallies[_worst_start(stream)].longest_gap_at_ns / NS_PER_S)


def _longest_gap_start(stream: Measured) -> int:
    return stream.pool.rows[_worst_start(stream)].start


def _collisions(air: Measured) -> int:
    return sum(total.lost_collision for total in air.pool.streams.values())


def _expected_noise_per_hour(noise: Measured) -> float | None:
    return noise_per_hour(noise.scenario)


def _transmitter_charge(stream: Measured) -> float | None:
    unit = stream.scenario.transmitter[stream.name]
    return _charge(stream, unit, [tally.radio for tally in stream.tallies])


def _receiver_charge(receiver: Measured) -> float | None:
    return _charge(receiver, receiver.scenario.receiver, receiver.tallies)


def _transmitter_battery_h(stream: Measured) -> float | None:
    unit = stream.scenario.transmitter[stream.name]
    return _battery_h(unit, _transmitter_charge(stream))


def _receiver_battery_h(receiver: Measured) -> float | None:
    return _battery_h(receiver.scenario.receiver, _receiver_charge(receiver))


def _charge(
    measured: Measured, unit: Transmitter | Receiver, radios: Sequence[RadioTally]
) -> float | None:
    """Mean current of a radio over the starts, mA: the charge of an hour in mAh; None: unknown."""
    currents = currents_ma(measured.scenario.profile(), unit.power_dbm, unit.amplifier_ma)
    if currents is None:
        return None
    charges = [charge_mah(currents, _seconds(radio)) for radio in radios]
    return math.fsum(_times(measured.pool.weights, charges)) / math.fsum(
        measured.weighted(SPAN_HOURS)
    )


def _seconds(radio: RadioTally) -> dict[State, float]:
    return {
        "transmit_settle": radio.transmit_settle_ns / NS_PER_S,
        "transmit": radio.transmit_ns / NS_PER_S,
        "receive_settle": radio.receive_settle_ns / NS_PER_S,
        "receive": radio.receive_ns / NS_PER_S,
        "standby": radio.standby_ns / NS_PER_S,
        "power_down": radio.asleep_ns / NS_PER_S,
    }


def _battery_h(unit: Transmitter | Receiver, charge_mah_per_hour: float | None) -> float | None:
    """Hours of the unit's cell; None without one, without a known charge, or if nothing draws."""
    if charge_mah_per_hour is None:
        return None
    drawn_ma = charge_mah_per_hour + unit.board_ma
    return unit.battery_mah / drawn_ma if unit.battery_mah is not None and drawn_ma > 0 else None


def _brownouts(receiver: Measured) -> Any:
    """How often outputs brought it down; not set where nothing says what feeds it."""
    if receiver.scenario.receiver.supply is None:
        return UNSET
    return sum(len(row.brownouts) for row in receiver.pool.rows)


def brownouts_with(receiver: Measured) -> Any:
    """The brown-outs by what drew together, the most frequent first."""
    if receiver.scenario.receiver.supply is None:
        return UNSET
    names = tuple(loads_of(receiver.scenario))
    alike: dict[int, list[BrownoutRow]] = {}
    for start in receiver.pool.rows:
        for row in start.brownouts:
            alike.setdefault(row.outputs, []).append(row)
    found = [
        BrownoutFigures(
            outputs=tuple(name for k, name in enumerate(names) if outputs >> k & 1),
            times=len(rows),
            drawn_ma=max(row.drawn_ua for row in rows) / 1e3,
            settles_v=min(row.settles_uv for row in rows) / 1e6,
        )
        for outputs, rows in alike.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.times, one.outputs)))


class FaultMeasured(msgspec.Struct, frozen=True, kw_only=True):
    """What one fault did in some starts, at least one."""

    starts: Sequence[FaultTally]

    def of_output(self, name: str) -> tuple[OutputFaultTally, ...]:
        """What one output made of it, start by start."""
        return tuple(start.outputs[name] for start in self.starts)


def _over_ms(fault: FaultMeasured) -> float | None:
    return slowest_ms([start.over_ns for start in fault.starts])


def _reaction_ms(fault: FaultMeasured) -> float | None:
    every = [output for start in fault.starts for output in start.outputs.values()]
    return slowest_ms([output.reaction_ns for output in every if output.action != "hold"])


def _recovered_ms(fault: FaultMeasured) -> float | None:
    return slowest_ms([o.recovered_ns for start in fault.starts for o in start.outputs.values()])


def _starts_without_effect(fault: FaultMeasured) -> Any:
    return sum(not start.is_felt for start in fault.starts)


def _starts_without_reaction(fault: FaultMeasured) -> Any:
    return _starts_with(fault, lambda output: output.fate is Fate.NEVER_CAME)


def _unrecovered_starts(fault: FaultMeasured) -> Any:
    return _starts_with(fault, lambda output: output.recovered_ns == NEVER)


def _starts_with_brownout(fault: FaultMeasured) -> Any:
    """In how many starts; not set where nothing says what feeds the receiver."""
    told = [start.has_brownout for start in fault.starts]
    return UNSET if None in told else sum(map(bool, told))


def slowest_ms(spans_ns: list[int]) -> float | None:
    """The longest of some spans, ms; None without any, or as soon as one was NEVER over."""
    return None if not spans_ns or NEVER in spans_ns else ms_from_ns(max(spans_ns))


def _starts_with(fault: FaultMeasured, is_so: Callable[[OutputFaultTally], bool]) -> Any:
    """In how many starts something is so of an output; known of several starts only."""
    if len(fault.starts) < 2:
        return UNSET
    return sum(any(map(is_so, start.outputs.values())) for start in fault.starts)


RULES: dict[str, Callable[[Any], Any]] = {
    "stream.longest_gap_at_s": _longest_gap_at_s,
    "stream.longest_gap_start": _longest_gap_start,
    "stream.charge_mah_per_hour": _transmitter_charge,
    "stream.battery_h": _transmitter_battery_h,
    "stream.noise.expected_per_hour": _expected_noise_per_hour,
    "air.collisions": _collisions,
    "receiver.charge_mah_per_hour": _receiver_charge,
    "receiver.battery_h": _receiver_battery_h,
    "receiver.brownouts": _brownouts,
    "faults.over_ms": _over_ms,
    "faults.reaction_ms": _reaction_ms,
    "faults.recovered_ms": _recovered_ms,
    "faults.starts_without_effect": _starts_without_effect,
    "faults.starts_without_reaction": _starts_without_reaction,
    "faults.unrecovered_starts": _unrecovered_starts,
    "faults.starts_with_brownout": _starts_with_brownout,
}
"""Figures whose rows say `Ruled`: what makes each of what was measured."""
