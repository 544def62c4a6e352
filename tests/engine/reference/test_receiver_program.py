"""When the receiver's program reads, and how long its passes take (rules E1 and E2).

Instants in µs; the arithmetic of one frame stands in hand_made.py.
"""

from typing import Any

import pytest

from tests.engine.reference.hand_made import FLAG, passes, reads, start

ONCE = FLAG | {"period_ms": 50}
# In the FIFO at 410, 610 and 810.
THREE = {name: ONCE | {"offset_ms": 0.2 * i} for i, name in enumerate("abc")}


def test_one_frame_a_pass() -> None:
    trace = start(THREE, ms=5, receiver={"read": "one"})

    # A read makes its pass 100 longer.
    assert reads(trace) == [(0, 0, 1100, "read"), (1, 0, 2200, "read"), (2, 0, 3300, "read")]
    assert passes(trace) == [(1100, 2200, 1), (2200, 3300, 1), (3300, 4400, 1)]


def test_all_frames_in_one_pass() -> None:
    trace = start(THREE, ms=5, receiver={"read": "all"})

    assert reads(trace) == [(i, 0, 1100, "read") for i in range(3)]
    assert passes(trace) == [(1100, 2400, 3)]


def test_the_newest_of_each_stream() -> None:
    # In the FIFO at 410 (a), 610 (b) and 910 (a).
    transmitters = {"a": FLAG | {"period_ms": 0.5}, "b": ONCE | {"offset_ms": 0.2}}
    trace = start(transmitters, ms=1.15, receiver={"read": "newest"})

    assert reads(trace) == [
        (0, 0, 1100, "thrown away"),
        (1, 0, 1100, "read"),
        (0, 1, 1100, "read"),
    ]
    # What is thrown away was read off the bus too.
    assert passes(trace) == [(1100, 2400, 3)]


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        # Passes at 100, 1600 (reads), then 1500 + 100.
        ({"delay_ms": 0.5}, (1600, 3200, 1)),
        # 1000 slower by a tenth: 100, 1200 (reads); the bus has no error.
        ({"clock_ppm": 100_000}, (1200, 2400, 1)),
        # Work due at 1050 is done in the pass of 1100, which reads.
        ({"work": [{"every_ms": 10, "takes_ms": 2, "offset_ms": 0.95}]}, (1100, 4200, 1)),
        # Due at 100: the first pass takes 3000; the next reads.
        ({"work": [{"every_ms": 10, "takes_ms": 2, "offset_ms": 0}]}, (3100, 4200, 1)),
        # Due in the pass that reads, and so done in the next.
        ({"work": [{"every_ms": 10, "takes_ms": 2, "offset_ms": 1.5}]}, (1100, 2200, 1)),
        # Two works add up, and the clock scales them.
        (
            {
                "clock_ppm": 100_000,
                "work": [
                    {"every_ms": 10, "takes_ms": 2, "offset_ms": 0.5},
                    {"every_ms": 10, "takes_ms": 1, "offset_ms": 0.9},
                ],
            },
            # 1200 + 1100 + 100 + 2200 + 1100; due at 650 and 1090.
            (1200, 5700, 1),
        ),
    ],
)
def test_a_pass_takes_its_own_time_its_reads_the_work_due_and_the_delay(
    keys: dict[str, Any], expected: tuple[float, float, int]
) -> None:
    trace = start({"a": ONCE}, ms=8, receiver=keys)

    assert passes(trace) == [expected]


def test_idle_passes_that_do_work_move_the_reads() -> None:
    # Passes: 100, 1100, 2100 (work of 2000 due at 1150), 5100, 6100, …; frame in the FIFO at 2410.
    work = [{"every_ms": 20, "takes_ms": 2, "offset_ms": 1.05}]
    trace = start({"a": ONCE | {"offset_ms": 2}}, ms=8, receiver={"work": work})

    assert passes(trace) == [(5100, 6200, 1)]


def test_an_interrupt_reads_on_arrival_and_stretches_the_pass() -> None:
    trace = start(THREE, ms=5, receiver={"interrupt": True, "read": "one"})

    assert reads(trace) == [(0, 0, 410, "read"), (1, 0, 610, "read"), (2, 0, 810, "read")]
    # The pass began at 100.
    assert passes(trace) == [(100, 1400, 3)]


OFF_SPAN = {"every_ms": 10, "takes_ms": 1, "interrupts_off": True}


def test_work_with_interrupts_off_holds_reads_back() -> None:
    # Due as the program starts: interrupts are off from 100 to 1100.
    trace = start(
        {"a": ONCE}, ms=5, receiver={"interrupt": True, "work": [OFF_SPAN | {"offset_ms": 0}]}
    )

    assert reads(trace) == [(0, 0, 1100, "read")]
    assert passes(trace) == [(100, 2200, 1)]


def test_interrupts_are_off_in_the_pass_after_the_work_fell_due() -> None:
    # Due at 400, done from 1100 to 2100; frames come at 410 and 1410.
    transmitters = {"a": ONCE, "b": ONCE | {"offset_ms": 1}}
    trace = start(
        transmitters, ms=5, receiver={"interrupt": True, "work": [OFF_SPAN | {"offset_ms": 0.3}]}
    )

    # The first read makes its pass end at 1200, so that interrupts are off until 2200.
    assert reads(trace) == [(0, 0, 410, "read"), (1, 0, 2200, "read")]
    assert passes(trace) == [(100, 1200, 1), (1200, 3300, 1)]


def test_other_work_holds_no_interrupt_back() -> None:
    work = [OFF_SPAN | {"offset_ms": 0, "interrupts_off": False}]
    trace = start({"a": ONCE}, ms=5, receiver={"interrupt": True, "work": work})

    assert reads(trace) == [(0, 0, 410, "read")]
    assert passes(trace) == [(100, 2200, 1)]


def test_interrupts_are_off_for_their_own_part_of_the_work_alone() -> None:
    # 1000 of 3000 with interrupts off, first: 100–1100; frames come at 610 and 1410.
    work = [OFF_SPAN | {"offset_ms": 0}, {"every_ms": 10, "takes_ms": 2, "offset_ms": 0}]
    transmitters = {"a": ONCE | {"offset_ms": 0.2}, "b": ONCE | {"offset_ms": 1}}
    trace = start(transmitters, ms=6, receiver={"interrupt": True, "work": work})

    assert reads(trace) == [(0, 0, 1100, "read"), (1, 0, 1410, "read")]
    assert passes(trace) == [(100, 4300, 2)]


def test_unpacking_a_frame_takes_its_pass_longer_by_the_receivers_clock() -> None:
    receiver = {"unpack_us": 200, "clock_ppm": 50_000}
    trace = start({"a": FLAG | {"period_ms": 50}}, ms=5, receiver=receiver)

    # Up at 100; a pass of 1050, a read of 100 and 210 to unpack.
    assert passes(trace) == [(1150, 2510, 1)]
