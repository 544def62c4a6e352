"""Acknowledgements: who sends them, who hears them, and how long they may be.

Source: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification" v1.0, 2008
(PS); the preliminary specification of 2005/06 (PS1).
"""

import numpy as np
import pytest

from radiosim.errors import ScenarioError
from radiosim.scenario import parse
from radiosim.trace import ACKNOWLEDGED, DEAF, RETRIES_USED_UP, SENT, TAKEN, UNHEARD
from tests.reference.outside import DERIVED, MEMORY, SEEN, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, one_transmitter, run
from tests.reference.sources import FACTS, PS, PS1

RATES_MBIT = {"gfsk-250k": 0.25, "gfsk-1M": 1.0, "gfsk-2M": 2.0}


@outside("acknowledgements of frames that ask for none", source=PS.at("7.3.3.3"), status=SEEN)
def test_a_frame_with_the_no_acknowledge_flag_is_never_acknowledged() -> None:
    trace = run(one_transmitter("gfsk-1M", 8, keys='acknowledge = "flag"'))

    assert set(trace.frames["outcome"]) == {SENT}
    check.same(len(trace.acknowledgements), 0)


@outside(
    "from the end of such a frame until its transmitter is done",
    source=PS.at("7.3.3.3"),
    status=SEEN,
    unit="us",
)
def test_a_transmitter_of_such_a_frame_is_done_at_its_end() -> None:
    trace = run(one_transmitter("gfsk-1M", 8, keys='acknowledge = "flag"', loss=0.5))

    for waited_ns in trace.frames["done_ns"] - trace.attempts["end_ns"]:
        check.same(waited_ns / 1000, 0.0)


@outside(
    "longest wait for the end of an acknowledgement's address",
    source=PS.at("7.4.2"),
    status=SEEN,
    unit="us",
)
@pytest.mark.parametrize(
    ("profile", "window_us"), [("gfsk-250k", 500), ("gfsk-1M", 250), ("gfsk-2M", 250)]
)
def test_a_transmitter_waits_for_the_address_as_long_as_is_printed(
    profile: str, window_us: int
) -> None:
    # Preamble and address are 48 bits; the bit rate decides how long they take. The transmitter
    # starts to listen as the acknowledgement begins: both turn round in the same time.
    def is_caught(address_us: float) -> bool:
        rate = round(48e6 / address_us)
        given = one_transmitter(profile, 8, keys="retry_limit = 0\nretry_delay_us = 4000")
        trace = run(given.replace("air.loss", f"radio.bit_rate = {rate}\nair.loss", 1))
        assert set(trace.acknowledgements["fate"]) <= {TAKEN, UNHEARD}
        assert set(trace.frames["outcome"]) <= {ACKNOWLEDGED, RETRIES_USED_UP}
        return bool((trace.frames["outcome"] == ACKNOWLEDGED).all())

    longest_us = next(us for us in range(window_us + 50, 0, -1) if is_caught(us))

    check.same(longest_us, window_us)


def two_that_listen(addresses: tuple[str, str]) -> str:
    """Which of two transmitters take the acknowledgements of the first.

    The second is 20 dB weaker, so that its frames are lost, and 20 us earlier: it listens as the
    acknowledgement comes.
    """
    trace = run(f"""
duration_s = 0.3
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.strong]
boot_s = 0
address = "{addresses[0]}"
period_ms = 20
offset_ms = 5
payload_bytes = 8
clock_ppm = 0
retry_limit = 0
[transmitter.weak]
boot_s = 0
address = "{addresses[1]}"
period_ms = 20
offset_ms = 4.98
payload_bytes = 8
clock_ppm = 0
retry_limit = 0
power_dbm = -20
""")
    acknowledgements = trace.acknowledgements
    assert len(acknowledgements) == 15
    assert set(acknowledgements["stream"]) == {0}
    (takers,) = set(acknowledgements["takers"])
    return " and ".join(str(i + 1) for i in (0, 1) if takers >> i & 1)


@outside(
    "transmitters that take an acknowledgement (1: the one whose frame came, 2: another that "
    "listens)",
    source=PS1.at("p. 17"),
    status=SEEN,
)
@pytest.mark.parametrize(
    ("other", "takers"), [("C3 A1 5E 7B 02", "1"), ("C3 A1 5E 7B 01", "1 and 2")]
)
def test_an_acknowledgement_goes_to_the_address_of_the_frame(other: str, takers: str) -> None:
    check.same(two_that_listen(("C3 A1 5E 7B 01", other)), takers)


def acknowledged(profile: str, delay_us: int, acknowledgement_bytes: int) -> str:
    return one_transmitter(profile, 8, keys=f"retry_delay_us = {delay_us}").replace(
        "air.loss", f"receiver.acknowledge_payload_bytes = {acknowledgement_bytes}\nair.loss", 1
    )


def is_refused(profile: str, delay_us: int, acknowledgement_bytes: int) -> bool:
    try:
        parse(acknowledged(profile, delay_us, acknowledgement_bytes))
    except ScenarioError as error:
        assert "retry_delay_us" in str(error)  # noqa: PT017 - the rest is a pass
        return True
    return False


@outside(
    "shortest retry delay: settle and acknowledgement must not be longer",
    source=PS.at("7.4.2"),
    status=SEEN,
    unit="us",
)
@pytest.mark.parametrize("acknowledgement_bytes", [0, 1, 2, 3, 5, 6, 10, 11, 20, 21, 26, 31, 32])
@pytest.mark.parametrize("profile", RATES_MBIT)
def test_shorter_retry_delays_than_the_rule_allows_are_refused(
    profile: str, acknowledgement_bytes: int
) -> None:
    needed_us = 130 + (73 + 8 * acknowledgement_bytes) / RATES_MBIT[profile]
    steps = range(250, 4001, 250)

    taken_us = next(us for us in steps if not is_refused(profile, us, acknowledgement_bytes))

    check.same(taken_us, next(us for us in steps if us >= needed_us))


def longest_without_a_caution(profile: str, delay_us: int) -> int:
    """Most payload bytes of an acknowledgement that are neither refused nor warned of."""
    return max(
        acknowledgement_bytes
        for acknowledgement_bytes in range(33)
        if not is_refused(profile, delay_us, acknowledgement_bytes)
        and not any(
            "printed limit" in warning
            for warning in parse(acknowledged(profile, delay_us, acknowledgement_bytes)).warnings
        )
    )


@outside(
    "longest acknowledgement payload without a warning, 1 and 2 Mbit/s",
    source=PS.at("7.4.2"),
    status=SEEN,
    unit="bytes",
)
@pytest.mark.parametrize(
    ("profile", "delay_us", "printed"),
    [("gfsk-2M", 250, 15), ("gfsk-2M", 500, 32), ("gfsk-1M", 250, 5), ("gfsk-1M", 500, 32)],
)
def test_longer_acknowledgements_than_printed_are_warned_of(
    profile: str, delay_us: int, printed: int
) -> None:
    check.same(longest_without_a_caution(profile, delay_us), printed)


@outside(
    "longest acknowledgement payload without a warning, 250 kbit/s",
    source=PS.at("table 18"),
    status=MEMORY,
    unit="bytes",
)
@pytest.mark.parametrize(
    ("delay_us", "printed"), [(500, 0), (750, 8), (1000, 16), (1250, 24), (1500, 32)]
)
def test_longer_acknowledgements_than_printed_at_250k_are_warned_of(
    delay_us: int, printed: int
) -> None:
    check.same(longest_without_a_caution("gfsk-250k", delay_us), printed)


@outside(
    "shortest retry delay with which a retry clears the receiver's turn, without its settle time",
    source=FACTS.at("1"),
    status=DERIVED,
    unit="us",
)
@pytest.mark.parametrize(
    ("profile", "shortest_us"), [("gfsk-250k", 750), ("gfsk-1M", 500), ("gfsk-2M", 500)]
)
def test_without_the_settle_time_the_delay_must_cover_two(profile: str, shortest_us: int) -> None:
    # 2 settle + empty acknowledgement: 552, 333 and 296.5 us.
    def is_taken(delay_us: int) -> bool:
        given = acknowledged(profile, delay_us, 0)
        try:
            parse(given.replace("air.loss", "radio.retry_settle = false\nair.loss", 1))
        except ScenarioError:
            return False
        return True

    check.same(next(us for us in range(250, 4001, 250) if is_taken(us)), shortest_us)


@outside(
    "share of acknowledged retries that meet a receiver which still acknowledgements",
    source=FACTS.at("1"),
    status=DERIVED,
)
def test_at_the_shortest_delays_no_retry_meets_a_deaf_receiver() -> None:
    # Every acknowledgement is lost, so that every frame is tried again beside it.
    shares = []
    for profile, delay_us in (("gfsk-250k", 500), ("gfsk-1M", 250), ("gfsk-2M", 250)):
        given = one_transmitter(profile, 8, keys=f"retry_delay_us = {delay_us}")
        trace = run(given.replace("acknowledge_loss = 0", "acknowledge_loss = 1"))
        retries = trace.attempts[trace.attempts["attempt"] > 1]
        shares.append(np.isin(of_stream(retries, 0)["fate"], (DEAF,)).mean())

    check.same(max(shares), 0.0)
