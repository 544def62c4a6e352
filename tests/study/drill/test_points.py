"""When faults strike, and which phases they meet."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from radiosim.study.drill.drill_kinds import drills_of
from radiosim.study.drill.points import phased, rhythm_of, struck
from tests.study.drill.scenarios import HEAD, TIMER, scenario_with

STARTS = 16


def strikes_of(number: int) -> list[float]:
    """Where in its span each fault of a drill strikes, 0 to 1."""
    scenario = scenario_with(TIMER + HEAD)
    rhythm = rhythm_of(scenario, 4)
    drill = drills_of(scenario)[number]
    found = []
    for start in range(STARTS):
        _, strikes = struck(phased(scenario, start), drill, rhythm, start, STARTS)
        for cycle, strike in enumerate(strikes):
            begins_s = rhythm.first_s + cycle * rhythm.cycle_s + rhythm.settle_s
            found.append((strike.at_ns / 1e9 - begins_s) / rhythm.span_s["drive"])
    return found


def test_every_stratum_of_the_span_has_one_fault() -> None:
    found = strikes_of(0)

    assert sorted(int(share * len(found)) for share in found) == list(range(len(found)))


def test_phases_of_starts_leave_no_gap_wider_than_a_few_strata() -> None:
    scenario = scenario_with(TIMER + HEAD)
    for phase in ("drive", "head"):
        offsets = sorted(
            float(phased(scenario, start).transmitter[phase].offset_ms) for start in range(64)
        )
        gaps = [after - before for before, after in pairwise(offsets)]

        assert max(gaps) < 4 * scenario.transmitter[phase].period_ms / 64


def test_phases_that_the_scenario_fixes_stay() -> None:
    scenario = scenario_with(
        TIMER + "[transmitter.head]\nperiod_ms = 23\npayload_bytes = 4\noffset_ms = 7\n"
    )

    assert phased(scenario, 3).transmitter["head"].offset_ms == 7


def test_faults_of_the_scenario_itself_are_left_out() -> None:
    more = '[[fault]]\nat_s = 1\nkind = "reset"\nunit = "drive"\n'

    assert phased(scenario_with(TIMER + more), 0).fault == ()


@given(number=st.integers(0, 18), start=st.integers(0, 500))
def test_a_fault_never_strikes_before_the_one_before_is_over(number: int, start: int) -> None:
    scenario = scenario_with(TIMER + HEAD)
    drill = drills_of(scenario)[number]
    made, strikes = struck(phased(scenario, start), drill, rhythm_of(scenario, 4), start, 501)

    for strike in strikes:
        assert strike.at_ns < strike.until_ns < strike.next_ns
    assert strikes[-1].next_ns == round(made.duration_s * 1e9)
