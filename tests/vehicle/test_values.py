"""What a field says in plain numbers is what travels, compiled or not."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.jit import JitBackend, backend_for
from radiosim.engine.payload import Payload
from radiosim.engine.plan import make_plan
from radiosim.signals import Constant, Counter, Csv, LookAround, Signal, Sine, Steps
from radiosim.units import NS_PER_S
from radiosim.vehicle.fold.values import FieldState, said, signal_at
from radiosim.vehicle.program_fold import COUNTS, Points, set_field
from tests.examples import examples
from tests.traces import scenario_with

MACHINES = {"plain": JitBackend(None), "usual": backend_for(make_plan(scenario_with(), 0), "auto")}

short_s = st.floats(0.01, 100)
values = st.floats(-1, 1)
every_ms = st.sampled_from([0.0, 0.0, 3.0, 500.0])
tables = st.builds(
    lambda times, numbers, is_loop: Csv(
        file="a.csv", loop=is_loop, points=tuple(zip(sorted(times), numbers, strict=False))
    ),
    st.lists(st.floats(0, 1000), min_size=1, max_size=6, unique=True),
    st.lists(values, min_size=6, max_size=6),
    st.booleans(),
)
signals = st.one_of(
    st.builds(Constant, value=values, every_ms=every_ms),
    st.builds(Sine, period_s=short_s, phase_deg=st.floats(-720, 720), every_ms=every_ms),
    st.builds(Steps, values=st.lists(values, min_size=1, max_size=5).map(tuple), hold_s=short_s),
    st.builds(LookAround, sweep_s=short_s, rest_s=st.floats(0, 10), every_ms=every_ms),
    st.builds(Counter),
    tables,
)
asked = st.lists(
    st.tuples(st.integers(0, 10**6), st.integers(0, 10**6 * NS_PER_S)), min_size=1, max_size=8
)


def say(f: FieldState, points: Any, frames: Any, values_ns: Any, out: Any, hand: Any) -> None:
    for i in range(len(frames)):
        out[i] = said(f, points, frames[i], values_ns[i])
        hand[i] = signal_at(f, points, values_ns[i] / NS_PER_S, frames[i])


def said_by(
    backend: JitBackend, payload: Payload, frames: Sequence[int], values_ns: Sequence[int]
) -> tuple[list[float], list[float]]:
    state, points = backend.record(FieldState, COUNTS), Points()
    # The points of another field come first.
    points.add(((0.5,), (0.25,)))
    set_field(backend, state, payload, 1, points)
    out, hand = np.zeros(len(frames)), np.zeros(len(frames))
    columns = (backend.numbers(np.array(column, np.int64)) for column in (frames, values_ns))
    backend.entry(say)(state, points.table(backend), *columns, out, hand)
    return out.tolist(), hand.tolist()


@pytest.mark.parametrize("name", MACHINES)
@examples(200)
@given(signals, asked)
def test_a_field_says_what_its_bytes_say(
    name: str, signal: Signal, asked: list[tuple[int, int]]
) -> None:
    payload = make_plan(scenario_with(), 0).payloads[0]
    sensor = payload.sensors[1]
    sensor.signal, sensor.every_ns = signal, round(signal.every_ms * 1e6)
    sensor.phase_ns = sensor.every_ns // 3
    frames, values_ns = [frame for frame, _ in asked], [at_ns for _, at_ns in asked]

    found, hand = said_by(MACHINES[name], payload, frames, values_ns)

    assert found == [payload.values(frame, at_ns)[1] for frame, at_ns in asked]
    span = sensor.span
    assert hand == [signal.value_at(at_ns / NS_PER_S, frame, span) for frame, at_ns in asked]
