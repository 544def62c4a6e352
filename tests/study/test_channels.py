"""Which channels stay clear, against the simulation and by hand."""

import math

import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.simulate import simulate
from radiosim.scenario import load, parse
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.channels import best_channel, channels, met
from radiosim.trace import COLLISION

SCENARIO = """
duration_s = 200
radio.profile = "gfsk-1M"
radio.channel = 40
transmitter.drive = { period_ms = 7, payload_bytes = 12, acknowledge = false }
air.range = { distance_m = 10, path = "free-space" }
receiver.read = "all"
"""


def test_what_meets_an_attempt_is_as_often_as_facts_say() -> None:
    bursts = '{ kind = "bursts", channel_mhz = 2440, burst_ms = 1, duty = 0.2 }'
    grid = '{ kind = "transmitter", channel_mhz = 2440, period_ms = 10, acknowledge = false }'
    (random,) = make_plan(parse(SCENARIO, overrides=[f"interferer.a={bursts}"]), 0).rx.emitter
    (frames,) = make_plan(parse(SCENARIO, overrides=[f"interferer.a={grid}"]), 0).rx.emitter

    # A duty of 0.2 of bursts of 1 ms is −ln 0.8 of them a ms.
    rate = -math.log(0.8)
    assert met(random, 160_000) == pytest.approx(1 - math.exp(-rate * 1.16))
    assert met(frames, 160_000) == pytest.approx((0.160 + 0.329) / 10)


@pytest.mark.parametrize(
    "keys",
    [
        'kind = "bursts", channel_mhz = 2440, width_mhz = 1, burst_ms = 1, duty = 0.2',
        'kind = "bursts", channel_mhz = 2437, burst_ms = 1, duty = 0.2',
        'kind = "transmitter", channel_mhz = 2440, period_ms = 10',
    ],
)
def test_the_closed_form_is_what_a_run_shows(keys: str) -> None:
    given = parse(SCENARIO, overrides=[f"interferer.a={{ {keys}, power_dbm_at_receiver = -50 }}"])
    own = next(channel for channel in channels(given) if channel.number == 40)
    fates = simulate(given).attempts["fate"]

    # Five standard errors of 28,000 attempts, thrice as wide because neighbours' frames are on
    # a grid, and 8 % for overlaps too short to do harm, which the closed form counts.
    share = (fates == COLLISION).mean()
    error = 3 * 5 * (share * (1 - share) / len(fates)) ** 0.5
    assert own.lost["drive"] == pytest.approx(share, abs=error + 0.08 * share)


def test_the_best_channel_is_clear_of_all_and_inside_the_band() -> None:
    shipped = shipped_scenario("club-meet")
    assert shipped is not None
    given = load(shipped.path)
    found = {channel.number: channel for channel in channels(given)}

    assert set(found) == set(range(1, 83))
    best = best_channel(given)
    assert found[best].worst < 1e-6
    assert found[40].worst > 0.2
    # The network is 20 MHz wide around 2437.
    assert all(found[number].worst > 0.05 for number in range(29, 46))


def test_what_noise_alone_spoils_is_no_interferers_doing() -> None:
    """Far beyond reach nothing arrives anyway: a burst far below the noise takes nothing."""
    faint = '{ kind = "bursts", channel_mhz = 2440, duty = 0.3, power_dbm_at_receiver = -150 }'
    far = parse(SCENARIO, overrides=["air.range.distance_m=5000", f"interferer.a={faint}"])

    assert all(channel.worst < 1e-4 for channel in channels(far))
