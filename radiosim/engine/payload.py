"""The values that travel: what a frame holds, as real packed bytes (rule A7)."""

import functools
from collections.abc import Callable

from radiosim.chance import SENSOR, Key, draw_below, key_of
from radiosim.engine.once import once
from radiosim.layout import Codec, Field, Layout, codec_of
from radiosim.marks import rule
from radiosim.radio.air_frame import control_field, crc_of
from radiosim.scenario import Scenario
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.signals import Signal, Span
from radiosim.units import NS_PER_S, ns_from_ms


@rule
def taken_at(values_ns: int, every_ns: int, phase_ns: int) -> int:
    """When a sensor took the value that the program finds at `values_ns` (rule A7)."""
    if every_ns == 0:
        return values_ns
    return max(0, values_ns - (values_ns - phase_ns) % every_ns)


class Sensor:
    """One field of one stream: a signal, sampled every frame or now and then."""

    __slots__ = ("every_ns", "phase_ns", "signal", "span")

    def __init__(self, signal: Signal, span: Span, every_ns: int, phase_ns: int) -> None:
        self.signal, self.span = signal, span
        self.every_ns, self.phase_ns = every_ns, phase_ns

    def instant(self, values_ns: int) -> int:
        """When the value was taken that the program finds at `values_ns`."""
        return taken_at(values_ns, self.every_ns, self.phase_ns)

    def value(self, values_ns: int, frame: int) -> float:
        """The value that the sensor gave."""
        return self.signal.value_at(self.instant(values_ns) / NS_PER_S, frame, self.span)


class Payload:
    """Frames of one stream in one start."""

    def __init__(self, scenario: Scenario, stream: str, layout: Layout, start: int) -> None:
        unit = scenario.transmitter[stream]
        self.layout = layout
        self._scenario, self._stream, self._start = scenario, stream, start
        self._codec: Codec | None = None
        self._address = unit.address_octets
        self._no_acknowledge = unit.acknowledge is not True
        self._checksum_bytes = scenario.radio.crc_bytes
        self._control_bits = scenario.profile().control_bits
        self.padded_bytes = padded_bytes(scenario, unit, layout)

    # The frame that was accepted last is compared with many that follow it.
    @functools.cached_property
    def _packed(self) -> Callable[[int, int], bytes]:
        return functools.lru_cache(maxsize=4)(self.packed)

    @functools.cached_property
    def _wires(self) -> Callable[[int, int], tuple[int | float, ...]]:
        return functools.lru_cache(maxsize=4)(self.wires)

    @functools.cached_property
    def sensors(self) -> tuple[Sensor, ...]:
        """One a field, made when they are first asked for: most frames are never looked into."""
        scenario, stream = self._scenario, self._stream
        still = once(
            scenario,
            f"sensors {stream}",
            lambda: [_still(scenario, stream, field) for field in self.layout.fields],
        )
        return tuple(_sensor(scenario, self._start, *given) for given in still)

    @property
    def codec(self) -> Codec:
        """The codec of the layout, made when it is first asked for."""
        if self._codec is None:
            self._codec = codec_of(self.layout)
        return self._codec

    def packed(self, values_frame: int, values_ns: int) -> bytes:
        """The bytes of a frame with the values of an instant."""
        wires = self._wires(values_frame, values_ns)
        return self.codec.pack(wires).ljust(self.padded_bytes, b"\0")

    def wires(self, values_frame: int, values_ns: int) -> tuple[int | float, ...]:
        """The numbers in those bytes, one a field."""
        return tuple(
            field.to_wire(sensor.value(values_ns, values_frame))
            for field, sensor in zip(self.layout.fields, self.sensors, strict=True)
        )

    def values(self, values_frame: int, values_ns: int) -> tuple[float, ...]:
        """What the receiver's program makes of those bytes, one value a field."""
        return self.codec.values(self.packed(values_frame, values_ns)[: self.layout.size_bytes])

    def noise_key(self, field: int) -> Key:
        """Key of what a field says in frames out of noise (rule D6)."""
        name = f"{self._stream}.{self.layout.fields[field].name}"
        return key_of(self._scenario.seed, self._start, "noise", name)

    def value(self, field: int, values_frame: int, values_ns: int) -> float:
        """One of those values, without the bytes: quantised by the same field."""
        raw = self.sensors[field].value(values_ns, values_frame)
        place = self.layout.fields[field]
        return place.to_value(place.to_wire(raw))

    def is_alike(self, first: tuple[int, int], second: tuple[int, int]) -> bool:
        """Whether two frames, each of some values, have the same bytes, which need not be made."""
        one, other = self._wires(*first), self._wires(*second)
        # By their text: 0 and -0 are equal, and differ on the wire.
        return one == other and repr(one) == repr(other)

    def crc_of(self, number: int, values_frame: int, values_ns: int) -> int:
        """The CRC of that frame on the air."""
        control = control_field(self.padded_bytes, number, self._no_acknowledge)
        payload = self._packed(values_frame, values_ns)
        return crc_of(self._checksum_bytes, self._address, control, self._control_bits, payload)


def padded_bytes(scenario: Scenario, unit: Transmitter, layout: Layout) -> int:
    """Payload bytes of one transmitter's frames on the air (rule B7)."""
    length = scenario.radio.payload_length if unit.payload_length == "link" else unit.payload_length
    return layout.size_bytes if length == "own" else length


def _still(scenario: Scenario, stream: str, field: Field) -> tuple[str, Signal, Span, int]:
    """What a sensor is in every start, and whose draws are its."""
    signal = scenario.transmitter[stream].signals[field.name]
    return f"{stream}.{field.name}", signal, _span_of(field), ns_from_ms(signal.every_ms)


def _sensor(
    scenario: Scenario, start: int, name: str, signal: Signal, span: Span, every_ns: int
) -> Sensor:
    if not every_ns:
        return Sensor(signal, span, 0, 0)
    key = key_of(scenario.seed, start, "sensor", name)
    return Sensor(signal, span, every_ns, draw_below(key, SENSOR, every_ns))


@functools.lru_cache(maxsize=256)
def _span_of(field: Field) -> Span:
    """Where a field's values lie; worked out once, for every start asks again."""
    return Span(
        minimum=field.minimum,
        maximum=field.maximum,
        neutral=field.neutral,
        steps=field.steps,
        scale=field.scale,
    )
