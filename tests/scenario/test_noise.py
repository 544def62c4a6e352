"""Where noise that passes for frames is simulated, and what a drill says of it."""

from radiosim.scenario import Scenario, parse
from radiosim.scenario.noise import noise_notes, noise_per_hour

LINK = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 8 }
failsafe.drive = { timeout_ms = 250 }
"""


def with_keys(*overrides: str) -> Scenario:
    return parse(LINK, overrides=overrides)


def test_the_usual_link_knows_no_noise() -> None:
    assert noise_per_hour(with_keys()) is None
    assert list(noise_notes(with_keys())) == []
    assert not any("noise" in line for line in with_keys().assumed)


def test_short_addresses_and_crc_are_told_with_their_rate() -> None:
    short = with_keys("radio.address_bytes=3", "radio.crc_bytes=1")

    (note,) = noise_notes(short)
    assert "0.838 times an hour" in note
    assert any("noise passes for frames" in line for line in short.assumed)
    assert list(noise_notes(with_keys("radio.address_bytes=3", "failsafe={}"))) == []


def test_more_addresses_can_make_noise_likely() -> None:
    # 0.8 in 1,000 h each: alone that is too rare, three together are not.
    alone = ("radio.profile=gfsk-250k", "radio.address_bytes=3")
    more = (
        "transmitter.head={period_ms=20, payload_bytes=8}",
        "transmitter.tilt={period_ms=20, payload_bytes=8}",
    )

    assert noise_per_hour(with_keys(*alone)) is None
    found = noise_per_hour(with_keys(*alone, *more))
    assert found is not None
    assert 1e-3 / 3 < found < 1e-3


def test_the_key_has_the_last_word() -> None:
    assert noise_per_hour(with_keys("radio.noise_frames=true")) is not None
    off = with_keys("radio.address_bytes=3", "radio.crc_bytes=1", "radio.noise_frames=false")
    assert noise_per_hour(off) is None
