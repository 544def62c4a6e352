"""Levels and supply currents of the profiles, and the charge of a duty worked by hand.

Source: PS 5.1 table 4 (currents, seen), PS 5.4 and its table 9 (levels, from memory).
"""

import pytest

from radiosim.radio.bit_errors import rejection_db
from radiosim.radio.profiles import PROFILES, State, charge_mah, currents_ma
from tests.reference.outside import DERIVED, MEMORY, SEEN, check, outside
from tests.reference.sources import FACTS, PS


@outside("supply current of a state", source=PS.at("5.1 table 4"), status=SEEN, unit="mA")
@pytest.mark.parametrize(
    ("state", "ma"),
    [
        ("power_down", 0.0009),
        ("standby", 0.026),
        ("transmit_settle", 8.0),
        ("receive_settle", 8.9),
    ],
)
def test_currents_of_states(state: State, ma: float) -> None:
    check.same(currents_ma(PROFILES["gfsk-1M"], 0.0)[state], ma)


@outside("supply current while sending", source=PS.at("5.1 table 4"), status=SEEN, unit="mA")
@pytest.mark.parametrize(("dbm", "ma"), [(0, 11.3), (-6, 9.0), (-12, 7.5), (-18, 7.0)])
def test_currents_while_sending(dbm: float, ma: float) -> None:
    check.same(currents_ma(PROFILES["gfsk-2M"], dbm)["transmit"], ma)


@outside("supply current while listening", source=PS.at("5.1 table 4"), status=SEEN, unit="mA")
@pytest.mark.parametrize(
    ("profile", "ma"), [("gfsk-2M", 13.5), ("gfsk-1M", 13.1), ("gfsk-250k", 12.6)]
)
def test_currents_while_listening(profile: str, ma: float) -> None:
    check.same(currents_ma(PROFILES[profile], 0.0)["receive"], ma)


@outside("level with 1 bit in 1000 wrong", source=PS.at("5.4"), status=MEMORY, unit="dBm")
@pytest.mark.parametrize(
    ("profile", "dbm"), [("gfsk-250k", -94.0), ("gfsk-1M", -85.0), ("gfsk-2M", -82.0)]
)
def test_sensitivities(profile: str, dbm: float) -> None:
    check.same(PROFILES[profile].sensitivity_dbm, dbm)


@outside(
    "signal over a like one on the same channel, the 1st, 2nd, 3rd neighbour, and far off, in dB",
    source=PS.at("5.4 table 9"),
    status=MEMORY,
)
@pytest.mark.parametrize(
    ("profile", "offsets_mhz", "db"),
    [
        ("gfsk-2M", (0, 2, 4, 6, 13), "11 4 -18 -24 -40"),
        ("gfsk-1M", (0, 1, 2, 3, 7), "12 8 -21 -30 -40"),
        ("gfsk-250k", (0, 1, 2, 3, 7), "7 -12 -34 -39 -50"),
    ],
)
def test_rejection(profile: str, offsets_mhz: tuple[float, ...], db: str) -> None:
    found = [rejection_db(PROFILES[profile], offset) for offset in offsets_mhz]

    check.same(" ".join(f"{row:g}" for row in found), db)


@outside(
    "charge of an hour of 50 acknowledged frames a second, by hand",
    source=f"{PS.at('5.1 table 4')}; {FACTS.at('1')}",
    status=DERIVED,
    unit="mAh",
)
def test_charge_of_a_duty() -> None:
    # 32 bytes at 1 Mbit/s: 130 us at 8.0 mA, 329 us at 11.3 mA, 130 us at 8.9 mA, 73 us of
    # acknowledgement at 13.1 mA, and standby for the rest of 20 ms.
    a_second: dict[State, float] = {
        "transmit_settle": 50 * 130e-6,
        "transmit": 50 * 329e-6,
        "receive_settle": 50 * 130e-6,
        "receive": 50 * 73e-6,
        "standby": 1 - 50 * 662e-6,
    }
    by_hand = 50 * (130 * 8.0 + 329 * 11.3 + 130 * 8.9 + 73 * 13.1 + 19338 * 0.026) * 1e-6

    hour = {state: 3600 * seconds for state, seconds in a_second.items()}
    check.near(charge_mah(currents_ma(PROFILES["gfsk-1M"], 0.0), hour), by_hand, within=1e-9)
