"""The band and its channels."""

import msgspec

from radiosim.radio.band import channel_mhz, inside, is_inside, network_centre_mhz
from radiosim.radio.profiles import PROFILES


def test_channels_that_stay_inside_have_no_gap() -> None:
    for profile in PROFILES.values():
        channels = inside(profile)
        assert channels == tuple(range(channels[0], channels[-1] + 1))


def test_a_worse_clock_leaves_fewer_channels() -> None:
    profile = PROFILES["gfsk-1M"]

    assert set(inside(profile, 500.0)) < set(inside(profile))


def test_a_signal_wider_than_the_band_has_no_channel() -> None:
    wide = msgspec.structs.replace(PROFILES["gfsk-2M"], bandwidth_mhz=90.0)

    assert inside(wide) == ()
    assert not is_inside(40, wide)


def test_a_network_covers_channels_of_the_radio() -> None:
    # Channel 11 of a network lies at 2462 MHz.
    assert network_centre_mhz(11) == channel_mhz(62)
