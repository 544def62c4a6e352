"""What overlaps on the air, and what is lost there (rule C).

Instants in µs; the arithmetic of one frame stands in hand_made.py. Flagged frames leave the
receiver listening. The co-channel ratio is 10 dB.
"""

from typing import Any

import pytest

from radiosim.engine.plan import make_plan
from radiosim.engine.rules.reception import draws, takes_acknowledgement, takes_attempt
from radiosim.engine.simulate import Engine, simulate
from radiosim.trace import CHANCE, NEW
from tests.engine.reference.hand_made import (
    FLAG,
    acknowledgements,
    attempts,
    fates,
    frames,
    scenario_with,
    start,
)


def transmitter(on_air_us: float, power_dbm: float = 0, **keys: Any) -> dict[str, Any]:
    """A transmitter of flagged frames, the first of which is on the air at an instant, for 200."""
    return FLAG | {"offset_ms": (on_air_us - 200) / 1000, "power_dbm": power_dbm} | keys


def met(*transmitters: dict[str, Any], **keys: Any) -> list[str]:
    """What becomes of one frame of each of some transmitters."""
    trace = start({f"t{i}": keys for i, keys in enumerate(transmitters)}, ms=3, **keys)
    return [fates(trace, i)[0] for i in range(len(transmitters))]


def test_frames_that_touch_do_not_overlap() -> None:
    assert met(transmitter(200), transmitter(400)) == ["new", "new"]


def test_of_two_equal_frames_that_overlap_both_are_lost() -> None:
    assert met(transmitter(200), transmitter(399.999)) == ["collision", "collision"]


def test_equal_powers_are_lost_even_with_a_ratio_of_nothing() -> None:
    assert met(transmitter(200), transmitter(300), radio={"cochannel_db": 0}) == [
        "collision",
        "collision",
    ]


@pytest.mark.parametrize(("weaker_dbm", "fate"), [(-10, "new"), (-9.9, "collision")])
def test_a_frame_survives_what_is_weaker_by_the_ratio(weaker_dbm: float, fate: str) -> None:
    assert met(transmitter(200), transmitter(250, weaker_dbm)) == [fate, "collision"]
    assert met(transmitter(250), transmitter(200, weaker_dbm)) == [fate, "collision"]


def test_powers_of_those_that_overlap_add_up() -> None:
    # −12.9 dBm twice is −9.9 dBm.
    assert met(transmitter(200), transmitter(250, -12.9))[0] == "new"
    assert met(transmitter(200), transmitter(250, -12.9), transmitter(260, -12.9))[0] == "collision"
    assert met(transmitter(200), transmitter(250, -13.1), transmitter(260, -13.1))[0] == "new"


def test_a_frame_as_strong_as_the_sum_of_two_others_is_lost() -> None:
    # 10·log10(2) dBm is 2 mW.
    radio = {"cochannel_db": 0}
    two = transmitter(250), transmitter(260)

    assert met(transmitter(200, 3.010299956639811), *two, radio=radio)[0] == "collision"
    assert met(transmitter(200, 3.0103), *two, radio=radio)[0] == "new"


def test_only_powers_of_one_instant_add_up() -> None:
    # −12 dBm twice would be −9: one meets it at 1200–1250, the other at 1350–1400.
    assert met(transmitter(1200), transmitter(1050, -12), transmitter(1350, -12))[0] == "new"


@pytest.mark.parametrize(
    ("on_air_us", "fate"), [(274, "new"), (275, "collision"), (280, "collision")]
)
def test_after_a_matched_address_no_stronger_frame_is_taken(on_air_us: float, fate: str) -> None:
    # The first frame's address is complete at 275.
    assert met(transmitter(200), transmitter(on_air_us, 20)) == ["collision", fate]


def test_a_receiver_is_free_again_when_the_frame_that_held_it_ends() -> None:
    # The stronger one's address is complete at 399 or at 400; the weaker one ends at 400.
    assert met(transmitter(200), transmitter(324, 20)) == ["collision", "collision"]
    assert met(transmitter(200), transmitter(325, 20)) == ["collision", "new"]


def test_a_frame_that_was_shut_out_holds_nobody() -> None:
    # The second comes while the first holds the receiver until 400; the third's address is
    # complete at 455, when the second is still on the air but was never matched.
    assert met(transmitter(200), transmitter(290, 13), transmitter(380, 30)) == [
        "collision",
        "collision",
        "new",
    ]


def test_a_frame_that_began_before_the_receiver_listened_holds_nobody() -> None:
    # It listens at 300.
    fates = met(transmitter(200), transmitter(320, 20), receiver={"boot_s": 0.0002})

    assert fates == ["off", "new"]


def test_a_frame_spoilt_before_its_address_holds_nobody() -> None:
    # The first two spoil each other at 250; the third comes at 340.
    assert met(transmitter(200), transmitter(250), transmitter(340, 30)) == [
        "collision",
        "collision",
        "new",
    ]


@pytest.mark.parametrize("on_air_us", [450, 550])
def test_another_transmitter_drowns_an_acknowledgement(on_air_us: float) -> None:
    # Acknowledged at 500–600, while the receiver is deaf to the other.
    trace = start({"a": {}, "b": transmitter(on_air_us)}, ms=1.6)

    assert acknowledgements(trace)[0] == (500, 600, "collision", 0)
    assert attempts(trace, 1) == [(0, on_air_us, "deaf")]
    assert attempts(trace, 0) == [(0, 200, "new"), (0, 900, "duplicate")]


def test_a_stronger_acknowledgement_is_heard_beside_another_transmitter() -> None:
    trace = start({"a": {}, "b": transmitter(450)}, ms=1.6, receiver={"power_dbm": 10})

    assert acknowledgements(trace) == [(500, 600, "taken", 1)]
    assert frames(trace, 0) == [(0, 610, "acknowledged")]


def test_an_acknowledgement_and_a_frame_that_touch_do_not_overlap() -> None:
    # 500–600 and 600–800.
    trace = start({"a": {}, "b": transmitter(600)}, ms=1.6)

    assert acknowledgements(trace) == [(500, 600, "taken", 1)]


BOTH = pytest.mark.parametrize("engine", ["reference", "fast"])
# The frame is on the air 200 to 400, its acknowledgement 500 to 600; the retry 900 to 1100.
JAMMED = [
    (450, 50, "taken"),
    (500, 1, "collision"),
    (550, 20, "collision"),
    (599, 1, "collision"),
    (600, 50, "taken"),
]


@BOTH
@pytest.mark.parametrize(("at_us", "for_us", "fate"), JAMMED)
def test_a_jam_that_begins_in_an_acknowledgement_takes_it(
    engine: Engine, at_us: int, for_us: int, fate: str
) -> None:
    jam = {"kind": "jam", "unit": "air", "at_s": at_us / 1e6, "for_s": for_us / 1e6}
    trace = simulate(scenario_with({"a": {}}, ms=3, fault=[jam]), engine=engine)

    assert acknowledgements(trace)[0][:3] == (500, 600, fate)
    assert fates(trace) == (["new"] if fate == "taken" else ["new", "duplicate"])


@BOTH
@pytest.mark.parametrize(("at_us", "for_us", "fate"), [(450, 50, "taken"), *JAMMED[2:3], JAMMED[4]])
def test_a_jammer_from_outside_that_begins_in_an_acknowledgement_takes_it(
    engine: Engine, at_us: int, for_us: int, fate: str
) -> None:
    levels = {"power_dbm_at_receiver": -120, "power_dbm_at_transmitters": -10}
    span = {"from_s": at_us / 1e6, "for_s": for_us / 1e6, "channel_mhz": 2476}
    given = scenario_with(
        {"a": {}},
        ms=3,
        radio={"channel": 76},
        air={"range": {"distance_m": 1}},
        interferer={"near": {"kind": "jammer"} | levels | span},
    )
    trace = simulate(given, engine=engine)

    assert acknowledgements(trace)[0][2] == fate
    assert fates(trace) == (["new"] if fate == "taken" else ["new", "duplicate"])


def test_chance_takes_attempts_and_acknowledges_as_the_keyed_draws_say() -> None:
    scenario = scenario_with(
        {"a": {}, "b": {"offset_ms": 2}}, ms=400, air={"loss": 0.4, "acknowledge_loss": 0.3}
    )
    trace, plan = simulate(scenario, engine="reference"), make_plan(scenario, 0)

    def taken(stream: int, frame: int, attempt: int) -> tuple[bool, bool]:
        tx = plan.tx[stream]
        one, other = draws(tx, frame, attempt)
        return takes_attempt(tx, one, False), takes_acknowledgement(tx, other, False)

    drawn = {
        (row["stream"], row["frame"], row["attempt"]): taken(
            int(row["stream"]), int(row["frame"]), int(row["attempt"])
        )
        for row in trace.attempts
        if row["fate"] in (NEW, CHANCE)
    }
    for row in trace.attempts:
        key = row["stream"], row["frame"], row["attempt"]
        if key in drawn:
            assert drawn[key][0] == (row["fate"] == CHANCE)
    lost = sum(is_lost for is_lost, _ in drawn.values())
    assert 40 < lost < len(drawn) - 40
    for row in trace.acknowledgements:
        key = row["stream"], row["frame"], row["attempt"]
        if key in drawn:
            assert drawn[key][1] == (row["fate"] == 2), key


@pytest.mark.parametrize(
    ("cause", "keys"),
    [
        (
            "off",
            {
                "receiver": {
                    "boot_s": 0.001,
                    "deaf": [{"every_ms": 100, "for_ms": 50, "offset_ms": 0}],
                }
            },
        ),
        ("deaf", {"receiver": {"deaf": [{"every_ms": 100, "for_ms": 50, "offset_ms": 0}]}}),
        ("collision", {}),
    ],
)
def test_a_failed_attempt_has_the_first_cause_that_applies(
    cause: str, keys: dict[str, Any]
) -> None:
    # All of them collide, and chance takes all.
    assert met(transmitter(200), transmitter(300), air={"loss": 1}, **keys) == [cause, cause]


def test_off_comes_before_deaf_in_a_frame_that_met_both() -> None:
    # The receiver and its program are up at 300, and the program makes it deaf at once.
    deaf = [{"every_ms": 100, "for_ms": 50, "offset_ms": 0}]

    assert met(transmitter(200), receiver={"boot_s": 0.0002, "deaf": deaf}) == ["off"]


def test_chance_is_the_last_cause() -> None:
    assert met(transmitter(200), air={"loss": 1}) == ["chance"]
