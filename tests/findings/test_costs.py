"""A figure that a run shows and that a cure makes worse is told."""

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from radiosim.findings.costs import costs, shown_paths
from radiosim.measure.summary import Summary, Worst
from radiosim.registers.figure import LOW
from radiosim.registers.figure_register import figure_at
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.findings.cases import run_of, scenario_with

RUN = simulate_starts(scenario_with("starts=2", "duration_s=3"), workers=1)
PATHS = tuple(shown_paths(RUN))


def with_worst(path: str, value: float) -> Summary:
    found = Worst(value=value, start=0)
    return msgspec.structs.replace(RUN, worst={**RUN.worst, path: found})


@given(st.sampled_from(PATHS), st.floats(0.1, 4))
@examples(200)
def test_what_is_worse_beyond_sampling_is_a_cost_and_nothing_else(path: str, times: float) -> None:
    at = figure_at(path)
    assert at is not None
    noise = {"max": 0.25, "p99": 0.1}.get(path.rpartition(".")[2], 0.05)
    is_worse = times < 1 - noise if at[0].worse == LOW else times > 1 + noise

    found = list(costs(with_worst(path, 10.0), with_worst(path, 10.0 * times)))
    assert found == ([path] if is_worse else [])


def test_every_shown_figure_is_one_of_the_results() -> None:
    assert len(PATHS) == len(set(PATHS)) == 2 * 8 + 2 * 5
    assert all(figure_at(path) is not None for path in PATHS)


def test_a_slower_profile_says_what_it_costs() -> None:
    run = run_of("air.range={distance_m=120, path='free-space', fading='rician'}")

    assert run.cure is not None
    assert "radio.profile=gfsk-250k" in run.cure.set
    assert "stream.drive.duty_cycle" in run.cure.worse
    told = {effect.figure: (effect.before, effect.after) for effect in run.cure.effects}
    before, after = told["stream.drive.duty_cycle"]
    assert before is not None
    assert after is not None
    assert after > before


def test_a_cure_that_costs_nothing_says_none() -> None:
    run = run_of("receiver.delay_ms=60")

    assert run.cure is not None
    assert run.cure.set == ("receiver.delay_ms=0",)
    assert run.cure.worse == ()
