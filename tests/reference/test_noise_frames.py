"""How often noise passes for a frame, and what it says."""

import numpy as np
import pytest
from scipy import stats

from radiosim.engine.rules.noise import noise_number
from radiosim.radio.noise_frames import noise_frames_per_hour
from radiosim.scenario import parse
from radiosim.scenario.noise import noise_per_hour
from radiosim.trace import FIRST_NOISE, Table
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, check, outside
from tests.reference.runs import run
from tests.reference.sources import FACTS

HOURS = 20


def silent(radio: str, keys: str = "acknowledge = false", hours: float = HOURS) -> str:
    """A receiver that listens, and a transmitter that is never switched on."""
    return f"""
duration_s = {3600 * hours}
{radio}
radio.noise_frames = true
[transmitter.drive]
period_ms = 20
payload_bytes = 8
start_s = {3600 * hours - 0.5}
{keys}
"""


def noise(reads: Table) -> Table:
    found: Table = reads[reads["frame"] <= FIRST_NOISE]
    return found


@outside("frames out of noise an hour", source=FACTS.at("15"), status=DERIVED, unit="an hour")
@pytest.mark.parametrize(
    ("bit_rate", "address_bytes", "crc_bytes", "per_hour"),
    [
        (1_000_000, 3, 0, 214.577),
        (1_000_000, 3, 1, 0.838190),
        (1_000_000, 3, 2, 3.27418e-3),
        (2_000_000, 5, 2, 9.99201e-8),
        (250_000, 4, 0, 0.209548),
    ],
)
def test_random_bits_pass_for_a_frame_as_often_as_its_bits_are_guessed(
    bit_rate: int, address_bytes: int, crc_bytes: int, per_hour: float
) -> None:
    found = noise_frames_per_hour(bit_rate, address_bytes, crc_bytes)

    check.near(found, per_hour, within=1e-5 * per_hour)


@outside(
    "frames out of noise read, of a silent link",
    source=FACTS.at("15"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="frames",
)
@pytest.mark.parametrize(
    ("profile", "crc_bytes", "hours", "keys"),
    [
        ("gfsk-1M", 0, HOURS, "acknowledge = false"),
        ("gfsk-2M", 0, HOURS, "acknowledge = false"),
        ("gfsk-1M", 1, 1000, "acknowledge = 'flag'"),
    ],
)
def test_a_receiver_that_hears_nothing_reads_noise_at_the_rate_of_the_closed_form(
    profile: str, crc_bytes: int, hours: float, keys: str
) -> None:
    radio = f'radio.profile = "{profile}"\nradio.address_bytes = 3\nradio.crc_bytes = {crc_bytes}'
    trace = run(silent(radio, keys, hours))

    bit_rate = 1_000_000 if profile == "gfsk-1M" else 2_000_000
    per_hour = 3600 * bit_rate / 256 ** (3 + crc_bytes)
    # Of a frame that wants no acknowledgement the receiver's radio misses nothing; of one that
    # noise makes it acknowledges half, in a blink.
    check.events(len(noise(trace.reads)), per_hour * hours)


@outside(
    "acknowledgements of frames out of noise: their no-acknowledge flag is as random",
    source=FACTS.at("15"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="share",
)
def test_half_of_all_noise_is_acknowledged() -> None:
    radio = 'radio.profile = "gfsk-2M"\nradio.address_bytes = 3\nradio.crc_bytes = 1'
    trace = run(silent(radio, "acknowledge = true", 1000))

    check.share(len(trace.acknowledgements), len(noise(trace.reads)), 0.5)
    assert (trace.acknowledgements["takers"] == 0).all()


@outside(
    "frames out of noise read beside a stream of frames every 1 ms",
    source=FACTS.at("15"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="frames",
)
@pytest.mark.slow
def test_a_link_that_is_up_leaves_noise_the_time_between_its_frames() -> None:
    seconds, rate = 1200, 100_000_000
    trace = run(f"""
duration_s = {seconds}
radio.profile = "gfsk-1M"
radio.bit_rate = {rate}
radio.address_bytes = 3
radio.crc_bytes = 0
radio.preamble_bytes = 32
radio.power_on_reset_ms = 0
radio.crystal_start_us = 0
air.loss = 0
receiver = {{ boot_s = 0, read = "all", loop_ms = 0.05, clock_ppm = 0 }}
[transmitter.drive]
boot_s = 0
period_ms = 1
payload_length = 32
acknowledge = false
clock_ppm = 0
payload_bytes = 32
""")

    # Any part of a frame on the air ends the noise: 67 bytes, and the 35 of the noise itself.
    taken = (67 + 35) * 8 / rate / 1e-3
    check.events(len(noise(trace.reads)), seconds * rate / 2**24 * (1 - taken))


@outside(
    "bits of the fields of frames out of noise: as often 1 as 0",
    source=FACTS.at("15"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="share",
)
@pytest.mark.parametrize(("bits", "signed"), [(8, 0), (3, 0), (16, 1), (48, 0)])
def test_noise_says_each_number_as_often(bits: int, signed: int) -> None:
    count = 4000
    found = [noise_number(FIRST_NOISE - k, bits, signed, 0, 0.0, 7, 9) for k in range(count)]

    low = -(2.0 ** (bits - 1)) if signed else 0.0
    shares = (np.array(found) - low) / 2.0**bits
    assert ((shares >= 0) & (shares < 1)).all()
    check.share(int((shares >= 0.5).sum()), count, 0.5)
    assert stats.kstest(shares, "uniform").pvalue > CHANCE_OF_FAILURE or bits < 8


@outside(
    "shares of random 32-bit floats by their exponent",
    source=FACTS.at("15"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
    unit="share",
)
def test_a_random_float_is_tiny_or_huge() -> None:
    count = 4000
    found = np.array([noise_number(FIRST_NOISE - k, 32, 0, 32, 0.0, 1, 2) for k in range(count)])

    # Exponents 0 to 126 of 256 are below 1, and what is no number is at rest.
    check.share(int((np.abs(found) < 1).sum()), count, 128 / 256)
    assert np.isfinite(found).all()


def test_noise_is_simulated_by_default_where_it_comes_once_in_1000_hours() -> None:
    def found(radio: str, keys: str) -> float | None:
        return noise_per_hour(parse(silent(radio, keys).replace("radio.noise_frames = true\n", "")))

    short = 'radio.profile = "gfsk-1M"\nradio.address_bytes = 3\nradio.crc_bytes = '
    assert found(f"{short}0", "acknowledge = false") == pytest.approx(214.577, rel=1e-5)
    assert found(f"{short}2", "acknowledge = true") == pytest.approx(3.27418e-3, rel=1e-5)
    usual = 'radio.profile = "gfsk-2M"\nradio.crc_bytes = '
    assert found(f"{usual}0", "acknowledge = false") == pytest.approx(6.54836e-3, rel=1e-5)
    assert found(f"{usual}1", "acknowledge = true") is None
    assert found(f"{usual}2", "acknowledge = true") is None
