"""What the radio cannot do is refused, and what is unwise is warned of.

Sources: Nordic Semiconductor, "Single Chip 2.4GHz Transceiver, Product Specification" v1.0, 2008
(PS); the older edition of 2007 (PS2); the preliminary specification of 2005/06 (PS1); the band's
limits (BAND).
"""

from collections.abc import Iterable

import pytest

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, parse
from radiosim.trace import COLLISION, NEW
from tests.reference.outside import DERIVED, MEMORY, SEEN, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, run
from tests.reference.sources import BAND, FACTS, PS, PS1, PS2


def scenario_with(*keys: str, profile: str = "gfsk-1M", **drive: object) -> Scenario:
    """A scenario of one transmitter, with overrides."""
    text = (
        f'radio.profile = "{profile}"\ntransmitter.drive = {{ period_ms = 20, payload_bytes = 8 }}'
    )
    return parse(text, overrides=(*keys, *(f"transmitter.drive.{k}={v}" for k, v in drive.items())))


def is_taken(*keys: str, **drive: object) -> bool:
    try:
        scenario_with(*keys, **drive)
    except ScenarioError:
        return False
    return True


def span(taken: Iterable[int]) -> str:
    """Whole numbers without a gap between them."""
    numbers = list(taken)
    assert numbers == list(range(numbers[0], numbers[-1] + 1))
    return f"{numbers[0]} to {numbers[-1]}"


@outside("channels that are taken", source=PS2.at("6.3"), status=SEEN)
def test_channels_are_0_to_125() -> None:
    taken = [n for n in range(-2, 130) if is_taken(f"radio.channel={n}")]

    check.same(span(taken), "0 to 125")


@outside(
    "channels that stay inside the band with clocks of 60 ppm",
    source=f"{BAND.key}; {PS.key} front page; {FACTS.at('10')}",
    status=DERIVED,
)
@pytest.mark.parametrize(
    ("profile", "inside"),
    [("gfsk-250k", "1 to 82"), ("gfsk-1M", "1 to 82"), ("gfsk-2M", "2 to 82")],
)
def test_channels_beyond_the_band_are_warned_of(profile: str, inside: str) -> None:
    quiet = [
        n
        for n in range(126)
        if not any(
            w.startswith("radio.channel")
            for w in scenario_with(f"radio.channel={n}", profile=profile).warnings
        )
    ]

    check.same(span(quiet), inside)


@outside("payload bytes of a frame that are taken", source=PS.at("7.3"), status=SEEN)
def test_payloads_have_up_to_32_bytes() -> None:
    # The radio sends an empty payload too; a frame without a value is of no use here.
    taken = [n for n in range(40) if is_taken(payload_bytes=n)]

    check.same(span(taken), "1 to 32")


@outside("address bytes that are taken", source=PS.at("7.3"), status=SEEN)
def test_addresses_have_3_to_5_bytes() -> None:
    check.same(span(n for n in range(9) if is_taken(f"radio.address_bytes={n}")), "3 to 5")


@outside(
    "CRC bytes that are taken, with and without acknowledgement",
    source=PS.at("7.3"),
    status=SEEN,
)
@pytest.mark.parametrize(("acknowledge", "printed"), [("true", "1 to 2"), ("false", "0 to 2")])
def test_only_without_acknowledgement_there_may_be_no_checksum(
    acknowledge: str, printed: str
) -> None:
    key = "radio.crc_bytes"
    taken = [n for n in range(5) if is_taken(f"{key}={n}", acknowledge=acknowledge)]

    check.same(span(taken), printed)


@outside("retry limits that are taken", source=PS2.at("p. 54"), status=SEEN)
def test_there_are_up_to_15_retries() -> None:
    check.same(span(n for n in range(-1, 20) if is_taken(retry_limit=n)), "0 to 15")


@outside(
    "retry delays without a warning: steps of 250 up to",
    source=PS.at("7.4.2"),
    status=SEEN,
    unit="us",
)
def test_retry_delays_that_radios_do_not_know_are_warned_of() -> None:
    quiet = [
        us
        for us in range(250, 6000, 50)
        if not any("steps of 250" in w for w in scenario_with(retry_delay_us=us).warnings)
    ]

    assert quiet == list(range(250, quiet[-1] + 1, 250))
    check.same(quiet[-1], 4000)


@outside("pipes that are taken", source=f"{PS.key} registers", status=SEEN)
def test_there_are_six_pipes() -> None:
    check.same(span(n for n in range(-1, 10) if is_taken(pipe=n)), "0 to 5")


DIFFERING = ("C4 A1 5E 7B 02", "C3 A2 5E 7B 02", "C3 A1 5F 7B 02", "C3 A1 5E 7C 02")
"""Each in one byte before the last."""


def shared(pipe: int, address: str) -> bool:
    """Whether a second transmitter may have this pipe and address beside pipe 1's C3 A1 5E 7B
    01."""
    try:
        parse(f"""
radio.profile = "gfsk-1M"
receiver.boot_s = 0
[transmitter.drive]
boot_s = 0
period_ms = 20
payload_bytes = 8
pipe = 1
address = "C3 A1 5E 7B 01"
[transmitter.head]
boot_s = 0
period_ms = 20
payload_bytes = 8
pipe = {pipe}
address = "{address}"
""")
    except ScenarioError:
        return False
    return True


@outside(
    "pipes beside pipe 1 whose first four address bytes may differ",
    source=f"{PS.key} registers",
    status=SEEN,
)
def test_pipes_2_to_5_share_all_but_the_lowest_byte() -> None:
    assert all(shared(pipe, "C3 A1 5E 7B 02") for pipe in (0, 2, 3, 4, 5))
    free = [pipe for pipe in (0, 2, 3, 4, 5) if all(shared(pipe, a) for a in DIFFERING)]

    check.same(", ".join(map(str, free)), "0")


POOR = {
    "B4 69 D2 3C C5": "none",
    "9C 9C 9C 9C 9C": "all its bytes are equal",
    "00 00 0F FF FF": "its level changes only once",
    "FF FF 80 00 00": "its level changes only once",
    "AA 31 C5 72 19": "it goes on toggling as the preamble does",
    "55 31 C5 72 19": "it goes on toggling as the preamble does",
}


@outside("warnings of poor addresses", source=PS1.at("note 16"), status=SEEN)
@pytest.mark.parametrize("address", POOR)
def test_poor_addresses_are_warned_of(address: str) -> None:
    warnings = [w for w in scenario_with(address=address).warnings if ".address" in w]

    check.same("; ".join(w.rpartition(": ")[2] for w in warnings) or "none", POOR[address])


@outside(
    "co-channel ratio with which the stronger of two still comes through",
    source=PS.at("5.4 table 9"),
    status=MEMORY,
    unit="dB",
)
@pytest.mark.parametrize(
    ("profile", "printed_db"), [("gfsk-250k", 7), ("gfsk-1M", 12), ("gfsk-2M", 11)]
)
def test_the_stronger_of_two_comes_through_by_the_cochannel_ratio(
    profile: str, printed_db: float
) -> None:
    def comes_through(stronger_db: float) -> bool:
        trace = run(f"""
duration_s = 0.1
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.near]
boot_s = 0
period_ms = 20
offset_ms = 5
payload_bytes = 16
clock_ppm = 0
acknowledge = "flag"
[transmitter.far]
boot_s = 0
period_ms = 20
offset_ms = 5.02
payload_bytes = 16
clock_ppm = 0
acknowledge = "flag"
power_dbm = {-stronger_db}
""")
        assert set(of_stream(trace.attempts, 1)["fate"]) == {COLLISION}
        return set(of_stream(trace.attempts, 0)["fate"]) == {NEW}

    least_db = next(tenth / 10 for tenth in range(200) if comes_through(tenth / 10 + 1e-9))

    check.same(least_db, printed_db)
