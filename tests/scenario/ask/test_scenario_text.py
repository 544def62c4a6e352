""""""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario, parse
from radiosim.scenario.ask import VEHICLES, answered, count_of_guesses, scenario_text
from radiosim.scenario.ask._answers import CONTROL_BYTES
from radiosim.scenario.ask._questions import RATES, READS
from radiosim.scenario.complete import USUAL_GAP_MS, USUAL_LATENCY_MS, USUAL_WAIT_MS
from radiosim.scenario.structs.output_table import Preset
from tests.examples import examples

KINDS = tuple(CONTROL_BYTES)
NAMES = st.from_regex(r"[A-Za-z_][A-Za-z0-9_]{0,29}", fullmatch=True)


def scenario_with(**said: str) -> Scenario:
    return parse(scenario_text(answered({k.replace("_", "-"): v for k, v in said.items()})))


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("acknowledge", ["yes", "no"])
@pytest.mark.parametrize("read", READS)
def test_every_combination_of_words_makes_a_sound_scenario(
    rate: str, acknowledge: str, read: str
) -> None:
    vehicles = itertools.cycle(VEHICLES)
    for kind, failsafe in itertools.product(KINDS, ("250", "none", "head none")):
        made = scenario_with(
            rate=rate,
            acknowledge=acknowledge,
            reads=read,
            outputs=kind,
            drives=next(vehicles),
            failsafe_ms=failsafe,
        )
        assert made.radio.profile == RATES[rate]


@st.composite
def said(draw: st.DrawFn) -> dict[str, str]:
    """Answers to all questions, of any length and with any numbers that are allowed."""
    names = draw(
        st.lists(
            NAMES.filter(lambda n: n not in ("receiver", "air")),
            min_size=1,
            max_size=6,
            unique=True,
        )
    )
    controls = draw(st.lists(NAMES, min_size=len(names), max_size=16, unique=True))
    sent = {name: controls[at :: len(names)] for at, name in enumerate(names)}
    period = st.integers(4, 10_000).map(str)
    timeout = st.one_of(st.just("none"), st.floats(1, 60_000).map(repr))
    return {
        "drives": draw(st.sampled_from(list(VEHICLES))),
        "transmitters": "; ".join(f"{n}: {', '.join(c)}" for n, c in sent.items()),
        "every-ms": ", ".join(f"{name} {draw(period)}" for name in names),
        "acknowledge": draw(st.sampled_from(["yes", "no"])),
        "rate": draw(st.sampled_from(list(RATES))),
        "reads": f"{draw(st.sampled_from(READS))} {draw(st.integers(1, 100))}",
        "outputs": ", ".join(f"{c} {draw(st.sampled_from(KINDS))}" for c in controls),
        "idle-us": draw(st.sampled_from(["unknown", "1000", "1500", "1960.5", "2000", "800"])),
        "failsafe-ms": ", ".join(f"{name} {draw(timeout)}" for name in names),
        "boot-s": ", ".join(f"{name} {draw(st.floats(0, 30))!r}" for name in (*names, "receiver")),
    }


@given(said())
@examples(100)
def test_any_answers_make_a_sound_scenario_without_guessed_answers(answers: dict[str, str]) -> None:
    made = answered(answers)
    read_back = parse(scenario_text(made))

    assert made.given == {*answers}
    assert list(read_back.transmitter) == list(made.controls)
    assert {n: t.period_ms for n, t in read_back.transmitter.items()} == made.every_ms
    assert set(read_back.failsafe) == {n for n, ms in made.failsafe_ms.items() if ms is not None}


@given(said(), st.booleans())
@examples(100)
def test_nothing_that_drives_has_a_pulse_on_failsafe_that_nobody_said(
    answers: dict[str, str], is_said: bool
) -> None:
    if not is_said:
        del answers["idle-us"]
    made = answered(answers)
    read_back = parse(scenario_text(made))

    for control in made.driving():
        output, idle_us = read_back.output[control], made.idle_us[control]
        preset = output.on_failsafe
        pulse_us = preset.preset_us if isinstance(preset, Preset) else None
        has_failsafe = made.failsafe_ms[output.stream] is not None
        assert pulse_us == (idle_us if has_failsafe else None)
        if output.motor is not None:
            assert output.motor.idle_us == idle_us
            told = any(f"output.{control}" in line for line in read_back.assumed)
            assert told == (idle_us is None)
    assert not any("the motor runs on" in text for text in read_back.warnings)


@pytest.mark.slow
@given(said())
@examples(15)
def test_any_answers_make_a_scenario_that_runs(answers: dict[str, str]) -> None:
    text = scenario_text(answered(answers))
    first = next(iter(answered(answers).controls))
    made = parse(text, overrides=("duration_s=2", "fault[0].at_s=1"))

    summary = summarise(simulate(made, engine="reference"))

    assert summary.figures.stream[first].sampled >= 0
    assert len(summary.requirements) == len(made.requirement)


def test_a_guess_stands_above_what_nobody_said_and_nowhere_else() -> None:
    guessed = scenario_text(answered({})).splitlines()
    given_rate = scenario_text(answered({"rate": "1M"})).splitlines()

    at = guessed.index('profile = "gfsk-1M"')
    assert guessed[at - 1].startswith("# guess: to find out: the data rate")
    at = given_rate.index('profile = "gfsk-1M"')
    assert given_rate[at - 1] == "[radio]"


def test_guesses_are_counted() -> None:
    text = scenario_text(answered({}))

    assert count_of_guesses(text) == text.count("# guess:") - 1  # the head explains the mark
    assert count_of_guesses(scenario_text(answered({"rate": "1M"}))) == count_of_guesses(text) - 1


def test_the_retry_delay_has_its_step_number() -> None:
    assert "step 1 of the firmware (delay / 250 - 1)" in scenario_text(answered({}))


def test_the_bad_case_stands_where_nobody_knows() -> None:
    made = scenario_with()

    assert {unit.period_ms for unit in made.transmitter.values()} == {20}
    assert {unit.retry_delay_us for unit in made.transmitter.values()} == {500}
    assert {unit.jitter_ms for unit in made.transmitter.values()} == {0}
    assert made.receiver.read == "one"


def test_without_failsafe_the_scenario_says_it() -> None:
    text = scenario_text(answered({"failsafe-ms": "none"}))

    assert "# No [failsafe.drive]: when drive falls silent" in text
    assert not parse(text).failsafe


def test_the_fault_lasts_longer_than_any_timeout() -> None:
    assert scenario_with(failsafe_ms="60000").fault[0].for_s == 180
    assert scenario_with(failsafe_ms="250").fault[0].for_s == 5
    assert scenario_with().fault[0].unit == "drive"


def test_every_vehicle_has_its_caution_in_its_scenario() -> None:
    for drives, vehicle in VEHICLES.items():
        words = " ".join(scenario_text(answered({"drives": drives})).replace("#", "").split())
        assert vehicle.caution[1:] in words
        assert CAUTION in words


def test_no_line_is_too_wide() -> None:
    assert max(map(len, scenario_text(answered({})).splitlines())) <= 100


def asked_of(made: Scenario) -> dict[str, float | None]:
    return {requirement.figure: requirement.at_most for requirement in made.requirement}


def test_every_stream_is_asked_for_prompt_and_steady_values() -> None:
    asked = asked_of(scenario_with())

    for control in ("throttle", "steer", "pan", "tilt"):
        assert asked[f"output.{control}.latency_ms.p99"] == USUAL_LATENCY_MS
    for stream in ("drive", "head"):
        assert asked[f"stream.{stream}.gap_ms.p99"] == USUAL_WAIT_MS
        assert asked[f"stream.{stream}.failsafe.nuisance_trips"] == 0


def test_what_moves_nothing_is_not_asked_to_be_prompt() -> None:
    asked = asked_of(scenario_with(outputs="pan switch, tilt none"))

    assert "output.pan.latency_ms.p99" not in asked
    assert "stream.head.gap_ms.p99" not in asked
    assert "output.throttle.latency_ms.p99" in asked


def test_a_stream_that_nothing_stops_is_asked_not_to_starve() -> None:
    asked = asked_of(scenario_with(failsafe_ms="none"))

    assert asked["stream.head.gap_ms.max"] == USUAL_GAP_MS
    # The scenario's own fault makes the first one silent for seconds.
    assert "stream.drive.gap_ms.max" not in asked
