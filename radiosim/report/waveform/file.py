"""Signals as the text of a value change dump, IEEE 1364-2005 clause 18, in steps of 1 ns."""

import io
import re
from collections.abc import Iterator, Sequence
from heapq import merge

from vcd import VCDWriter

from radiosim.engine.plan import make_plan
from radiosim.report.files import ReportError
from radiosim.report.waveform.lines import (
    REAL,
    Signal,
    Value,
    failsafe_signals,
    output_signals,
    receiver_program_signals,
    receiver_radio_signals,
    transmitter_signals,
    until,
)
from radiosim.scenario import Scenario
from radiosim.trace import Trace
from radiosim.units import NS_PER_S
from radiosim.vehicle.vehicle import run_vehicle

MOST_CHANGES = 2_000_000
"""Some 30 MB of text."""
_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_$]*")
_LEGEND = (
    "transmitters: on_air (with its attempt, from 1; lost: not taken by the receiver); "
    "acknowledged: its acknowledgement is on the air (acknowledgement_lost: nobody takes it). "
    "settles: the radio turns round. "
    "receiver: fifo_fill counts frames; interrupt: one waits to be read; pass_flips: changes as a "
    "pass starts; frames_read: in the pass under way. "
    "outputs: pulse, or level while driven; follows: it follows the hand, neither start nor "
    "failsafe. "
    "failsafes: on; x while the program is down."
)


def check_length(scenario: Scenario) -> None:
    """ReportError, before anything is simulated, if a start is far too long for a waveform."""
    seconds, unit = scenario.duration_s, scenario.receiver
    in_a_second = 1000 / (unit.loop_ms + unit.delay_ms)
    in_a_second += sum(2 * it.refresh_hz for it in scenario.output.values() if it.kind == "servo")
    if in_a_second * seconds > 2 * MOST_CHANGES:
        raise _too_long(int(in_a_second * seconds), seconds)


def waveform(trace: Trace) -> str:
    """One start as a value change dump; ReportError if it has more than MOST_CHANGES changes."""
    signals = signals_of(trace)
    count = sum(len(it.changes) for it in signals)
    if count > MOST_CHANGES:
        raise _too_long(count, trace.duration_ns / NS_PER_S)
    return _written(trace, signals)


def signals_of(trace: Trace) -> tuple[Signal, ...]:
    """All that a waveform shows of one start."""
    plan = make_plan(trace.scenario, trace.start)
    vehicle = run_vehicle(trace)
    signals = (
        *transmitter_signals(trace, plan),
        *receiver_radio_signals(trace, plan),
        *receiver_program_signals(trace, plan),
        *output_signals(trace, vehicle),
        *failsafe_signals(trace, plan, vehicle),
    )
    # A pass or a pulse under way at the end is over later.
    return tuple(until(signal, trace.duration_ns) for signal in signals)


def identifier(name: str) -> str:
    """A name as the format takes it: escaped if it holds more than letters, digits, _ and $."""
    return name if _PLAIN.fullmatch(name) else "\\" + name


def _written(trace: Trace, signals: Sequence[Signal]) -> str:
    text = io.StringIO()
    comment = f"seed {trace.seed}, start {trace.start}. {_LEGEND}"
    with VCDWriter(
        text, timescale="1 ns", date="", version=f"radiosim {trace.version}", comment=comment
    ) as writer:
        lines = [
            writer.register_var(
                tuple(map(identifier, signal.scope)),
                identifier(signal.name),
                "real" if signal.bits == REAL else "wire",
                size=signal.bits or None,
                init=signal.first,
            )
            for signal in signals
        ]
        for at_ns, k, value in merge(*map(_changes, range(len(signals)), signals)):
            writer.change(lines[k], at_ns, value)
        # A viewer shows the start to its end, whatever changed last.
        writer.close(trace.duration_ns)
    return text.getvalue()


def _changes(k: int, signal: Signal) -> Iterator[tuple[int, int, Value]]:
    return ((at_ns, k, value) for at_ns, value in signal.changes)


def _too_long(count: int, seconds: float) -> ReportError:
    most_s = float(f"{0.9 * seconds * MOST_CHANGES / count:.1g}")
    return ReportError(
        f"--waveform: must be at most {MOST_CHANGES:,} changes, got some {count:,} in "
        f"{seconds:g} s (a shorter start fits: --duration-s {most_s:g})"
    )
