"""When a figure is better, when it is fine, and when a stream is worse off."""

import re

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.findings.air_findings import loss_bursts
from radiosim.findings.case import Better, case_of
from radiosim.findings.rules import broken, is_better, is_fine, sampling_ms, worse_off
from radiosim.measure.summary import Summary
from radiosim.scenario import Scenario, parse
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.findings.cases import BASE, scenario_with

SCENARIO = scenario_with("starts=1", "duration_s=5")
RUN = simulate_starts(SCENARIO, workers=1)
GAP = "stream.drive.gap_ms.max"


def asking(figure: str, limit: str) -> Scenario:
    return scenario_with(f"requirement=[{{figure='{figure}', {limit}}}]")


def with_drive(**changes: object) -> Summary:
    figures = RUN.figures
    drive = msgspec.structs.replace(figures.stream["drive"], **changes)
    figures = msgspec.structs.replace(figures, stream={**figures.stream, "drive": drive})
    return msgspec.structs.replace(RUN, figures=figures)


def with_gap(longest_ms: float) -> Summary:
    return with_drive(
        gap_ms=msgspec.structs.replace(RUN.figures.stream["drive"].gap_ms, max=longest_ms)
    )


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from(["less", "more"]))
def test_what_is_better_one_way_is_not_better_the_other(
    one: float, other: float, better: Better
) -> None:
    assert not (is_better(one, other, better, 1.0) and is_better(other, one, better, 1.0))


def test_what_came_at_last_is_better_and_what_never_came_is_not() -> None:
    assert is_better(None, 250.0, "less", 0.0)
    assert not is_better(None, None, "less", 0.0)
    assert not is_better(250.0, None, "less", 1.0)


@pytest.mark.parametrize(
    ("figure", "fine", "bad"),
    [
        (GAP, 125.0, 125.1),  # half of 250 ms
        ("stream.drive.delivery_ratio", 0.9, 0.89),
        ("stream.drive.latency_ms.p99", 39.0, 41.0),  # two periods of 20 ms
        ("stream.drive.failsafe.nuisance_trips", 0, 1),
        ("stream.drive.lost_collision", 2, 4),  # 1 % of some 255 attempts
    ],
)
def test_without_a_requirement_a_rule_says_what_is_fine(
    figure: str, fine: float, bad: float
) -> None:
    assert is_fine(SCENARIO, RUN, figure, fine)
    assert not is_fine(SCENARIO, RUN, figure, bad)


def test_a_requirement_says_what_is_fine_before_any_rule() -> None:
    assert is_fine(asking(GAP, "at_most=900"), RUN, GAP, 800.0)
    assert not is_fine(asking(GAP, "at_most=30"), RUN, GAP, 31.0)
    ratio = "stream.drive.delivery_ratio"
    assert not is_fine(asking(ratio, "at_least=0.99"), RUN, ratio, 0.98)


def test_what_no_rule_knows_is_never_fine() -> None:
    assert not is_fine(SCENARIO, RUN, "fault.reaction_ms", 1.0)
    assert not is_fine(SCENARIO, RUN, "stream.drive.duty_cycle", 0.0)
    assert not is_fine(SCENARIO, RUN, GAP, None)


def test_a_gap_is_worse_beyond_noise_only_where_it_is_not_fine() -> None:
    for longest_ms, is_worse in ((124.0, False), (126.0, True)):
        found = list(worse_off(SCENARIO, [RUN], [with_gap(longest_ms)]))
        assert found == ([GAP] if is_worse else [])
    # A quarter more than what was bad before is noise.
    assert not list(worse_off(SCENARIO, [with_gap(400.0)], [with_gap(499.0)]))
    assert list(worse_off(SCENARIO, [with_gap(400.0)], [with_gap(501.0)])) == [GAP]


def test_fewer_samples_read_and_more_trips_are_worse() -> None:
    drive = RUN.figures.stream["drive"]
    assert drive.failsafe is not None
    few = with_drive(read=drive.read // 2, update_rate_hz=drive.update_rate_hz / 2)
    trips = with_drive(failsafe=msgspec.structs.replace(drive.failsafe, nuisance_trips=2))

    assert list(worse_off(SCENARIO, [RUN], [few])) == ["stream.drive.delivery_ratio"]
    assert list(worse_off(SCENARIO, [RUN], [trips])) == ["stream.drive.failsafe.nuisance_trips"]
    assert not list(worse_off(SCENARIO, [few], [RUN]))


def test_an_output_that_is_given_fewer_values_is_worse() -> None:
    motor = RUN.figures.output["motor"]
    still = msgspec.structs.replace(motor, update_rate_hz=motor.update_rate_hz / 2)
    figures = msgspec.structs.replace(RUN.figures, output={**RUN.figures.output, "motor": still})
    after = msgspec.structs.replace(RUN, figures=figures)

    assert list(worse_off(SCENARIO, [RUN], [after])) == ["output.motor.update_rate_hz"]


def test_a_requirement_that_held_must_hold() -> None:
    asked = asking(GAP, "at_most=100")
    run = simulate_starts(asked, count=1, workers=1)
    (held,) = run.requirements
    failed = msgspec.structs.replace(run, requirements=(msgspec.structs.replace(held, ok=False),))

    assert list(broken(run, failed)) == [GAP]
    assert list(broken(failed, run)) == []


PACED = (
    "period_ms = 20",
    "period_ms = 20\npacing = 'elapsed'",
    "pacing = 'after_send'\npause_ms = 19",
)


@given(st.floats(0, 4), st.sampled_from(PACED), st.integers(0, 99))
@examples(12)
def test_the_sampling_period_does_not_grow_with_the_boot(
    boot_s: float, paced: str, seed: int
) -> None:
    text = BASE.replace("period_ms = 20\njitter_ms = 0.3", paced)
    lines = ("duration_s=5", f"seed={seed}", f"transmitter.drive.boot_s={boot_s:.3f}")
    booted = parse(text, overrides=lines)
    found_ms = sampling_ms(booted, simulate_starts(booted, count=1, workers=1), "drive")

    assert paced in text
    assert found_ms == pytest.approx(20, rel=0.05)


@given(st.floats(0, 0.3), st.floats(0, 0.9), st.floats(1, 300), st.integers(0, 99))
@examples(10)
def test_no_finding_says_more_of_losses_than_was_counted(
    good: float, bad: float, bad_ms: float, seed: int
) -> None:
    """Where losses lie, in bursts or between them, nobody counts: the numbers are those of the
    run and of the scenario, and no share of them is told."""
    burst = f"air.burst={{good_ms=900, bad_ms={bad_ms:g}, loss_good={good:g}, loss_bad={bad:g}}}"
    scenario = scenario_with("duration_s=5", f"seed={seed}", burst)
    run = simulate_starts(scenario, count=1, workers=1)
    for suspect in loss_bursts(case_of(scenario, run, "auto", None)):
        stream = run.figures.stream[suspect.figure.split(".")[1]]
        numbers = re.findall(r"[0-9.]+", suspect.why)

        assert not re.search(r"\bmost\b|\bmostly\b|%", suspect.why)
        assert numbers == [
            *(str(stream.lost_chance), str(stream.attempts)),
            *(f"{bad_ms:g}", f"{stream.gap_ms.max:.0f}"),
        ]
