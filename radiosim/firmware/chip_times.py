"""Times of a firmware as the emulated chip shows them, and the keys of a scenario that they are."""

from dataclasses import dataclass

import numpy as np

from radiosim.engine.plan import Plan
from radiosim.firmware.board import Board
from radiosim.firmware.script import Reply
from radiosim.scenario import Scenario
from radiosim.trace import Table

MEASURED_S, RESET_S, HANG_S = 10.0, 7.0, 8.5
"""How long a firmware is looked at for its times, when it is reset, and when it hangs."""
_LEAST_PASSES = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Spans of one kind by the chip's own clock."""

    count: int
    mean_us: float
    least_us: float
    most_us: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChipTimes:
    """What was measured; None: nothing of the kind happened."""

    idle_pass: Span | None
    read_pass: Span | None
    """Passes that read one frame."""
    frame_low: Span | None
    """Chip select low for one frame."""
    cold_boot: Span | None
    """From power-on to the first pass."""
    warm_boot: Span | None
    bite: Span | None
    """From where it stands still to its own watchdog's reset."""
    frame_bytes: float
    """Bytes on the wires for one frame, its command among them."""
    asleep: float
    """Share of the time in which the core slept."""
    passes: int


def chip_times(reply: Reply) -> ChipTimes:
    """The times of one start on the chip; its board must have a pin `mark`."""
    seen = reply.seen
    assert seen is not None
    per_us = float(seen["frequency"]) / 1e6
    bytes_each = seen["payload_bytes"]
    return ChipTimes(
        idle_pass=_span(seen["idle_pass"], per_us),
        read_pass=_span(seen["read_pass"], per_us),
        frame_low=_span(seen["payload_low"], per_us),
        cold_boot=_span(seen["cold_boot"], per_us),
        warm_boot=_span(seen["warm_boot"], per_us),
        bite=_span(seen["bite"], per_us),
        frame_bytes=float(bytes_each["sum"]) / max(1, int(bytes_each["n"])),
        asleep=float(seen["sleeping"]) / max(1.0, float(reply.head["cycles"])),
        passes=int(reply.head["passes"]),
    )


def _span(row: np.void, per_us: float) -> Span | None:
    count = int(row["n"])
    if not count:
        return None
    return Span(
        count=count,
        mean_us=float(row["sum"]) / count / per_us,
        least_us=float(row["least"]) / per_us,
        most_us=float(row["most"]) / per_us,
    )


def settings_of(
    scenario: Scenario, plan: Plan, board: Board, reply: Reply, until_ns: int
) -> list[str]:
    """What was measured as --set lines: pass, reading, boots, and the phase of each servo's pulses.

    `until_ns`: pulses from then on are left out, such as those after a reset.
    """
    times = chip_times(reply)
    lines: list[str] = []
    idle, read = times.idle_pass, times.read_pass
    if idle is not None and idle.count >= _LEAST_PASSES:
        lines.append(f"receiver.loop_ms={idle.mean_us / 1000:.6f}")
        if read is not None and times.frame_low is not None:
            low_us = times.frame_low.mean_us
            wires_us = times.frame_bytes * 8 / scenario.receiver.spi_hz * 1e6
            lines.append(f"receiver.spi_overhead_us={max(0.0, low_us - wires_us):.3f}")
            beside_us = read.mean_us - idle.mean_us - max(low_us, wires_us)
            lines.append(f"receiver.unpack_us={max(0.0, beside_us):.3f}")
    if times.cold_boot is not None:
        profile = scenario.profile()
        known_us = 1000 * profile.power_on_reset_ms + profile.crystal_start_us + profile.settle_us
        boot_us = max(0.0, times.cold_boot.mean_us - known_us)
        lines.append(f"receiver.boot_s={boot_us / 1e6:.9f}")
        if times.warm_boot is not None and scenario.receiver.radio_survives:
            # Its program alone: the radio has been on all the time.
            lines.append(f"receiver.reset_boot_s={times.warm_boot.mean_us / 1e6:.9f}")
    if times.bite is not None:
        lines.append(f"receiver.watchdog_ms={times.bite.mean_us / 1000:.6f}")
    if times.cold_boot is not None:
        first_ns = times.cold_boot.mean_us * 1000 * (1 + plan.rx.ppb * 1e-9)
        lines += _phases(scenario, plan, board, reply, (first_ns, until_ns))
    return lines


def _phases(
    scenario: Scenario, plan: Plan, board: Board, reply: Reply, span_ns: tuple[float, float]
) -> list[str]:
    lines = []
    first_ns, until_ns = span_ns
    for number, (name, output) in enumerate(scenario.output.items()):
        if name not in board.outputs or output.kind != "servo":
            continue
        mine: Table = reply.outs[reply.outs["output"] == number]
        starts_ns = mine["at_ns"][(mine["at_ns"] >= first_ns) & (mine["at_ns"] < until_ns)]
        if not len(starts_ns):
            continue
        own_ms = (starts_ns - first_ns) / (1 + plan.rx.ppb * 1e-9) / 1e6
        period_ms = 1000 / output.refresh_hz
        lines.append(f"output.{name}.phase_ms={_middle(own_ms, period_ms):.6f}")
    return lines


def _middle(at_ms: np.ndarray, period_ms: float) -> float:
    """The phase round which instants stand, whatever side of a period's edge they are on."""
    angles = 2 * np.pi * at_ms / period_ms
    near = np.angle(np.exp(1j * angles).mean()) / (2 * np.pi) * period_ms
    off_ms = (at_ms - near + period_ms / 2) % period_ms - period_ms / 2
    return float((near + np.median(off_ms)) % period_ms)
