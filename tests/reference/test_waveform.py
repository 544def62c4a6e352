"""A waveform says what its trace says: IEEE 1364-2005 clause 18, read back by another program.

The reader is vcdvcd, a general one. What it finds is compared with the rows of the trace, and with
what the folds of the vehicle made of them, row by row.
"""

import functools
from bisect import bisect_right
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import load
from radiosim.trace import FULL, WAITING, Trace
from radiosim.vehicle.vehicle import VehicleRecord, run_vehicle
from tests.reference.outside import SECOND, check, outside
from tests.reference.sources import LIBRARY
from tests.report.waveform_reading import Reread

SCENARIOS = Path(__file__).parents[2] / "scenarios"
CASES = {
    # A stick that goes silent and comes back, the receiver reset, six outputs.
    "culvert-crawler": (
        'fault=[{kind="power_off",unit="drive",at_s=1,for_s=1},'
        '{kind="reset",unit="receiver",at_s=3}]',
    ),
    "slow-loop": (),
    # Reads on arrival; a receiver that hangs, then loses its power.
    "twin-clocks": (
        "receiver.interrupt=true",
        'fault=[{kind="hang",unit="receiver",at_s=1,for_s=0.5},'
        '{kind="power_off",unit="receiver",at_s=2,for_s=0.3}]',
    ),
}
scenarios = pytest.mark.parametrize("name", CASES)


@functools.cache
def trace_of(name: str) -> Trace:
    return simulate(load(SCENARIOS / f"{name}.toml", ("duration_s=4", *CASES[name])))


@functools.cache
def vehicle_of(name: str) -> VehicleRecord:
    return run_vehicle(trace_of(name))


Waited = list[tuple[int, int]]


def spans_of_waiting(trace: Trace, came: npt.NDArray[np.int64]) -> Waited:
    """From when each frame came to when it was read; what still waits stays past the end."""
    gone = trace.reads["read_ns"].copy()
    gone[trace.reads["outcome"] == WAITING] = trace.duration_ns + 1
    return list(zip(came.tolist(), gone.tolist(), strict=True))


def count_at(waited: Waited, at: int) -> int:
    return sum(came <= at < gone for came, gone in waited)


def instants_of(waited: Waited, found: list[tuple[int, int]], trace: Trace) -> list[int]:
    """All at which something comes or goes, by either account."""
    every = {at for span in waited for at in span} | {at for at, _ in found}
    return sorted(at for at in every if at <= trace.duration_ns)


def standing(changes: list[tuple[int, int]], at: int) -> int:
    """The value of a signal at an instant."""
    return changes[bisect_right(changes, at, key=lambda change: change[0]) - 1][1]


@pytest.fixture
def reread(name: str, tmp_path: Path) -> Reread:
    return Reread(trace_of(name), tmp_path)


@outside("waveform: its unit of time and its end", source=LIBRARY.key, status=SECOND, unit="s")
@scenarios
def test_a_waveform_counts_nanoseconds_to_the_end_of_its_start(name: str, reread: Reread) -> None:
    assert float(reread.timescale["timescale"]) == 1e-9  # type: ignore[arg-type]
    check.same(reread.end_ns / 1e9, trace_of(name).duration_ns / 1e9)


@outside("waveform: start and end of each attempt", source=LIBRARY.key, status=SECOND)
@scenarios
def test_every_attempt_is_on_the_air(name: str, reread: Reread) -> None:
    trace = trace_of(name)
    for i, transmitter in enumerate(trace.scenario.transmitter):
        mine = trace.attempts[trace.attempts["stream"] == i]
        rows = sorted(zip(mine["start_ns"].tolist(), mine["end_ns"].tolist(), strict=True))
        lost = mine["fate"][mine["start_ns"].argsort()] >= FULL
        check.agree(reread.spans(f"transmitters.{transmitter}.on_air"), rows)
        check.agree(
            reread.spans(f"transmitters.{transmitter}.lost"),
            [row for row, is_lost in zip(rows, lost, strict=True) if is_lost],
        )


@outside("waveform: start and end of each acknowledgement", source=LIBRARY.key, status=SECOND)
@scenarios
def test_every_acknowledgement_is_on_the_air(name: str, reread: Reread) -> None:
    acknowledgements = trace_of(name).acknowledgements
    rows = zip(
        acknowledgements["start_ns"].tolist(), acknowledgements["end_ns"].tolist(), strict=True
    )
    check.agree(reread.spans("receiver.acknowledges"), sorted(rows))


@outside("waveform: frames in the FIFO at each change", source=LIBRARY.key, status=SECOND)
@scenarios
def test_the_fifo_holds_what_came_and_was_not_read(name: str, reread: Reread) -> None:
    trace = trace_of(name)
    interrupt_ns = make_plan(trace.scenario, 0).rx.interrupt_ns
    waited = spans_of_waiting(trace, trace.reads["accepted_ns"] - interrupt_ns)
    found = reread.numbers("receiver.fifo_fill")

    instants = instants_of(waited, found, trace)
    check.agree([standing(found, at) for at in instants], [count_at(waited, at) for at in instants])


@outside("waveform: interrupt line while a frame waits", source=LIBRARY.key, status=SECOND)
@scenarios
def test_the_interrupt_line_is_up_while_a_frame_waits(name: str, reread: Reread) -> None:
    trace = trace_of(name)
    waited = spans_of_waiting(trace, trace.reads["accepted_ns"])
    found = reread.numbers("receiver.interrupt")

    instants = instants_of(waited, found, trace)
    check.agree(
        [standing(found, at) for at in instants], [count_at(waited, at) > 0 for at in instants]
    )


@outside("waveform: start and width of each pulse", source=LIBRARY.key, status=SECOND)
@scenarios
def test_every_pulse_has_its_start_and_its_width(name: str, reread: Reread) -> None:
    trace = trace_of(name)
    for output, described in trace.scenario.output.items():
        if described.kind != "servo":
            continue
        effects = vehicle_of(name).outputs[output].effects
        rows = zip(effects["start_ns"].tolist(), effects["end_ns"].tolist(), strict=True)
        pulses = [(a, b - a) for a, b in rows if b > a and b <= trace.duration_ns]
        found = [(a, b - a) for a, b in reread.spans(f"outputs.{output}.pulse")]
        check.agree(found[: len(pulses)], pulses)
        assert len(found) - len(pulses) in (0, 1)


@outside("waveform: each entry into failsafe", source=LIBRARY.key, status=SECOND)
@scenarios
def test_a_flag_rises_at_each_entry_and_nowhere_else(name: str, reread: Reread) -> None:
    trace = trace_of(name)
    for i, transmitter in enumerate(trace.scenario.transmitter):
        if transmitter not in trace.scenario.failsafe:
            continue
        changes = reread.changes(f"failsafes.{transmitter}.on")
        rises = [
            at for (_, before), (at, after) in pairwise(changes) if before == "0" and after == "1"
        ]
        check.agree(rises, [entry.at_ns for entry in vehicle_of(name).streams[i].entries])


@outside("waveform: passes that read, and how many frames", source=LIBRARY.key, status=SECOND)
@scenarios
def test_every_pass_that_read_starts_where_it_did(name: str, reread: Reread) -> None:
    passes = trace_of(name).passes
    flips = {at for at, _ in reread.changes("receiver.pass_flips")}
    counts = reread.numbers("receiver.frames_read")
    starts = passes["start_ns"].tolist()

    assert set(starts) <= flips
    assert sum(value > 0 for _, value in counts) <= len(starts)
    check.agree([standing(counts, at) for at in starts], passes["frames"].tolist())
