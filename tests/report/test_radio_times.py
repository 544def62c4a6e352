"""Spans of radios that pictures of time share."""

from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.report.spans import deaf_spans, inside
from radiosim.scenario import Scenario, parse
from tests.examples import examples

SCENARIO = """
duration_s = 2
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }
receiver.clock_ppm = 150
receiver.watchdog_ms = 250
[[receiver.deaf]]
every_ms = 37
for_ms = 9
[[receiver.deaf]]
every_ms = 11
for_ms = 0.4
offset_ms = 3
[[fault]]
at_s = 0.5
kind = "hang"
unit = "receiver"
for_s = 0.1
[[fault]]
at_s = 1.1
kind = "reset"
unit = "receiver"
[[fault]]
at_s = 1.6
kind = "hang"
unit = "receiver"
for_s = 1
"""
LONG_NS = 2_000_000_000


def scenario_with() -> Scenario:
    return parse(SCENARIO, "deaf.toml")


@given(
    start=st.integers(0, 40),
    begin_ns=st.integers(0, LONG_NS),
    length_ns=st.integers(0, 300_000_000),
)
@examples(60)
def test_a_part_of_a_start_is_deaf_when_the_whole_is(
    start: int, begin_ns: int, length_ns: int
) -> None:
    plan, part = make_plan(scenario_with(), start), (begin_ns, begin_ns + length_ns)

    assert deaf_spans(plan, part) == inside(deaf_spans(plan), [part])


def test_a_program_that_hangs_as_it_is_deaf_stays_so() -> None:
    hang_ns = 500_000_000, 600_000_000
    deaf = [
        sum(end - begin for begin, end in deaf_spans(make_plan(scenario_with(), start), hang_ns))
        for start in range(40)
    ]

    assert set(deaf) == {0, hang_ns[1] - hang_ns[0]}
