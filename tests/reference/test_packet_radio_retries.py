"""When the acknowledging packet radio tries again, and when two of them clear each other.

Source: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification" v1.0, 2008
(PS); the older edition of 2007 (PS2).
"""

import pytest

from radiosim.trace import COLLISION, Fate
from tests.reference.outside import DERIVED, DERIVED_FROM_MEMORY, SEEN, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, one_transmitter, run
from tests.reference.sources import FACTS, PS, PS2


@outside(
    "from an attempt's end to its retry, beyond the retry delay",
    source=PS.at("7.4.2"),
    status=DERIVED_FROM_MEMORY,
    unit="us",
)
@pytest.mark.parametrize("delay_us", [250, 500, 4000])
def test_a_retry_starts_a_delay_and_a_settle_time_after_the_end_before(delay_us: int) -> None:
    # From the end of one transmission is printed (seen); the settle time on top is from memory.
    keys = f"retry_delay_us = {delay_us}\nretry_limit = 3"
    attempts = run(one_transmitter("gfsk-1M", 8, keys=keys, loss=1.0)).attempts
    waits_ns = (attempts["start_ns"][1:] - attempts["end_ns"][:-1])[attempts["attempt"][1:] > 1]

    for wait_ns in waits_ns:
        check.same(wait_ns / 1000 - delay_us, 130.0)


@outside("attempts at 15 retries", source=PS2.at("p. 54"), status=SEEN, unit="attempts")
def test_fifteen_retries_are_sixteen_attempts() -> None:
    frames = run(one_transmitter("gfsk-1M", 8, keys="retry_limit = 15", loss=1.0)).frames

    for attempts in frames["attempts"]:
        check.same(attempts, 16)


def pair_that_collides(profile: str, apart_us: float, early_us: float) -> list[str]:
    """Fates of the second attempts of two transmitters whose first ones overlap.

    The second one's retry delay is longer by `apart_us`, and it starts earlier by `early_us`.
    """
    trace = run(f"""
duration_s = 0.1
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.short]
boot_s = 0
period_ms = 20
offset_ms = 5
payload_bytes = 16
clock_ppm = 0
retry_delay_us = 500
[transmitter.long]
boot_s = 0
period_ms = 20
offset_ms = {5 - early_us / 1000}
payload_bytes = 16
clock_ppm = 0
retry_delay_us = {500 + apart_us}
""")
    first = trace.attempts[trace.attempts["attempt"] == 1]
    second = trace.attempts[trace.attempts["attempt"] == 2]
    assert set(first["fate"]) == {COLLISION}
    return [
        "/".join(Fate(fate).words for fate in set(of_stream(second, stream)["fate"]))
        for stream in (0, 1)
    ]


@outside(
    "fates of the first retries where the delays differ by 2 frames + 2 settle + ack",
    source=f"{PS.at('7.4.2')}; {FACTS.at('1')}",
    status=DERIVED,
)
@pytest.mark.parametrize(
    ("profile", "frame_us", "needed_us"), [("gfsk-1M", 201.0, 735.0), ("gfsk-2M", 100.5, 497.5)]
)
@pytest.mark.parametrize("share", [-0.999, -0.5, 0.0, 0.5, 0.999])
def test_retry_delays_far_enough_apart_clear_a_collision_at_once(
    profile: str, frame_us: float, needed_us: float, share: float
) -> None:
    # However the two overlapped.
    fates = pair_that_collides(profile, needed_us, share * frame_us)

    check.same(" and ".join(fates), "new and new")


@outside(
    "the same 1 us nearer: the later retry meets a deaf receiver",
    source=f"{PS.at('7.4.2')}; {FACTS.at('1')}",
    status=DERIVED,
)
@pytest.mark.parametrize(
    ("profile", "frame_us", "needed_us"), [("gfsk-1M", 201.0, 735.0), ("gfsk-2M", 100.5, 497.5)]
)
def test_retry_delays_a_little_nearer_do_not_always_clear_a_collision(
    profile: str, frame_us: float, needed_us: float
) -> None:
    fates = pair_that_collides(profile, needed_us - 1.0, frame_us - 0.1)

    check.same(" and ".join(fates), "new and deaf")


@outside(
    "attempts of a frame that another one with equal delay and length collides with",
    source=f"{PS.at('7.6')}; {FACTS.at('1')}",
    status=DERIVED_FROM_MEMORY,
    unit="attempts",
)
def test_equal_delays_and_lengths_collide_on_every_attempt() -> None:
    trace = run(f"""
duration_s = 0.1
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.drive]
boot_s = 0
period_ms = 20
offset_ms = 5
payload_bytes = 16
clock_ppm = 0
[transmitter.head]
boot_s = 0
period_ms = 20
offset_ms = 5.1
payload_bytes = 16
clock_ppm = 0
""")

    assert set(trace.attempts["fate"]) == {COLLISION}
    for attempts in trace.frames["attempts"]:
        check.same(attempts, 4)
