"""Rates count from when both ends of a stream are first up, so that no boot dilutes them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.measure.summarise import summarise
from radiosim.scenario import parse
from tests.examples import examples

LINK = """
radio.profile = "gfsk-1M"
air.loss = 0
transmitter.drive = {{ period_ms = {period}, payload_bytes = 4, boot_s = {boot}, start_s = {start}, clock_ppm = 0 }}
receiver = {{ read = "all", boot_s = {receiver_boot}, clock_ppm = 0 }}
duration_s = {duration}
"""  # noqa: E501 - an inline table


@examples(60, deadline=None)
@given(
    period=st.floats(5, 60).map(lambda ms: round(ms, 3)),
    boot=st.sampled_from((0, 0.3, 1.0, 4.0)),
    receiver_boot=st.sampled_from((0, 0.3, 1.0, 4.0)),
    start=st.sampled_from((0, 0, 2.5)),
    more_s=st.floats(0.5, 20),
    engine=st.sampled_from(("fast", "fast", "fast", "reference")),
)
def test_an_undisturbed_stream_has_one_frame_a_period_whatever_the_boots(
    period: float, boot: float, receiver_boot: float, start: float, more_s: float, engine: str
) -> None:
    up_s = max(start + boot, receiver_boot)
    scenario = parse(
        LINK.format(
            period=period,
            boot=boot,
            start=start,
            receiver_boot=receiver_boot,
            duration=up_s + more_s,
        )
    )
    found = summarise(simulate(scenario, engine=engine)).figures  # type: ignore[arg-type]
    drive = found.stream["drive"]

    # One frame may be sampled before the end and read after it, and one falls to the phase.
    assert drive.update_rate_hz * more_s == pytest.approx(1000 * more_s / period, abs=1.3)


def test_a_start_that_ends_before_the_boot_has_no_frames_a_second() -> None:
    text = LINK.format(period=20, boot=1, start=0, receiver_boot=4, duration=2)
    found = summarise(simulate(parse(text))).figures

    assert found.stream["drive"].update_rate_hz == 0
    assert next(iter(found.output.values())).update_rate_hz == 0
