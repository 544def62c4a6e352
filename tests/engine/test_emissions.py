"""When something from outside sends."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Emitter
from radiosim.engine.rules.emissions import NEVER_NS, bursts_around, emits, outside_mw
from radiosim.scenario import parse

SCENARIO = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
air.range.distance_m = 10
"""
BURSTS = '{ kind = "bursts", channel_mhz = 2468, burst_ms = 0.4, duty = 0.3 }'


def emitters(*interferers: str, start: int = 0) -> tuple[Emitter, ...]:
    keys = [f"interferer.n{i}={text}" for i, text in enumerate(interferers)]
    return make_plan(parse(SCENARIO, overrides=keys), start).rx.emitter


@st.composite
def any_emitter(draw: st.DrawFn) -> Emitter:
    kind = draw(st.sampled_from(["bursts", "transmitter", "jammer"]))
    more = {
        "bursts": "burst_ms = 0.3, duty = 0.4, beacon_every_ms = 7, beacon_ms = 2",
        "transmitter": "period_ms = 3, payload_bytes = 32",
        "jammer": "width_mhz = 5",
    }[kind]
    spans = draw(st.sampled_from(["", ", from_s = 0.002", ", from_s = 0.001, for_s = 0.003"]))
    found = emitters(
        f'{{ kind = "{kind}", channel_mhz = 2468, {more}{spans} }}', start=draw(st.integers(0, 50))
    )
    return draw(st.sampled_from(found))


@given(any_emitter(), st.integers(0, 10_000_000), st.integers(1, 3_000_000), st.data())
def test_what_is_said_of_a_span_holds_at_every_instant_in_it(
    emitter: Emitter, now: int, length: int, data: st.DataObject
) -> None:
    sends, until_ns = emits(emitter, now, now + length)

    assert now < until_ns <= now + length
    inside = data.draw(st.integers(now, until_ns - 1))
    assert emits(emitter, inside, inside + 1)[0] == sends


@given(any_emitter(), st.integers(0, 5_000_000))
def test_stepping_from_change_to_change_meets_every_change(emitter: Emitter, now: int) -> None:
    end = now + 2_000_000
    on_ns, at = 0, now
    while at < end:
        sends, until_ns = emits(emitter, at, end)
        on_ns += (until_ns - at) * sends
        at = until_ns
    looked = [emits(emitter, instant, instant + 1)[0] for instant in range(now, end, 997)]

    assert on_ns / 2_000_000 == pytest.approx(np.mean(looked), abs=0.03)


def test_bursts_take_their_share_of_the_time_and_come_at_random() -> None:
    share, counts = [], []
    for start in range(40):
        (emitter,) = emitters(BURSTS, start=start)
        cells = range(200)
        counts += [burst_count(emitter, cell) for cell in cells]
        looked = [emits(emitter, t, t + 1)[0] for t in range(0, 200_000_000, 1_000_003)]
        share.append(np.mean(looked))

    # Five standard errors of 40 starts of 200 looks, and of 8,000 Poisson cells.
    assert np.mean(share) == pytest.approx(0.3, abs=5 * 0.46 / 8000**0.5)
    assert np.mean(counts) == pytest.approx(1.0, abs=5 / 8000**0.5)
    assert np.var(counts) == pytest.approx(1.0, abs=5 * (3 / 8000) ** 0.5)


def burst_count(emitter: Emitter, cell: int) -> int:
    """Bursts of a cell, by asking for the next one again and again."""
    at, count = cell * emitter.every_ns - 1, 0
    while (at := bursts_around(emitter, cell, at)[1]) != NEVER_NS:
        count += 1
    return count


def test_a_neighbour_sends_on_its_grid_and_its_receiver_answers() -> None:
    frame, answer = emitters(
        '{ kind = "transmitter", channel_mhz = 2468, payload_bytes = 32, period_ms = 10 }'
    )

    assert (frame.burst_ns, answer.burst_ns) == (329_000, 73_000)
    assert answer.offset_ns - frame.offset_ns == 329_000 + 130_000
    assert emits(frame, frame.offset_ns, NEVER_NS) == (True, frame.offset_ns + 329_000)
    assert emits(frame, frame.offset_ns - 1, NEVER_NS) == (False, frame.offset_ns)


def test_levels_add_up_at_each_end() -> None:
    levels = "power_dbm_at_receiver = -70, power_dbm_at_transmitters = -80"
    jammer = f'{{ kind = "jammer", channel_mhz = 2468, {levels} }}'
    rx = make_plan(
        parse(SCENARIO, overrides=[f"interferer.a={jammer}", f"interferer.b={jammer}"]), 0
    ).rx

    at_receiver, until_ns = outside_mw(rx, True, 0, 1_000)
    at_transmitters, _ = outside_mw(rx, False, 0, 1_000)
    assert until_ns == 1_000
    assert at_receiver == 2 * rx.emitter[0].at_receiver_mw
    assert at_receiver / at_transmitters == pytest.approx(10)
