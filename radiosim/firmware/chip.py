"""A whole firmware on the emulated chip: its script, what it is connected to, and what it did."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from radiosim.engine.plan import Plan, fault_spans_of
from radiosim.engine.timeline import FaultSpan
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench, bench_of
from radiosim.firmware.board import Board, chip_of
from radiosim.firmware.emulator import CHIP_BENCH, emulator, lacking
from radiosim.firmware.script import HEAD, PASSES, STEP, Script
from radiosim.registers.fault_register import BROWNOUT
from radiosim.scenario import Scenario
from radiosim.trace import Table
from radiosim.units import ns_from_ms, ns_from_us

POWER_ON, POWER_OFF, RESET_HELD, RESET_RELEASED, SETTINGS_LOST, HANGS, GOES_ON = range(10, 17)
_SPREAD = np.dtype([("n", "u8"), ("sum", "i8"), ("least", "i8"), ("most", "i8")])
REASONS = (
    "",
    "its radio did not receive: off, sending, or its enable pin low",
    "its radio had not settled yet",
    "its radio listened on another channel",
    "its radio listened at another bit rate",
    "its radio was set to another CRC",
    "none of its pipes that are on has the address",
    "the pipe was set to another number of bytes",
    "the FIFO was full",
)
"""Why a frame that the model's radio heard did not get in, by the bench's numbers."""
FIFO_FULL = len(REASONS) - 1
SEEN = np.dtype(
    [
        ("frequency", "i8"),
        ("sleeping", "i8"),
        *((name, _SPREAD) for name in ("cold_boot", "warm_boot", "idle_pass", "read_pass")),
        *((name, _SPREAD) for name in ("payload_low", "payload_bytes", "bite")),
        ("many_reads", "i8"),
        ("unheard", "i8", len(REASONS)),
        ("unheard_at_ns", "i8", len(REASONS)),
        ("registers", "u1", 0x20),
    ]
)
"""What a bench of `c/chip_bench.c` saw beside its reply; spreads are in cycles of the chip."""


@contextmanager
def chip_bench(scenario: Scenario, image: Path, board: Board) -> Iterator[Bench]:
    """A bench with the chip that an image is for; FirmwareError if it cannot be had here."""
    if why := lacking(compiles=False):
        raise FirmwareError(f"rung chip: {why}")
    chip = chip_of(image)
    with emulator(CHIP_BENCH) as shim:
        more = (chip, *_settings(scenario, board))
        with bench_of(image, emulator=shim, more=more, seen=SEEN) as bench:
            yield bench


def chip_script(scenario: Scenario, plan: Plan, script: Script) -> Script:
    """The script of a start without the model's passes, its steps those of the chip's supply."""
    head = np.frombuffer(script.content[: HEAD.itemsize], HEAD).copy()
    first = HEAD.itemsize + int(head["passes"][0]) * PASSES.itemsize
    steps_bytes = int(head["steps"][0]) * STEP.itemsize
    arrivals = script.content[first : len(script.content) - steps_bytes]
    steps = supply_steps(scenario, plan)
    head["passes"], head["steps"] = 0, len(steps)
    return Script(content=head.tobytes() + arrivals + steps.tobytes(), rows=script.rows)


def supply_steps(scenario: Scenario, plan: Plan) -> Table:
    """Rows of STEP: what faults do to the receiver's supply, reset line, radio and program.

    FirmwareError for a fault that nothing outside the chip can make.
    """
    dips = [FaultSpan(at_ns=b.at_ns, until_ns=b.until_ns, kind=BROWNOUT) for b in plan.brownouts]
    events: list[tuple[int, int, int]] = [(0, 0, POWER_ON)]
    for number, span in enumerate((*fault_spans_of(scenario, "receiver"), *dips), 1):
        events += [(at, number, kind) for at, kind in _of_fault(scenario, span)]
    events = sorted(event for event in events if event[0] < plan.until_ns)
    return np.array(list(one_at_a_time(events)), STEP)


def _of_fault(scenario: Scenario, span: FaultSpan) -> list[tuple[int, int]]:
    survives = scenario.receiver.radio_survives
    if span.kind == "radio_reset":
        return [(span.at_ns, SETTINGS_LOST)]
    if span.kind == "power_off":
        return [(span.at_ns, POWER_OFF), (span.until_ns, POWER_ON)]
    if span.kind in ("reset", BROWNOUT):
        until_ns = span.at_ns if span.kind == "reset" else span.until_ns
        low, high = (RESET_HELD, RESET_RELEASED) if survives else (POWER_OFF, POWER_ON)
        return [(span.at_ns, low), (until_ns, high)]
    if span.kind == "hang":
        return [(span.at_ns, HANGS), (span.until_ns, GOES_ON)]
    raise FirmwareError(
        f"rung chip: a receiver's fault {span.kind} is not made on the chip; leave it out with "
        "--set 'fault=[]', or try it on another rung"
    )


def one_at_a_time(events: list[tuple[int, int, int]]) -> Iterator[tuple[int, int]]:
    """Power comes back, a reset is let go of, a program goes on when the last fault lets it.

    A boot ends what hangs (rule E3).
    """
    ends = {POWER_OFF: POWER_ON, RESET_HELD: RESET_RELEASED, HANGS: GOES_ON}
    holders: dict[int, set[int]] = {end: set() for end in ends.values()}
    for at_ns, number, kind in events:
        if kind in ends:
            held = holders[ends[kind]]
            # A watchdog may have ended the hang before.
            if not held or kind == HANGS:
                yield at_ns, kind
            held.add(number)
        elif kind in holders:
            held = holders[kind]
            held.discard(number)
            if not held:
                yield at_ns, kind
        else:
            yield at_ns, kind
        if kind in (POWER_OFF, RESET_HELD):
            holders[GOES_ON].clear()


def _settings(scenario: Scenario, board: Board) -> Iterator[str]:
    """What the bench reads: pins, the clock, and all that a receiver must have set alike."""
    profile, radio = scenario.profile(), scenario.radio
    yield f"hz={board.hz}"
    yield f"channel={radio.channel}"
    yield f"rate={profile.bit_rate}"
    yield f"crc={radio.crc_bytes}"
    yield f"reset_ns={ns_from_ms(profile.power_on_reset_ms)}"
    yield f"crystal_ns={ns_from_us(profile.crystal_start_us)}"
    yield f"settle_ns={ns_from_us(profile.settle_us)}"
    for name, pin in board.pins.items():
        yield f"{name}={pin}"
    for number, name in enumerate(scenario.output):
        if name in board.outputs:
            yield f"{number}={board.outputs[name]}"
    for unit in scenario.transmitter.values():
        octets = "".join(f"{octet:02x}" for octet in reversed(unit.address_octets))
        yield f"address{unit.pipe}={octets}"


def unheard(seen: np.void | None) -> list[tuple[int, int, str]]:
    """Frames that the model's radio heard and this did not: how many, the first in ns, why."""
    assert seen is not None
    return [
        (int(seen["unheard"][k]), int(seen["unheard_at_ns"][k]), REASONS[k])
        for k in range(1, len(REASONS))
        if seen["unheard"][k]
    ]
