"""Traces written by hand: what the program and the outputs make of them is worked out beside."""

from itertools import groupby

from radiosim.scenario import Scenario, parse
from radiosim.trace import ACKNOWLEDGED, LOST, READ, WAITING, FrameRow, ReadRow, Trace, table_of
from radiosim.units import NS_PER_MS, ns_from_ms, ns_from_s

# All units are up at once and the receiver's passes start at whole milliseconds.
SCENARIO = """
duration_s = 2.0
radio = { profile = "gfsk-1M", settle_us = 0, crystal_start_us = 0, power_on_reset_ms = 0 }
air.loss = 0.0

[layout.drive_v1]
fields = [
  { name = "count", type = "u8" },
  { name = "throttle", type = "i16", scale = 0.001, min = -1.0, max = 1.0 },
]

[transmitter.drive]
boot_s = 0
layout = "drive_v1"
period_ms = 20
offset_ms = 0
clock_ppm = 0
signals.count = { kind = "counter" }
signals.throttle = { kind = "steps", values = [0.0, 1.0, -0.5, 0.25], hold_s = 0.1 }

[transmitter.head]
boot_s = 0
payload_bytes = 4
period_ms = 20
offset_ms = 10
clock_ppm = 0

[receiver]
boot_s = 0
clock_ppm = 0

[failsafe.drive]
timeout_ms = 100

[output.track]
stream = "drive"
field = "throttle"
phase_ms = 5
on_failsafe = { preset_us = 1500 }

[output.pan]
stream = "head"
field = "value"
"""


def scenario_with(*overrides: str) -> Scenario:
    """The scenario above with `KEY=VALUE` overrides."""
    return parse(SCENARIO, overrides=overrides)


def read(
    at_ms: float,
    frame: int,
    *,
    stream: int = 0,
    sampled_ms: float | None = None,
    values_ms: float | None = None,
    values_frame: int | None = None,
    accepted_ms: float | None = None,
    outcome: int = READ,
) -> ReadRow:
    """A read at an instant; sampled, taken and accepted then too, unless said otherwise."""
    sampled_ms = at_ms if sampled_ms is None else sampled_ms
    return ReadRow(
        stream=stream,
        frame=frame,
        sampled_ns=ns_from_ms(sampled_ms),
        values_ns=ns_from_ms(sampled_ms if values_ms is None else values_ms),
        values_frame=frame if values_frame is None else values_frame,
        accepted_ns=ns_from_ms(at_ms if accepted_ms is None else accepted_ms),
        read_ns=ns_from_ms(at_ms),
        outcome=outcome,
    )


def polled(reads: list[ReadRow], loop_ms: float = 1.0) -> list[tuple[int, int, int]]:
    """The passes of a polling program that made these reads."""
    seen = [row.read_ns for row in reads if row.outcome not in (LOST, WAITING)]
    pass_ns = ns_from_ms(loop_ms)
    return [(at, at + pass_ns, len(list(group))) for at, group in groupby(seen)]


def acknowledged(reads: list[ReadRow]) -> list[tuple[int, ...]]:
    """What the transmitters of these reads logged, all going well."""
    frames = {(row.stream, row.frame): row for row in reads}
    return [
        FrameRow(
            row.stream,
            row.frame,
            1,
            row.sampled_ns,
            row.values_ns,
            row.values_frame,
            row.accepted_ns,
            ACKNOWLEDGED,
        )
        for row in frames.values()
    ]


def trace_of(
    scenario: Scenario,
    reads: list[ReadRow] | None = None,
    passes: list[tuple[int, int, int]] | None = None,
    **tables: list[tuple[int, ...]],
) -> Trace:
    """A trace of the first start; passes and frames follow from the reads unless given."""
    reads = reads or []
    rows: dict[str, list[tuple[int, ...]]] = {
        "attempts": [],
        "acknowledgements": [],
        "frames": acknowledged(reads),
        "reads": list(reads),
        "passes": list(polled(reads) if passes is None else passes),
    }
    rows.update(tables)
    return Trace(
        scenario=scenario,
        seed=scenario.seed,
        start=0,
        duration_ns=ns_from_s(scenario.duration_s),
        engine="by hand",
        version="0",
        **{name: table_of(name, table) for name, table in rows.items()},
    )


def ms(at_ns: int) -> float:
    """Milliseconds, for tests that speak in them."""
    return at_ns / NS_PER_MS
