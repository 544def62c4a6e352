import pytest

from radiosim.scenario import parse
from radiosim.scenario.checks.link_checks import poor_pattern

RADIO = 'radio.profile = "gfsk-1M"\n'
DRIVE = "transmitter.drive = { period_ms = 20, payload_bytes = 6, retry_delay_us = 750 }\n"
HEAD = "transmitter.head = { period_ms = 20, payload_bytes = 6, retry_delay_us = 1000 }\n"
SOUND = RADIO + DRIVE + HEAD


def warnings(text: str, *overrides: str) -> tuple[str, ...]:
    return parse(text, overrides=overrides).warnings


def test_a_sound_scenario_gives_no_warning() -> None:
    assert warnings(SOUND) == ()


@pytest.mark.parametrize(
    ("overrides", "expected"),
    [
        (
            ["radio.channel=83"],
            "radio.channel: 83 may leave the band of 2400 to 2483.5 MHz (1 to 82 stay inside); "
            "check your local radio rules, licensed practice and local codes",
        ),
        (
            ["radio.channel=1", "radio.profile=gfsk-2M"],
            "radio.channel: 1 may leave the band of 2400 to 2483.5 MHz (2 to 82 stay inside); "
            "check your local radio rules, licensed practice and local codes",
        ),
        (
            [
                "transmitter.drive.address=C3 A1 5E 7B 01",
                "transmitter.head.address=C3 A1 5E 7B 01",
            ],
            "transmitter.head.address: is transmitter.drive's too: each takes the other's "
            "acknowledgements for its own",
        ),
        (
            ["transmitter.drive.address=44 44 44 44 44"],
            "transmitter.drive.address: noise is easily taken for it: all its bytes are equal",
        ),
        (
            ["transmitter.head.retry_delay_us=750"],
            "transmitter.head.retry_delay_us: 750 us (step 2) is transmitter.drive's too: two "
            "that collide once collide on every retry",
        ),
        (
            ["transmitter.head.retry_delay_us=800"],
            "transmitter.head.retry_delay_us: 800 is no delay that radios know: steps of 250 up "
            "to 4000; next to it are 750 us (step 2) and 1000 us (step 3)",
        ),
        (
            ["transmitter.head.retry_delay_us=5000", "transmitter.head.retry_limit=1"],
            "transmitter.head.retry_delay_us: 5000 is no delay that radios know: steps of 250 up "
            "to 4000; the last is 4000 us (step 15)",
        ),
        (
            [
                "radio.profile=gfsk-2M",
                "transmitter.drive.retry_delay_us=250",
                "receiver.acknowledge_payload_bytes=16",
            ],
            # Source: PS 7.4.2 (facts: S): 15 bytes at 2 Mbit/s and 250 us.
            "transmitter.drive.retry_delay_us: 250 us (step 0) is below the printed limit for "
            "acknowledgements of 16 bytes: 500 us (step 1)",
        ),
        (
            ["radio.acknowledge_window_us=40"],
            "radio.acknowledge_window_us: 40 is over before an acknowledgement's address is (48 "
            "us): no "
            "acknowledgement is ever heard",
        ),
        (
            ["radio.payload_length=32", "transmitter.head.payload_length=16"],
            "transmitter.head.payload_length: 16 is not the receiver's (32): none of its frames "
            "is ever received",
        ),
        (
            ["failsafe.drive.timeout_ms=39", "receiver.clock_tick_ms=20"],
            "failsafe.drive.timeout_ms: 39 is 1 whole step of the receiver's clock "
            "(receiver.clock_tick_ms 20), and can be over 20 ms after a frame: it trips between "
            "frames (transmitter.drive.period_ms 20)",
        ),
        (
            ["failsafe.drive.timeout_ms=20"],
            "failsafe.drive.timeout_ms: 20 is no longer than transmitter.drive.period_ms (20): it "
            "trips between frames",
        ),
        (
            ["failsafe.drive={ timeout_ms = 250, watch_field = 'value' }"],
            "failsafe.drive.watch_field: 'value' is not fed by a counter: failsafe comes on "
            "whenever its value rests",
        ),
        (
            ["output.a={ stream = 'drive', field = 'value', on_failsafe = 'off' }"],
            "output.a.on_failsafe: never happens: drive has no failsafe",
        ),
        (
            ["output.a={ stream = 'drive', field = 'value', at_start = 900 }"],
            "output.a.at_start: 900 is cut to limit_us, 1000 to 2000",
        ),
        (
            [
                "failsafe.drive.timeout_ms=250",
                "output.a={ stream = 'drive', field = 'value', on_failsafe = { preset_us = 900 } }",
            ],
            "output.a.on_failsafe.preset_us: 900 is cut to limit_us, 1000 to 2000",
        ),
        (
            ["fault.0={ at_s = 600, kind = 'hang', unit = 'receiver' }"],
            "fault[0].at_s: 600 is never reached: a start lasts 600 s",
        ),
        (
            ["fault.0={ at_s = 1, kind = 'reset', unit = 'receiver', for_s = 1 }"],
            "fault[0].for_s: has no effect: reset happens at one instant",
        ),
        (
            ["fault.0={ at_s = 1, kind = 'power_on', unit = 'drive' }"],
            "fault[0].kind: has no effect: drive is on at 1 s",
        ),
        (
            [
                "transmitter.head.start_s=2",
                "fault.0={ at_s = 1, kind = 'hang', unit = 'head', for_s = 1 }",
            ],
            "fault[0].at_s: 1 is before transmitter.head.start_s (2): nothing is on yet that could "
            "have hang",
        ),
        (
            [
                "fault.0={ at_s = 1, kind = 'stale', unit = 'head' }",
                "fault.1={ at_s = 5, kind = 'stale', unit = 'head', for_s = 1 }",
            ],
            "fault[1]: overlaps fault[0], stale of head too: the two count as one",
        ),
        (
            ["duration_s=2", "failsafe.drive.timeout_ms=2000"],
            "failsafe.drive.timeout_ms: 2000 is not shorter than a start (2 s): it never trips",
        ),
        (
            # 17 us of upload, 130 of settling, 4 attempts of 121 and 750 + 130 after each.
            ["transmitter.drive.period_ms=4"],
            "transmitter.drive.period_ms: 4 is shorter than a frame with all its retries takes "
            "(4.15 ms): samples are skipped then",
        ),
        (
            # In three digits as long as the period.
            ["transmitter.drive.period_ms=4.15"],
            "transmitter.drive.period_ms: 4.15 is shorter than a frame with all its retries takes "
            "(4.151 ms): samples are skipped then",
        ),
        (
            ["transmitter.drive.dither_ms=16.5"],
            "transmitter.drive.period_ms: 3.5 (20 less dither_ms) is shorter than a frame with all "
            "its retries takes (4.15 ms): samples are skipped then",
        ),
        (
            ["failsafe.drive.timeout_ms=25", "transmitter.drive.dither_ms=6"],
            "failsafe.drive.timeout_ms: 25 is no longer than transmitter.drive.period_ms (26 with "
            "dither_ms): it trips between frames",
        ),
        (
            ["transmitter.drive.period_ms=0.4", "transmitter.drive.when_busy=queue"],
            "transmitter.drive.period_ms: 0.4 is shorter than one attempt takes (0.479 ms): "
            "frames queue up then",
        ),
    ],
)
def test_what_looks_wrong_is_told(overrides: list[str], expected: str) -> None:
    assert warnings(SOUND, *overrides) == (expected,)


@pytest.mark.parametrize(
    "overrides",
    [
        [
            "fault.0={ at_s = 1, kind = 'power_off', unit = 'drive' }",
            "fault.1={ at_s = 2, kind = 'power_on', unit = 'drive' }",
            "fault.2={ at_s = 3, kind = 'power_off', unit = 'drive' }",
        ],
        ["transmitter.head.start_s=2", "fault.0={ at_s = 1, kind = 'power_on', unit = 'head' }"],
        [
            "fault.0={ at_s = 1, kind = 'stale', unit = 'head' }",
            "fault.1={ at_s = 1, kind = 'stale', unit = 'drive' }",
            "fault.2={ at_s = 1, kind = 'reset', unit = 'drive' }",
            "fault.3={ at_s = 1, kind = 'reset', unit = 'drive' }",
        ],
        ["transmitter.drive.period_ms=4.2"],
        ["transmitter.drive.period_ms=4", "transmitter.drive.acknowledge=flag"],
    ],
)
def test_what_only_seems_wrong_is_not_told(overrides: list[str]) -> None:
    assert warnings(SOUND, *overrides) == ()


def test_streams_that_ask_for_no_acknowledgement_may_share_a_delay() -> None:
    text = SOUND.replace("period_ms", "acknowledge = false, period_ms").replace("1000", "750")

    assert warnings(text) == ()


@pytest.mark.parametrize(
    ("address", "reason"),
    [
        ("00 00 00 00 00", "all its bytes are equal"),
        ("FF FF 00 00 00", "its level changes only once"),
        ("AA 17 33 5C 02", "it goes on toggling as the preamble does"),
        ("C3 A1 5E 7B 01", ""),
    ],
)
def test_the_address_advice_is_followed(address: str, reason: str) -> None:
    # Source: PS1 note 16 (facts: S).
    assert poor_pattern(bytes.fromhex(address)) == reason
