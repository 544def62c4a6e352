"""The radio of a scenario: a profile, or figures of its own."""

import json

import msgspec
import pytest

from radiosim.errors import ScenarioError
from radiosim.radio.profiles import PROFILES
from radiosim.scenario import parse

SCENARIO = """
radio.profile = "gfsk-250k"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
"""


@pytest.mark.parametrize("name", PROFILES)
def test_a_whole_radio_can_be_written_in_the_scenario(name: str) -> None:
    figures = {k: v for k, v in msgspec.structs.asdict(PROFILES[name]).items() if k != "name"}
    keys = tuple(f"radio.{key}={json.dumps(value)}" for key, value in figures.items())

    profile = parse(SCENARIO, overrides=keys).profile()

    assert msgspec.structs.replace(profile, name=name) == PROFILES[name]


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("radio.transmit_ma=[]", "must be a list"),
        ("radio.transmit_ma=[[0, -1]]", "must be a number >= 0 and <= 1000000, got -1"),
        ("radio.rejection_db=[[0, 8]]", "must be a number >= 0.001 and <= 1000, got 0"),
        ("radio.rejection_db=[[1, 1e9]]", "must be a number >= -200 and <= 100, got"),
        ("radio.cochannel_db=1e9", "must be a number >= 0 and <= 100, got"),
        ("radio.bandwidth_mhz=0", "must be a number >= 0.001 and <= 1000, got 0"),
        ("radio.receive_ma=nan", "must be a number >= 0 and <= 1000000, got nan"),
    ],
)
def test_impossible_figures_are_refused(key: str, said: str) -> None:
    with pytest.raises(ScenarioError, match=said):
        parse(SCENARIO, overrides=(key,))


def test_a_wider_signal_has_fewer_channels() -> None:
    wide = parse(SCENARIO, overrides=("radio.channel=2", "radio.bandwidth_mhz=6"))
    wider = parse(SCENARIO, overrides=("radio.channel=2", "radio.bandwidth_mhz=90"))

    assert any("4 to 80 stay inside" in warning for warning in wide.warnings)
    assert any("none stays inside" in warning for warning in wider.warnings)
