"""Charge of an hour against the duty computed by hand.

Source: PS 5.1 table 4 (currents, seen); times of facts 1. One transmitter every 20 ms with 32 bytes
at 1 Mbit/s: on the air 329 us, an empty acknowledgement 73 us, 130 us to turn round."""

import pytest

from radiosim.measure import summarise
from tests.reference.outside import DERIVED, check, outside
from tests.reference.runs import one_transmitter, run
from tests.reference.sources import FACTS, PS

SEND, LISTEN, SETTLE_SEND, SETTLE_LISTEN, STANDBY = 11.3, 13.1, 8.0, 8.9, 0.026
"""mA, at 0 dBm and 1 Mbit/s."""
EDGE = 5e-4
"""Share by which the ends of 60 s may differ from whole periods."""
SOURCE = f"{PS.at('5.1 table 4')}; {FACTS.at('1')}"


def charges(keys: str = "", loss: float = 0.0) -> tuple[float, float]:
    """Of the transmitter and of the receiver, mAh an hour."""
    text = one_transmitter("gfsk-1M", 32, keys=keys, loss=loss).replace("0.3", "60", 1)
    figures = summarise(run(text)).figures
    return figures.stream["drive"].charge_mah_per_hour, figures.receiver.charge_mah_per_hour


def mean_ma(*spans: tuple[float, float]) -> float:
    """Of 20 ms with these spans (us, mA), standby for the rest."""
    busy_us = sum(us for us, _ in spans)
    return (sum(us * ma for us, ma in spans) + (20_000 - busy_us) * STANDBY) / 20_000


@outside("charge of an hour, acknowledged transmitter", source=SOURCE, status=DERIVED, unit="mAh")
def test_charge_of_an_acknowledged_transmitter() -> None:
    by_hand = mean_ma((130, SETTLE_SEND), (329, SEND), (130, SETTLE_LISTEN), (73, LISTEN))

    check.near(charges()[0], by_hand, within=EDGE * by_hand)


@outside(
    "charge of an hour, transmitter without acknowledgements",
    source=SOURCE,
    status=DERIVED,
    unit="mAh",
)
def test_charge_of_a_transmitter_that_asks_for_nothing() -> None:
    by_hand = mean_ma((130, SETTLE_SEND), (329, SEND))

    check.near(charges('acknowledge = "flag"')[0], by_hand, within=EDGE * by_hand)


@outside(
    "charge of an hour, transmitter that nobody hears, 3 retries, each listening for 250 us",
    source=SOURCE,
    status=DERIVED,
    unit="mAh",
)
def test_charge_of_a_transmitter_in_vain() -> None:
    attempt = ((130, SETTLE_SEND), (329, SEND), (130, SETTLE_LISTEN), (250, LISTEN))
    by_hand = mean_ma(*(4 * attempt))

    check.near(charges("retry_limit = 3", loss=1.0)[0], by_hand, within=EDGE * by_hand)


@outside("charge of an hour, receiver that acknowledges", source=SOURCE, status=DERIVED, unit="mAh")
def test_charge_of_a_receiver() -> None:
    acknowledgement = (130 * SETTLE_SEND + 73 * SEND + 130 * SETTLE_LISTEN) / 20_000
    by_hand = acknowledgement + (20_000 - 333) / 20_000 * LISTEN

    check.near(charges()[1], by_hand, within=EDGE * by_hand)


@outside("charge of an hour by transmit power", source=SOURCE, status=DERIVED, unit="mAh")
@pytest.mark.parametrize(("dbm", "ma"), [(0, 11.3), (-6, 9.0), (-12, 7.5), (-18, 7.0)])
def test_charge_by_power(dbm: int, ma: float) -> None:
    by_hand = mean_ma((130, SETTLE_SEND), (329, ma), (130, SETTLE_LISTEN), (73, LISTEN))

    check.near(charges(f"power_dbm = {dbm}")[0], by_hand, within=EDGE * by_hand)
