"""Which channels stay clear, against the simulation and by hand."""

import pytest

from radiosim.engine.simulate import simulate
from radiosim.scenario import load, parse
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.channels import best_channel, channels
from radiosim.trace import COLLISION

SCENARIO = """
duration_s = 200
radio.profile = "gfsk-1M"
radio.channel = 40
transmitter.drive = { period_ms = 7, payload_bytes = 12, acknowledge = false }
air.range = { distance_m = 10, path = "free-space" }
receiver.read = "all"
"""


@pytest.mark.parametrize(
    "keys",
    [
        'kind = "bursts", channel_mhz = 2440, width_mhz = 1, burst_ms = 1, duty = 0.2',
        'kind = "bursts", channel_mhz = 2437, burst_ms = 1, duty = 0.2',
        'kind = "bursts", channel_mhz = 2440, width_mhz = 1, burst_ms = 0.03, duty = 0.5',
        'kind = "transmitter", channel_mhz = 2440, period_ms = 10',
    ],
)
@pytest.mark.parametrize("dbm", [-50, -69])
def test_the_closed_form_is_what_a_run_shows(keys: str, dbm: int) -> None:
    given = parse(SCENARIO, overrides=[f"interferer.a={{ {keys}, power_dbm_at_receiver = {dbm} }}"])
    own = next(channel for channel in channels(given) if channel.number == 40)
    fates = simulate(given).attempts["fate"]

    # Five standard errors of 28,000 attempts; of those beside a grid, which come in rows, thrice.
    share = (fates == COLLISION).mean()
    error = (15 if "transmitter" in keys else 5) * (share * (1 - share) / len(fates)) ** 0.5
    assert own.lost["drive"] == pytest.approx(share, abs=error + 1e-9)


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
