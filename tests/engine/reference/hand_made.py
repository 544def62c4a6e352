"""Scenarios in round numbers, so that every instant of a trace can be worked out by hand.

All in µs. Upload and settle take 100 each, a frame 200 (its address is complete after 75), an
acknowledgement 100, the interrupt 10, a read 100. So a frame that is sampled at 0

* is on the air 200–400, and in the receiver's FIFO at 410;
* is acknowledged 500–600, and done at 610 (the receiver listens again at 700);
* else is on the air again 900–1100, 1600–1800, 2300–2500: each start 500 after an end.

The receiver listens, and its first pass starts, at 100; an idle pass takes 1000.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from radiosim.engine.simulate import simulate
from radiosim.scenario import Scenario, parse
from radiosim.trace import AcknowledgementFate, Fate, Outcome, ReadOutcome, Table, Trace
from tests.engines.random_scenarios import toml_of

Keys = Mapping[str, Any]

RADIO = {
    "profile": "gfsk-1M",
    "bit_rate": 640_000,  # 8 · (1 + 5 + 8 + 2) = 128 bits take 200 µs, 64 take 100
    "control_bits": 0,
    "settle_us": 100,
    "interrupt_us": 10,
    "acknowledge_window_us": 200,
    "cochannel_db": 10,
    "crystal_start_us": 0,
    "power_on_reset_ms": 0,
}
BUS = {"spi_hz": 720_000, "spi_overhead_us": 0}  # 8 · (1 + 8) bits take 100 µs
TRANSMITTER = {
    "payload_bytes": 8,
    "period_ms": 5,
    "offset_ms": 0,
    "clock_ppm": 0,
    "boot_s": 0,
    "retry_delay_us": 400,
}
FLAG = {"acknowledge": "flag"}
COUNTED = {
    "frame": {
        "fields": [
            {"name": "count", "type": "u16"},
            *({"name": f"spare{i}", "type": "u16"} for i in range(3)),
        ]
    }
}


def scenario_with(
    transmitters: Mapping[str, Keys],
    *,
    ms: float = 20,
    radio: Keys | None = None,
    receiver: Keys | None = None,
    air: Keys | None = None,
    interferer: Mapping[str, Keys] | None = None,
    fault: Sequence[Keys] = (),
) -> Scenario:
    """The round scenario with some keys set; a key that is None is left out."""
    units = {
        name: {key: value for key, value in (TRANSMITTER | BUS | keys).items() if value is not None}
        for name, keys in transmitters.items()
    }
    document = {
        "duration_s": ms / 1000,
        "radio": RADIO | (radio or {}),
        "layout": COUNTED,
        "transmitter": units,
        "receiver": {"clock_ppm": 0, "boot_s": 0, "read": "all"} | BUS | (receiver or {}),
        "air": {"loss": 0, "acknowledge_loss": 0} | (air or {}),
        "interferer": interferer or {},
        "fault": list(fault),
    }
    return parse(toml_of(document), "round.toml")


def start(transmitters: Mapping[str, Keys], **keys: Any) -> Trace:
    """One start of that scenario."""
    return simulate(scenario_with(transmitters, **keys), engine="reference")


def us(ns: int) -> float:
    """Microseconds, whole wherever they are."""
    return ns / 1000


def _of(table: Table, stream: int | None) -> list[dict[str, int]]:
    assert table.dtype.names is not None
    rows = [dict(zip(table.dtype.names, row, strict=True)) for row in table.tolist()]
    return [row for row in rows if stream is None or row["stream"] == stream]


def attempts(trace: Trace, stream: int | None = 0) -> list[tuple[int, float, str]]:
    """(frame, start, fate) of each attempt of a stream, in the order of their ends."""
    rows = _of(trace.attempts, stream)
    return [(row["frame"], us(row["start_ns"]), Fate(row["fate"]).words) for row in rows]


def starts(trace: Trace, stream: int = 0) -> list[float]:
    """When attempts went on the air."""
    return [at_us for _, at_us, _ in attempts(trace, stream)]


def fates(trace: Trace, stream: int = 0) -> list[str]:
    """What became of attempts."""
    return [fate for _, _, fate in attempts(trace, stream)]


def numbers(trace: Trace, stream: int = 0) -> list[tuple[int, int]]:
    """(frame, packet number) of each attempt."""
    return [(row["frame"], row["number"]) for row in _of(trace.attempts, stream)]


def samples(trace: Trace, stream: int = 0) -> list[float]:
    """When a transmitter sampled, kept frames once."""
    return sorted({us(row["sampled_ns"]) for row in _of(trace.frames, stream)})


def frames(trace: Trace, stream: int = 0) -> list[tuple[int, float, str]]:
    """(frame, done, outcome) at the transmitter's end, in order of frames."""
    rows = _of(trace.frames, stream)
    return sorted((row["frame"], us(row["done_ns"]), Outcome(row["outcome"]).words) for row in rows)


def acknowledgements(trace: Trace) -> list[tuple[float, float, str, int]]:
    """(start, end, fate, takers) of each acknowledgement."""
    return [
        (
            us(row["start_ns"]),
            us(row["end_ns"]),
            AcknowledgementFate(row["fate"]).words,
            row["takers"],
        )
        for row in _of(trace.acknowledgements, None)
    ]


def reads(trace: Trace) -> list[tuple[int, int, float, str]]:
    """(stream, frame, read, outcome) of each accepted frame."""
    return [
        (row["stream"], row["frame"], us(row["read_ns"]), ReadOutcome(row["outcome"]).words)
        for row in _of(trace.reads, None)
    ]


def passes(trace: Trace) -> list[tuple[float, float, int]]:
    """(start, start of the next, frames) of each pass that read."""
    return [(us(begin), us(after), count) for begin, after, count in trace.passes.tolist()]
