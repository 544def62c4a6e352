import pytest

from radiosim.engine.simulate import simulate
from radiosim.findings import find
from radiosim.measure import summarise
from radiosim.measure.summary import Finding
from radiosim.scenario import parse

SCENE = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
receiver = { pass_ms = 1, clock_ppm = 0 }
"""


def found(*overrides: str) -> tuple[Finding, ...]:
    scene = parse(SCENE, overrides=overrides)
    return find(scene, summarise(simulate(scene, engine="reference")))


def test_a_pass_shorter_than_the_timeout_is_no_finding() -> None:
    assert found() == ()


@pytest.mark.parametrize("more", [(), ("output.drive={ stream = 'drive', field = 'value' }",)])
def test_the_proof_is_the_pass_and_the_timeout(more: tuple[str, ...]) -> None:
    (finding,) = found("receiver.delay_ms=299", *more)

    assert finding.where == "failsafe.drive.timeout_ms"
    assert finding.what.startswith("this failsafe cannot work: the longest pass takes 300 ms")
    # 300 ms of pass, and 7 bytes at 8 MHz with 10 us of overhead for the one frame it reads.
    assert finding.proof == {"before": 300.017, "after": 250.0}
    assert "delay_ms" in finding.cure


def test_a_pass_without_end_has_no_length_to_show() -> None:
    (finding,) = found(
        "receiver.interrupt=true",
        "receiver.spi_overhead_us=500",
        "transmitter.drive.spi_hz=1000000",
    )

    assert finding.proof == {"after": 250.0}
