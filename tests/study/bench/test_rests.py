"""Steps name every setting that their closed forms are made of."""

import pytest
from hypothesis import HealthCheck, assume, given
from hypothesis import strategies as st

from radiosim.engine.plan import make_plan
from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, parse
from radiosim.study.bench.beat_steps import beat_chapter
from radiosim.study.bench.rests import Rest, defaults_text, rests_on
from radiosim.study.bench.step import Chapter
from radiosim.study.bench.timing_steps import timing_chapter
from tests.examples import examples
from tests.study.drill.scenarios import BASE, HEAD, TIMER, texts

CHANGES = (
    *("radio.profile=gfsk-2M", "radio.bit_rate=700000", "radio.settle_us=77"),
    *("radio.interrupt_us=5.5", "radio.preamble_bytes=3", "radio.control_bits=20"),
    *("radio.address_bytes=3", "radio.crc_bytes=1", "receiver.acknowledge_payload_bytes=3"),
    *("transmitter.drive.spi_hz=1234567", "transmitter.drive.spi_overhead_us=33"),
    *("transmitter.drive.retry_limit=2", "transmitter.drive.retry_delay_us=1250"),
    *("transmitter.drive.acknowledge=false", "transmitter.drive.period_ms=41"),
    *("transmitter.drive.jitter_ms=1.5", "transmitter.drive.clock_ppm=70"),
    *("transmitter.drive.clock=internal", "transmitter.drive.loop_ms=3"),
    *("transmitter.drive.pacing=elapsed", "transmitter.drive.prepare_us=800"),
)


def chapters_of(scenario: Scenario) -> list[Chapter]:
    beats = beat_chapter(scenario)
    return [timing_chapter(scenario, make_plan(scenario, 0)), *([beats] if beats else [])]


@given(text=texts(), change=st.sampled_from(CHANGES), first=st.sampled_from(("", *CHANGES)))
@examples(150, suppress_health_check=[HealthCheck.too_slow])
def test_what_changes_a_closed_form_stands_among_what_it_rests_on(
    text: str, change: str, first: str
) -> None:
    before = [first] if first else []
    try:
        chapters = chapters_of(parse(text, overrides=before))
        others = chapters_of(parse(text, overrides=[*before, change]))
    except ScenarioError:
        assume(False)
        return
    key = change.partition("=")[0]
    names = {key, key.replace(".drive.", ".NAME.")}
    for chapter, other in zip(chapters, others, strict=True):
        steps = {step.key: step for step in chapter.steps}
        for step in other.steps:
            if step.key in steps and step.cases != steps[step.key].cases:
                rests = {rest.key for rest in (*other.rests_on, *step.rests_on)}
                assert names & rests, (change, step.key)


def test_a_default_stands_apart_from_what_the_scenario_says() -> None:
    scenario = parse(BASE + TIMER + HEAD, overrides=["transmitter.drive.spi_hz=4e6"])
    rests = rests_on(scenario, "transmitter.NAME.spi_hz", "transmitter.NAME.period_ms")

    assert [rest.key for rest in rests if not rest.is_default] == [
        *("transmitter.drive.spi_hz", "transmitter.drive.period_ms", "transmitter.head.period_ms")
    ]
    assert defaults_text(rests) == "transmitter.head.spi_hz = 8_000_000"


def test_what_all_have_alike_is_said_once() -> None:
    rests = rests_on(parse(BASE + TIMER + HEAD), "transmitter.NAME.spi_hz")

    assert rests == (Rest(key="transmitter.NAME.spi_hz", value="8_000_000", is_default=True),)


@pytest.mark.parametrize(("more", "is_default"), [("", True), ("air.loss=0.1", False)])
def test_a_loss_that_nobody_said_is_a_default(more: str, is_default: bool) -> None:
    unsaid = (BASE + TIMER).replace("air.loss = 0.02\n", "")
    (rest,) = rests_on(parse(unsaid, overrides=[more] if more else []), "air.loss")

    assert rest.is_default is is_default
