"""A transmitter that goes out of range between its frame and the acknowledgement does not hear
it."""

import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import parse
from radiosim.trace import ACK_FAINT, NEW, TAKEN

SCENARIO = """
duration_s = 0.5
radio.profile = "gfsk-1M"
air.loss = 0
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, clock_ppm = 0, offset_ms = 0 }
"""


@pytest.mark.parametrize("engine", ["reference", "fast"])
@pytest.mark.parametrize(("after_us", "fate"), [(60, ACK_FAINT), (160, ACK_FAINT), (260, TAKEN)])
def test_an_acknowledgement_to_a_transmitter_that_has_left_is_out_of_range(
    engine: str, after_us: int, fate: int
) -> None:
    calm = simulate(parse(SCENARIO), engine=engine).attempts  # type: ignore[arg-type]
    end_ns = int(calm["end_ns"][calm["end_ns"] > 300_000_000][0])
    # The acknowledgement is on the air from 130 to 203 us after the frame.
    at_s = (end_ns + 1_000 * after_us) / 1e9
    fault = f"fault=[{{at_s={at_s!r}, kind='out_of_range', unit='drive'}}]"
    trace = simulate(parse(SCENARIO, overrides=[fault]), engine=engine)  # type: ignore[arg-type]

    (attempt,) = trace.attempts[trace.attempts["end_ns"] == end_ns]
    assert attempt["fate"] == NEW
    (acknowledgement,) = trace.acknowledgements[
        trace.acknowledgements["frame"] == attempt["frame"]
    ][:1]
    assert acknowledgement["fate"] == fate
