"""What a pass more or less decides at stops and boots, and pulses that are judged one by one."""

import numpy as np

from radiosim.engine.plan import make_plan
from radiosim.engine.timeline import FOREVER_NS
from radiosim.firmware.chip_edges import Down, downs_of, is_open, undecided, without_open
from radiosim.firmware.compare import NOT_READ, Compared, ReadElsewhere, Span
from radiosim.firmware.pin_pulses import Pulses, compared_pulses, pulses_of
from radiosim.firmware.ramps import Course
from radiosim.firmware.script import OUT, PULSE
from radiosim.scenario import parse
from radiosim.units import NS_PER_MS, ns_from_ms, ns_from_s

TEXT = """
radio.profile = "gfsk-1M"
duration_s = 10
receiver = { boot_s = 0.5, watchdog_ms = 200, clock_ppm = 0 }
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
fault = [
    { at_s = 3, kind = "hang", unit = "receiver" },
    { at_s = 6, for_s = 0.1, kind = "hang", unit = "receiver" },
    { at_s = 9, kind = "power_off", unit = "receiver" },
]
"""
MS = NS_PER_MS


def read(accepted_ms: float, predicted_ms: float, real_ms: float) -> ReadElsewhere:
    at_ns = (ns_from_ms(ms) if ms >= 0 else NOT_READ for ms in (predicted_ms, real_ms))
    predicted_ns, real_ns = at_ns
    return ReadElsewhere(
        stream="drive",
        accepted_ns=ns_from_ms(accepted_ms),
        predicted_ns=predicted_ns,
        real_ns=real_ns,
    )


def test_times_without_a_program_are_those_of_the_faults() -> None:
    downs = downs_of(make_plan(parse(TEXT), 0))

    assert [down.from_ns for down in downs] == [0, *map(ns_from_s, (3, 6, 9))]
    assert downs[1].until_ns == ns_from_s(3.7)
    assert downs[2].until_ns == ns_from_s(6.1)
    assert downs[3].until_ns == FOREVER_NS
    assert [down.is_bitten for down in downs] == [False, True, False, False]


def test_a_frame_at_a_stop_opens_what_comes_until_the_boot_and_no_more() -> None:
    downs = (Down(from_ns=1000 * MS, until_ns=1300 * MS),)
    late = read(accepted_ms=999.5, predicted_ms=999.8, real_ms=1300.9)
    lost = read(accepted_ms=1100, predicted_ms=1300, real_ms=-1)
    other = read(accepted_ms=1400, predicted_ms=1400, real_ms=-1)

    open_ones = undecided(downs, [late, lost, other], 2 * MS)

    assert open_ones == downs
    assert [is_open(one, open_ones, 2 * MS) for one in (late, lost, other)] == [True, True, False]
    # Without a read near its ends, nothing of it is open.
    assert undecided(downs, [read(1100, 1200, 1250), other], 2 * MS) == ()


def test_only_what_begins_and_ends_there_is_explained() -> None:
    down = Down(from_ns=1000 * MS, until_ns=1300 * MS)
    inside, beyond = (
        Span(from_ns=990 * MS, until_ns=until * MS, predicted=1.0, real=2.0)
        for until in (1330, 1350)
    )
    one = Compared(
        name="motor", spans=(inside, beyond), short=1, longest_short_ns=5, changes=9, moves=True
    )

    left = without_open(one, [down], 40 * MS)

    assert left.spans == (beyond,)
    assert (left.short, left.longest_short_ns) == (2, 340 * MS)
    assert without_open(one, [], 40 * MS) is one


def course(*told: tuple[float, float]) -> Course:
    at_ms, us = zip(*told, strict=True)
    return Course(
        at_ns=np.array(at_ms) * MS // 1, level=np.array(us, np.float64) * 1000, before=np.nan
    )


def pulses(*widths_us: float) -> Pulses:
    """A pulse every 20 ms."""
    at_ns = np.arange(len(widths_us), dtype=np.int64) * 20 * MS
    return Pulses(at_ns=at_ns, width_ns=np.array(widths_us) * 1000.0)


def judged(model: Course, real: Pulses) -> Compared:
    return compared_pulses("motor", model, real, 20 * MS, len(real.at_ns) * 20 * MS, 2 * MS)


def test_one_pulse_of_a_width_that_was_never_predicted_is_found() -> None:
    model = course((0, 1500), (50, 1600))

    assert judged(model, pulses(1500, 1500, 1500, 1600, 1600)).spans == ()
    torn = judged(model, pulses(1500, 1756, 1500, 1600, 1600)).spans
    assert [(span.from_ns, span.length_ns, span.real) for span in torn] == [
        (20 * MS, 20 * MS, 1_756_000.0)
    ]


def test_a_pulse_may_be_late_by_a_period_and_what_a_pass_takes() -> None:
    # Told at 39 ms: the pulse at 40 may still be the old one, or at 61 ms with what a pass takes.
    assert judged(course((0, 1500), (39, 1600)), pulses(1500, 1500, 1500, 1600)).spans == ()
    slow = judged(course((0, 1500), (37, 1600)), pulses(1500, 1500, 1500, 1500, 1600)).spans
    assert [span.from_ns for span in slow] == [60 * MS]


def test_pulses_that_do_not_come_are_found_and_those_of_a_pin_that_should_be_still() -> None:
    rows = np.array([(at * MS, PULSE, 0, 1_500_000, 0) for at in (0, 20, 80, 100)], OUT)

    real = pulses_of(rows, 20 * MS, 160 * MS)

    assert (real.at_ns // MS).tolist() == [0, 20, 40, 60, 80, 100, 120, 140]
    assert np.flatnonzero(np.isnan(real.width_ns)).tolist() == [2, 3, 6, 7]
    spans = judged(course((0, 1500), (110, np.nan)), real).spans
    assert [(span.from_ns // MS, span.length_ns // MS) for span in spans] == [(40, 40)]
    still = judged(course((0, np.nan)), pulses(1500, 1500)).spans
    assert [(span.from_ns, span.until_ns) for span in still] == [(0, 40 * MS)]
