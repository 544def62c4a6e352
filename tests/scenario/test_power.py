from hypothesis import given
from hypothesis import strategies as st

from radiosim.safety import LOCAL_RULES
from radiosim.scenario import parse
from radiosim.scenario.changed import changed
from radiosim.scenario.power import caution_of_change, raised_dbm
from tests.examples import examples

TWO = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6, power_dbm = -6 }
transmitter.head = { period_ms = 23, payload_bytes = 4 }
"""
PATHS = ("transmitter.drive.power_dbm", "transmitter.head.power_dbm", "receiver.power_dbm")


@examples(50)
@given(st.dictionaries(st.sampled_from(PATHS), st.integers(-30, 30)))
def test_a_change_has_a_caution_if_and_only_if_it_raises_power(asked: dict[str, int]) -> None:
    before = parse(TWO)
    after = changed(before, [f"{path}={power}" for path, power in asked.items()])
    was = dict(zip(PATHS, (-6, 0, 0), strict=True))

    louder = {path: power for path, power in asked.items() if power > was[path]}
    said = caution_of_change(before, after)

    assert raised_dbm(before, after) == louder
    assert bool(said) == bool(louder)
    for path, power in louder.items():
        assert f"{path} to {power} dBm" in said
        assert LOCAL_RULES in said
        assert "2400 to 2483.5 MHz" in said
