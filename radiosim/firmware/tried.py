"""A receiver's program tried on starts of a scenario: run, compared, and how it ended if it did."""

import signal
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from radiosim.engine.plan import Plan, plan_of
from radiosim.engine.rules.timing import scaled
from radiosim.engine.simulate import Engine
from radiosim.errors import FirmwareError
from radiosim.firmware.bench import Bench, line_of
from radiosim.firmware.compare import Difference, difference, tolerance_ns
from radiosim.firmware.program_log import Tells
from radiosim.firmware.script import BOOTS, Reply, Status, receiver_steps, script_of
from radiosim.firmware.settings_header import stamp_of
from radiosim.layout import Field
from radiosim.scenario import Scenario
from radiosim.units import NS_PER_MS, NS_PER_S
from radiosim.vehicle.feedback import simulate
from radiosim.vehicle.vehicle import run_vehicle

INT16 = -32_768, 32_767
FEWEST_LEVELS = 8
"""Of a pwm: with fewer whole steps a difference of one says nothing."""
_TRAPPED = (signal.SIGILL, signal.SIGTRAP)
_CALLED = ("between two calls", "rx_boot", "rx_pass", "rx_interrupt")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """A program that did not get to the end of its start."""

    at_ns: int
    """When the call began that it ended in."""
    called: str
    """The function of the contract that was called."""
    function: str
    """The function in which it ended; empty: not known."""
    line: str
    """File and line, such as "rx.c:41"; empty: not known."""
    what: str
    """What happened, such as "crashed: segmentation fault"."""

    @property
    def text(self) -> str:
        """All of it in one line."""
        where = f", {self.function}" if self.function and self.function != self.called else ""
        place = f" ({self.line}{where})" if self.line else ""
        return f"{self.what} in {self.called}{place}, called at {self.at_ns / NS_PER_S:.6f} s"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One start."""

    start: int
    difference: Difference | None
    """None: it did not get to the end."""
    ended: Ended | None
    printed: str
    """The first line of what it printed; empty: nothing."""
    printed_bytes: int
    swallowed: int
    """Passes that never began, since the one before took longer than the model's."""
    waited_most_ns: int
    """The longest that a pass waited, and when."""
    waited_most_at_ns: int
    boot_waited_ns: int
    wraps_ns: tuple[int, ...]
    """Where a count of its clock comes to its end."""
    notes: tuple[str, ...] = ()
    """What else was seen, a line each."""

    @property
    def is_held(self) -> bool:
        """Whether the program did what was predicted."""
        return self.difference is not None and self.difference.is_held


def refusals(scenario: Scenario) -> Iterator[str]:
    """What of a scenario cannot be compared yet, a line each."""
    for name, timer in scenario.failsafe.items():
        if timer.fed_at == "arrival" and not scenario.receiver.interrupt:
            yield (
                f"failsafe.{name}.fed_at: only a program that reads by interrupt knows whose frame "
                'arrived, and when; set it to "read", or receiver.interrupt to true'
            )
        elif timer.fed_at == "arrival" and any(w.interrupts_off for w in scenario.receiver.work):
            yield (
                f"failsafe.{name}.fed_at: a program knows of no arrival while interrupts are off "
                '(receiver.work); set it to "read"'
            )
    for name, output in scenario.output.items():
        if output.kind == "pwm":
            yield from _of_levels(name, output.value)
        if output.kind == "pin" and not _is_whole(scenario, output.stream, output.mix):
            yield (
                f"output.{name}: a pin is compared where its fields are whole numbers with "
                "scale 1, which these are not"
            )


def _of_levels(name: str, ends: tuple[float, float]) -> Iterator[str]:
    """What a program cannot say of levels: rx_level takes 16 bits of a whole number."""
    low, high = sorted(ends)
    if low < INT16[0] or high > INT16[1]:
        yield (
            f"output.{name}.value: rx_level takes {INT16[0]} to {INT16[1]}, got {low:g} to {high:g}"
        )
    elif high - low < FEWEST_LEVELS:
        yield (
            f"output.{name}.value: rx_level takes whole numbers, so {low:g} to {high:g} says too "
            "little; give its field the scale in which the program writes it"
        )


def _is_whole(scenario: Scenario, stream: str, mix: dict[str, float]) -> bool:
    layout = scenario.layout_of(stream)

    def is_plain(field: Field, weight: float) -> bool:
        return field.kind != "float" and field.scale == 1 and float(weight).is_integer()

    return all(is_plain(layout.fields[layout.index_of(name)], mix[name]) for name in mix)


def check_served_on_chip(scenario: Scenario) -> None:
    """FirmwareError for the first thing of a scenario that cannot be compared at a chip's pins."""
    check_served(scenario)
    if scenario.receiver.interrupt:
        raise FirmwareError(
            "receiver.interrupt: on a chip reads by interrupt are not compared yet; set it to false"
        )
    for name, output in scenario.output.items():
        if output.kind == "pwm":
            raise FirmwareError(
                f'output.{name}.kind: levels of "pwm" are not measured at pins yet; leave the '
                'output out, or give it kind = "servo" or "pin"'
            )
        if output.kind == "servo" and output.smoothing_us_per_pass:
            raise FirmwareError(
                f"output.{name}.smoothing_us_per_pass: ramps are not compared at pins yet; set it "
                "to 0"
            )


def check_served(scenario: Scenario) -> None:
    """FirmwareError for the first thing of a scenario that cannot be compared yet."""
    for text in refusals(scenario):
        raise FirmwareError(text)


def tried(
    scenario: Scenario,
    start: int,
    bench: Bench,
    *,
    clock_ms: int = 0,
    engine: Engine = "auto",
    tells: Tells | None = None,
) -> Tried:
    """One start of a scenario with a program beside the model.

    `clock_ms`: what the program's clock shows at its first boot; `tells`: is given what was run.
    FirmwareError for a program that was built with other settings, or that cannot be compared.
    """
    trace = simulate(scenario, start=start, engine=engine)
    plan = plan_of(trace)
    tolerance = tolerance_ns(plan)
    if tolerance is None:
        raise FirmwareError("receiver.work: passes without an end cannot be compared")
    script = script_of(scenario, plan, trace, clock_ms=clock_ms)
    reply = bench.run(script)
    check_stamp(int(reply.head["stamp"]), scenario)
    if tells is not None:
        tells(plan, trace, script, reply)
    ended = ended_of(bench, scenario, reply)
    found = None
    if ended is None:
        record = run_vehicle(trace)
        found = difference(scenario, plan, trace, record, script, reply, tolerance)
    head = reply.head
    return Tried(
        start=start,
        difference=found,
        ended=ended,
        printed=reply.printed,
        printed_bytes=reply.printed_bytes,
        swallowed=int(head["swallowed"]),
        waited_most_ns=int(head["waited_most_ns"]),
        waited_most_at_ns=int(head["waited_most_at_ns"]),
        boot_waited_ns=int(head["boot_waited_most_ns"]),
        wraps_ns=wraps_ns(plan, clock_ms),
    )


def check_stamp(found: int, scenario: Scenario) -> None:
    """FirmwareError for a program that was built with other settings than a scenario's."""
    wanted = stamp_of(scenario)
    if found == int(wanted, 16):
        return
    if not found:
        raise FirmwareError(
            "rx_stamp: the program has none; write const uint32_t rx_stamp = LINK_STAMP;"
        )
    raise FirmwareError(
        f"rx_stamp: the program was built with the settings {found:08X}, the scenario has "
        f"{wanted}; write its link.h again with --emit"
    )


def ended_of(bench: Bench, scenario: Scenario, reply: Reply) -> Ended | None:
    """How a start ended before its time; None: it did not."""
    head = reply.head
    status = Status(int(head["status"]))
    if status is Status.FINE:
        return None
    has_place = status not in (Status.ENDED, Status.TOO_MUCH)
    tool = "avr-addr2line" if bench.is_emulated else "addr2line"
    place = int(head["pc"]) if has_place else 0
    function, line = line_of(bench.executable, place, tool=tool)
    return Ended(
        at_ns=int(head["at_ns"]),
        called=_CALLED[int(head["where"])],
        function=function,
        line=line,
        what=_what(status, scenario, reply, traps=bench.traps),
    )


def _what(status: Status, scenario: Scenario, reply: Reply, *, traps: bool) -> str:
    named = int(reply.head["named"])
    if status is Status.CRASHED:
        number = int(reply.head["signal"])
        if traps and number in _TRAPPED:
            return "did what C leaves undefined (such as an overflow or an index past the end)"
        word = signal.strsignal(number) if number else ""
        return f"crashed ({word.lower()})" if word else "crashed"
    if status is Status.NO_SUCH_OUTPUT:
        known = ", ".join(f"{k} {name}" for k, name in enumerate(scenario.output)) or "none"
        return f"wrote to output {named}, which is not there (there are: {known}),"
    if status is Status.WRONG_KIND:
        name, output = list(scenario.output.items())[named]
        call = "rx_pulse" if output.kind == "servo" else "rx_level"
        return f"wrote to output {named} ({name}) otherwise than by {call}"
    if status is Status.NO_SUCH_PIPE:
        pipes = sorted({unit.pipe for unit in scenario.transmitter.values()})
        return f"told of failsafe of pipe {named}, on which nobody sends (of {pipes})"
    return _WHATS[status]


_WHATS = {
    Status.ENDLESS: "did not come back: it goes round and round",
    Status.STUCK: "did not come back within 5 s: it waits for time or for a frame",
    Status.ENDED: "ended its process",
    Status.OVERRUN: "wrote past the end of a buffer on the stack (rx_take writes 32 bytes)",
    Status.TOO_MUCH: "changed outputs more than 4 million times",
}


def wraps_ns(plan: Plan, clock_ms: int) -> tuple[int, ...]:
    """Instants at which a count of the program's clock comes to its end: 16 and 32 bits of ms.

    `clock_ms`: what it shows at the first boot; at all others it begins at 0.
    """
    steps = receiver_steps(plan)
    boots = steps["at_ns"][steps["kind"] == BOOTS].tolist()
    found: set[int] = set()
    for k, (boot_ns, next_ns) in enumerate(pairwise([*boots, plan.until_ns])):
        from_ms = clock_ms if k == 0 else 0
        until_ms = from_ms + (next_ns - boot_ns) // NS_PER_MS
        for count in (1 << 16, 1 << 32):
            ends = range(from_ms // count * count + count, until_ms + 1, count)
            found |= {boot_ns + scaled((end - from_ms) * NS_PER_MS, plan.rx.ppb) for end in ends}
    return tuple(sorted(found))
