"""A step that needs a counter names the field that counts, or what to add."""

import re

import pytest
from hypothesis import HealthCheck, given

from radiosim.scenario import parse
from radiosim.signals import Counter
from radiosim.study.bench import bench_test_sheet
from radiosim.study.bench.counters import counter_settings, counters_text
from tests.examples import examples
from tests.study.drill.scenarios import BASE, HEAD, TIMER, texts


def counting(text: str, *overrides: str) -> dict[str, list[str]]:
    """Fields that count, by stream."""
    return {
        name: [field for field, signal in unit.signals.items() if isinstance(signal, Counter)]
        for name, unit in parse(text, overrides=overrides).transmitter.items()
    }


@given(text=texts())
@examples(200)
def test_each_stream_has_its_counter_named_or_the_lines_that_give_it_one(text: str) -> None:
    said = counters_text(parse(text))
    lines = counter_settings(parse(text))

    for stream, fields in counting(text).items():
        if fields:
            assert f"{fields[0]} of {stream}" in said.partition("Counters: ")[2]
        else:
            assert f"{stream} has no counter: " in said
    for stream, fields in counting(text, *lines).items():
        assert fields or f"let the firmware of {stream} send one more in each frame" in said


@pytest.mark.slow
@given(text=texts())
@examples(10, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_no_step_promises_more_than_it_rests_on_nor_parts_a_board(text: str) -> None:
    scenario = parse(text)
    sheet = bench_test_sheet(scenario, starts=2, minutes=0.02, workers=1)
    counters = counters_text(scenario)

    for chapter in sheet.chapters:
        assert "counter" not in chapter.how or "as under 'Frames read'" in chapter.how
        for step in chapter.steps:
            said = f"{step.do} {step.measure}"
            assert "always" not in f"{said} {chapter.how} {step.if_not}"
            assert chapter.rests_on or step.rests_on
            assert "counter" not in said or counters in said
            assert ("below" in counters and step.key == "reads") == bool(step.settings)
            if re.search(
                r"(?i)(radio|processor|microcontroller)[^.]*supply|supply of its radio", said
            ):
                assert "one board" in said


def test_the_frame_alone_says_how_it_is_measured() -> None:
    sheet = bench_test_sheet(parse(BASE + TIMER + HEAD), starts=2, minutes=0.02, workers=1)
    (step,) = (step for step in sheet.steps if step.key == "on_air")

    for case in step.cases:
        (frame,) = (found for found in case.predicted if found.what == "of it the frame")
        assert "start to interrupt, less 130 us of settling" in frame.text
