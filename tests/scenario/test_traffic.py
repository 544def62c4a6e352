""""""

from radiosim.scenario import parse
from radiosim.scenario.traffic import retries

LINK = """
radio.profile = "gfsk-1M"
transmitter.a = { period_ms = 20, payload_bytes = 6, retry_delay_us = 750, retry_limit = 5 }
transmitter.b = { period_ms = 20, payload_bytes = 6, retry_delay_us = 600, retry_limit = 1 }
transmitter.c = { period_ms = 20, payload_bytes = 6, retry_limit = 0 }
transmitter.d = { period_ms = 20, payload_bytes = 6, acknowledge = "flag" }
"""


def test_each_delay_stands_with_its_step_number() -> None:
    assert retries(parse(LINK)) == (
        ("a", "5, 750 us (step 2) after each attempt"),
        ("b", "1, 600 us (no step) after the first attempt"),
        ("c", "none"),
        ("d", "none"),
    )
