"""Outputs that move by at most so much a pass."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.scenario import Scenario
from radiosim.trace import ReadRow
from radiosim.units import NS_PER_MS, ns_from_ms
from radiosim.vehicle.fold.program_state import FAILSAFE, WRITTEN
from radiosim.vehicle.vehicle import OutputRecord, run_vehicle
from tests.examples import examples
from tests.passes import all_pass_starts
from tests.traces import ms, read, scenario_with, trace_of


def starts_of(
    scenario: Scenario,
    reads: list[ReadRow],
    passes: list[tuple[int, int, int]] | None = None,
) -> list[float]:
    return [ms(at) for at in all_pass_starts(trace_of(scenario, reads, passes))]


def test_without_reads_passes_follow_each_other() -> None:
    assert starts_of(scenario_with("duration_s=0.005"), []) == [0, 1, 2, 3, 4]


def test_a_pass_that_reads_is_as_long_as_the_trace_says() -> None:
    pass_ = (ns_from_ms(2), ns_from_ms(3.3), 1)

    assert starts_of(scenario_with("duration_s=0.006"), [read(2, 0)], [pass_]) == [
        0,
        1,
        2,
        3.3,
        4.3,
        5.3,
    ]


def test_work_lengthens_its_pass() -> None:
    scenario = scenario_with(
        "duration_s=0.008", "receiver.work=[{every_ms=4, takes_ms=0.5, offset_ms=1.5}]"
    )

    assert starts_of(scenario, []) == [0, 1, 2, 3.5, 4.5, 5.5, 7]


def test_a_reset_starts_the_passes_again() -> None:
    scenario = scenario_with(
        "duration_s=0.006",
        "receiver.boot_s=0.002",
        "fault=[{at_s=0.0034, kind='reset', unit='receiver'}]",
    )

    assert starts_of(scenario, []) == [2, 3, 5.4]


def test_a_hang_delays_the_next_pass() -> None:
    scenario = scenario_with(
        "duration_s=0.006", "fault=[{at_s=0.0014, for_s=0.002, kind='hang', unit='receiver'}]"
    )

    assert starts_of(scenario, []) == [0, 1, 4, 5]


def test_reads_on_both_sides_of_a_hang_belong_to_one_pass() -> None:
    scenario = scenario_with(
        "duration_s=0.008",
        "receiver.interrupt=true",
        "fault=[{at_s=0.0014, for_s=0.002, kind='hang', unit='receiver'}]",
    )
    passes = [(ns_from_ms(1), ns_from_ms(2.1), 1), (ns_from_ms(1), ns_from_ms(4.2), 1)]

    starts = starts_of(scenario, [read(1.2, 0), read(3.6, 1)], passes)

    assert starts == pytest.approx([0, 1, 4.2, 5.2, 6.2, 7.2])


def test_reads_before_the_first_pass_delay_it_no_more_than_they_took() -> None:
    scenario = scenario_with("duration_s=0.004", "receiver.interrupt=true")
    pass_ = (-1, ns_from_ms(0.014), 1)

    assert starts_of(scenario, [read(0, 0)], [pass_]) == pytest.approx([0.014, 1.014, 2.014, 3.014])


def pulses(scenario: Scenario, reads: list[ReadRow]) -> OutputRecord:
    return run_vehicle(trace_of(scenario, reads)).outputs["track"]


def by_passes(scenario: Scenario, reads: list[ReadRow]) -> list[float]:
    """Widths of all pulses, us, by moving the level once in every pass."""
    output = scenario.output["track"]
    step = output.smoothing_us_per_pass * 1000
    trace, plan = trace_of(scenario, reads), make_plan(scenario, 0)
    told = pulses(scenario, reads).told
    entries = list(zip(*(told[name].tolist() for name in ("at_ns", "level", "kind")), strict=True))
    level = goal = float("nan")
    widths, passes = [], all_pass_starts(trace)
    for start in range(5 * NS_PER_MS, plan.until_ns, 20 * NS_PER_MS):
        while passes and passes[0] <= start:
            now = passes.pop(0)
            while entries and entries[0][0] <= now:
                _, goal, kind = entries.pop(0)
                holds = kind == FAILSAFE and output.on_failsafe == "hold"
                if level != level or not (kind == WRITTEN or holds):  # noqa: PLR0124 - NaN
                    level = goal
            level += min(max(goal - level, -step), step) if level == level else 0  # noqa: PLR0124
        widths.append(level)
    return widths


@examples(60)
@given(
    st.lists(st.integers(1, 130), max_size=8),
    st.sampled_from([0.5, 3.0, 7.3, 1000.0]),
    st.sampled_from(["'hold'", "'off'", "{preset_us=1500}"]),
    st.sampled_from(["'none'", "1200"]),
)
def test_a_pulse_is_where_single_passes_bring_it(
    gaps_ms: list[int], step_us: float, action: str, at_start: str
) -> None:
    scenario = scenario_with(
        f"output.track.smoothing_us_per_pass={step_us}",
        f"output.track.on_failsafe={action}",
        f"output.track.at_start={at_start}",
        "duration_s=0.6",
    )
    reads = [read(at, n) for n, at in enumerate(np.cumsum(gaps_ms).tolist()) if at < 600]

    record = pulses(scenario, reads)
    wanted = np.array(by_passes(scenario, reads))[: len(record.effects["level"])]

    assert np.allclose(record.effects["level"], wanted, atol=1.0, equal_nan=True)


def test_a_preset_goes_past_smoothing() -> None:
    scenario = scenario_with("output.track.smoothing_us_per_pass=0.1")

    assert pulses(scenario, [read(30, 0), read(120, 1)]).effects["level"][-1] == 1_500_000


def test_a_held_output_goes_on_towards_what_was_written() -> None:
    scenario = scenario_with(
        "output.track.smoothing_us_per_pass=1", "output.track.on_failsafe='hold'"
    )
    levels = pulses(scenario, [read(30, 0), read(120, 1)]).effects["level"] / 1000

    # From 1500 at 120 ms by 1 us a pass; failsafe comes on at 221 ms and jumps nowhere.
    live = levels[~np.isnan(levels)].tolist()
    assert max(b - a for a, b in pairwise(live)) <= 20
    assert live[-1] == 2000


def test_the_pass_that_writes_is_the_first_to_move() -> None:
    scenario = scenario_with("output.track.smoothing_us_per_pass=1")

    record = pulses(scenario, [read(30, 0), read(125, 1)])

    at_125 = record.effects["level"][record.effects["start_ns"] == 125 * NS_PER_MS]
    assert at_125.tolist() == [1_501_000]
