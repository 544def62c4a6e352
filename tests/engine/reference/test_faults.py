"""Power cuts, resets and hangs of both ends (rules A5 and E3), and what comes first (rule T4).

Instants in µs; the arithmetic of one frame stands in hand_made.py.
"""

from typing import Any

import pytest

from tests.engine.reference.hand_made import (
    FLAG,
    acknowledgements,
    attempts,
    fates,
    frames,
    numbers,
    passes,
    reads,
    samples,
    start,
    starts,
    us,
)


def fault(kind: str, unit: str, at_us: float, for_us: float | None = None) -> dict[str, Any]:
    """A fault at an instant."""
    lasts = {} if for_us is None else {"for_s": for_us / 1e6}
    return {"kind": kind, "unit": unit, "at_s": at_us / 1e6} | lasts


# A transmitter's power and program.


def test_power_on_boots_again_and_starts_grid_and_packet_number_afresh() -> None:
    # Up at 1000: 1000, 6000, 11000; off from 12000 to 15000, up at 16000.
    trace = start({"a": {"boot_s": 0.001}}, ms=28, fault=[fault("power_off", "a", 12000, 3000)])

    assert samples(trace) == [1000, 6000, 11000, 16000, 21000, 26000]
    assert numbers(trace) == [(0, 0), (1, 1), (2, 2), (3, 0), (4, 1), (5, 2)]


def test_a_program_reset_alone_starts_the_grid_afresh_and_no_packet_number() -> None:
    # Reset at 12000, up at 13000.
    trace = start({"a": {"boot_s": 0.001}}, ms=20, fault=[fault("reset", "a", 12000)])

    assert samples(trace) == [1000, 6000, 11000, 13000, 18000]
    assert numbers(trace) == [(0, 0), (1, 1), (2, 2), (3, 3), (4, 0)]


def test_a_program_reset_leaves_the_attempt_on_the_air_alone() -> None:
    trace = start({"a": {"period_ms": 50}}, ms=3, fault=[fault("reset", "a", 300)])

    assert attempts(trace)[0] == (0, 200, "new")
    assert frames(trace)[0] == (0, 610, "acknowledged")


def test_a_power_cut_in_mid_attempt_loses_the_frame() -> None:
    trace = start({"a": {}}, ms=3, fault=[fault("power_off", "a", 300)])

    assert attempts(trace) == [(0, 200, "cut")]
    assert us(trace.attempts["end_ns"][0]) == 300
    assert frames(trace) == [(0, 300, "power cut")]
    assert acknowledgements(trace) == []


@pytest.mark.parametrize(("cut_us", "fate"), [(250, "new"), (251, "collision"), (300, "collision")])
def test_an_attempt_interferes_until_its_power_is_cut(cut_us: float, fate: str) -> None:
    # The other is on the air from 250.
    transmitters = {"a": FLAG, "b": FLAG | {"offset_ms": 0.05}}
    trace = start(transmitters, ms=3, fault=[fault("power_off", "a", cut_us)])

    assert fates(trace, 1) == [fate]


@pytest.mark.parametrize("cut_us", [100, 550, 2000])
def test_a_power_cut_loses_what_its_program_and_radio_hold(cut_us: float) -> None:
    # Uploading, listening, and between the attempts 1600–1800 and 2300–2500.
    trace = start({"a": {}}, ms=3, air={"loss": 1}, fault=[fault("power_off", "a", cut_us)])

    assert frames(trace) == [(0, cut_us, "power cut")]
    assert all(at_us < cut_us for at_us in starts(trace))


def test_a_reset_loses_the_sample_that_its_program_holds() -> None:
    # One sample is prepared until 400; the other, of 700, waits for the radio.
    keys = {"when_busy": "wait", "period_ms": 0.7}
    prepared = start({"a": keys | {"prepare_us": 400}}, ms=1, fault=[fault("reset", "a", 350)])
    waiting = start({"a": keys}, ms=1, air={"loss": 1}, fault=[fault("reset", "a", 800)])

    assert frames(prepared)[0] == (0, 350, "power cut")
    assert frames(waiting)[1] == (1, 800, "power cut")


def test_nothing_is_sampled_by_a_program_that_hangs() -> None:
    trace = start({"a": {}}, ms=23, fault=[fault("hang", "a", 4000, 8000)])

    assert samples(trace) == [0, 15000, 20000]


def test_a_frozen_transmitter_sends_the_values_of_its_last_frame() -> None:
    trace = start({"a": {}}, ms=23, fault=[fault("stale", "a", 7000, 9000)])

    # Frames of 10000 and 15000 carry what was taken at 5000.
    assert [us(at_ns) for at_ns in trace.frames["values_ns"]] == [0, 5000, 5000, 5000, 20000]
    assert trace.frames["values_frame"].tolist() == [0, 1, 1, 1, 4]
    assert samples(trace) == [0, 5000, 10000, 15000, 20000]


def test_a_boot_thaws_a_frozen_transmitter() -> None:
    # Samples at 3000 and 8000, and after the reset at 15000 and 20000.
    faults = [fault("stale", "a", 7000), fault("reset", "a", 12000)]
    trace = start({"a": {"offset_ms": 3}}, ms=23, fault=faults)

    assert [us(at_ns) for at_ns in trace.frames["values_ns"]] == [3000, 3000, 15000, 20000]


def test_a_transmitter_that_froze_before_its_first_sample_knows_no_older_values() -> None:
    # Stale at 13000, after the reset and before the sample of 15000.
    faults = [fault("reset", "a", 12000), fault("stale", "a", 13000)]
    trace = start({"a": {"offset_ms": 3}}, ms=28, fault=faults)

    assert [us(at_ns) for at_ns in trace.frames["values_ns"]] == [3000, 8000, 15000, 15000, 15000]


def test_a_transmitter_whose_radio_lost_its_settings_sends_nothing_until_it_looks() -> None:
    # It looks every 8000; the radio is ready 100 later, at 16100, with packet numbers afresh.
    faults = [fault("radio_reset", "a", 9000)]
    never = start({"a": {}}, ms=23, fault=faults)
    looks = start({"a": {"recheck_ms": 8}}, ms=23, fault=faults)

    assert starts(never) == [200, 5200]
    assert [row[2] for row in frames(never)[2:]] == ["power cut"] * 3
    assert starts(looks) == [200, 5200, 20200]
    assert numbers(looks) == [(0, 0), (1, 1), (4, 0)]


# The receiver's power.

LATE_PASS = {"loop_ms": 50}


@pytest.mark.parametrize(("on_air_us", "fate"), [(3399, "off"), (3400, "new")])
def test_a_receiver_is_deaf_until_all_of_its_power_on_is_over(on_air_us: float, fate: str) -> None:
    # Power-on reset 2000, boot 1000, crystal 300, settle 100.
    trace = start(
        {"a": FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}},
        radio={"power_on_reset_ms": 2, "crystal_start_us": 300},
        receiver={"boot_s": 0.001},
    )

    assert attempts(trace) == [(0, on_air_us, fate)]


@pytest.mark.parametrize(("on_air_us", "fate"), [(5999, "off"), (11100, "new"), (11099, "off")])
def test_a_receiver_hears_nothing_without_power_and_while_it_boots(
    on_air_us: float, fate: str
) -> None:
    # Off at 6000, on at 10000, boot 1000, settle 100.
    trace = start(
        {"a": FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}},
        receiver={"boot_s": 0.001},
        fault=[fault("power_off", "receiver", 6000, 4000)],
    )

    assert attempts(trace) == [(0, on_air_us, fate)]


def test_a_power_cut_loses_what_waits_in_the_receivers_fifo() -> None:
    trace = start({"a": {}}, ms=9, receiver=LATE_PASS, fault=[fault("power_off", "receiver", 8000)])

    assert reads(trace) == [(0, 0, 8000, "lost with the fifo"), (0, 1, 8000, "lost with the fifo")]


# Accepted at 410, its acknowledgements are lost; between the attempts of 200 and 900 something goes
# wrong.
RETRIED = {"a": {"retry_limit": 1, "period_ms": 50}}


def test_packet_memory_does_not_survive_a_power_cut_of_the_receiver() -> None:
    # Off from 650 to 700, up at 800.
    trace = start(
        RETRIED,
        ms=3,
        air={"acknowledge_loss": 1},
        fault=[fault("power_off", "receiver", 650, 50)],
    )

    assert attempts(trace) == [(0, 200, "new"), (0, 900, "new")]


def test_packet_memory_survives_with_the_radio() -> None:
    trace = start(
        RETRIED, ms=3, air={"acknowledge_loss": 1}, fault=[fault("reset", "receiver", 650)]
    )

    assert attempts(trace) == [(0, 200, "new"), (0, 900, "duplicate")]


def test_a_radio_that_does_not_survive_forgets_with_the_program() -> None:
    # Up again at 750.
    trace = start(
        RETRIED,
        ms=3,
        air={"acknowledge_loss": 1},
        receiver={"radio_survives": False},
        fault=[fault("reset", "receiver", 650)],
    )

    assert attempts(trace) == [(0, 200, "new"), (0, 900, "new")]


def test_a_power_cut_ends_the_acknowledgement_on_the_air() -> None:
    trace = start({"a": {}}, ms=1.5, fault=[fault("power_off", "receiver", 550)])

    assert acknowledgements(trace) == [(500, 550, "cut", 0)]
    assert attempts(trace) == [(0, 200, "new"), (0, 900, "off")]


# The receiver's program alone: up at 10100, reset at 20000, up at 30000.
BOOTS = {"boot_s": 0.01}
EVERY_2_MS = {"a": {"period_ms": 2, "retry_limit": 0}}
RESET = fault("reset", "receiver", 20000)


def test_a_surviving_radio_receives_and_acknowledges_until_its_fifo_is_full() -> None:
    trace = start(EVERY_2_MS, ms=31, receiver=BOOTS, fault=[RESET])

    # Sampled from 20000 to 28000: three fit.
    assert fates(trace)[10:15] == ["new", "new", "new", "full", "full"]
    assert [row[2] for row in frames(trace)[10:15]] == ["acknowledged"] * 3 + [
        "retries used up"
    ] * 2
    assert [row for row in reads(trace) if row[1] >= 10][:3] == [
        (0, n, 30000, "read") for n in (10, 11, 12)
    ]
    # The three make room for that of 30000.
    assert fates(trace)[15] == "new"


def test_a_radio_may_be_deaf_until_the_program_is_back_and_keep_what_it_has() -> None:
    trace = start(EVERY_2_MS, ms=33, receiver=BOOTS | {"listens_in_boot": False}, fault=[RESET])

    # Sampled from 20000 to 28000: none heard, none acknowledged. The packet number of the one of
    # 28000 is that of the last that was taken, and so is its CRC; but it was not heard either.
    assert fates(trace)[9:15] == ["new", *["deaf"] * 5]
    assert [row[2] for row in frames(trace)[10:15]] == ["retries used up"] * 5
    assert fates(trace)[15:] == ["new", "new"]
    # The FIFO is kept: what came at 19810, before the reset, is read after it.
    late = start(
        EVERY_2_MS,
        ms=33,
        receiver=BOOTS | {"listens_in_boot": False, "delay_ms": 4},
        fault=[fault("reset", "receiver", 20450)],
    )
    assert (0, 10, 30450, "read") in reads(late)
    # One that was on the air as the program went down is not heard.
    cut = start(
        EVERY_2_MS,
        ms=33,
        receiver=BOOTS | {"listens_in_boot": False},
        fault=[fault("reset", "receiver", 20300)],
    )
    assert fates(cut)[9:12] == ["new", "deaf", "deaf"]


def test_a_reset_has_a_boot_of_its_own() -> None:
    # Reset at 20000: up at 23000; off from 26000 to 27000: up at 37100, with the radio.
    cut = fault("power_off", "receiver", 26000, 1000)
    apart = BOOTS | {"reset_boot_s": 0.003}
    trace = start(EVERY_2_MS, ms=40, receiver=apart, fault=[RESET, cut])

    assert [row for row in reads(trace) if row[1] == 10] == [(0, 10, 23000, "read")]
    assert [fate for _, at_us, fate in attempts(trace) if 26000 < at_us < 37100] == ["off"] * 6
    # 20000 to 23000, and 3100 with a radio that does not survive.
    trace = start(EVERY_2_MS, ms=31, receiver=apart | {"radio_survives": False}, fault=[RESET])
    assert fates(trace)[9:13] == ["new", "off", "off", "new"]


def test_a_program_that_boots_may_empty_the_fifo() -> None:
    trace = start(EVERY_2_MS, ms=31, receiver=BOOTS | {"flush_on_boot": True}, fault=[RESET])

    assert [row for row in reads(trace) if row[1] >= 10][:3] == [
        (0, n, 30000, "lost with the fifo") for n in (10, 11, 12)
    ]


def test_a_radio_that_does_not_survive_is_off_while_the_program_boots() -> None:
    # Up at 30100.
    trace = start(EVERY_2_MS, ms=33, receiver=BOOTS | {"radio_survives": False}, fault=[RESET])

    assert fates(trace)[9:] == ["new", "off", "off", "off", "off", "off", "new", "new"]


@pytest.mark.parametrize("survives", [True, False])
def test_a_brownout_is_a_reset_that_lasts(survives: bool) -> None:
    # Held from 20000 to 22000, up at 32000, or at 32100 with the radio.
    trace = start(
        EVERY_2_MS,
        ms=35,
        receiver=BOOTS | {"radio_survives": survives},
        fault=[fault("brownout", "receiver", 20000, 2000)],
    )

    # Three refused in a row, and an unchanged fourth: taken for a duplicate (rule D3).
    during = ["new"] * 3 + ["full"] * 3 if survives else ["off"] * 6
    assert fates(trace)[10:17] == [*during, "duplicate" if survives else "new"]


def test_passes_start_afresh_with_the_program() -> None:
    # Passes at 100 + 1000·k; reset at 2650, and passes at 2650 + 1000·k.
    trace = start(
        {"a": FLAG | {"offset_ms": 3, "period_ms": 50}},
        ms=6,
        fault=[fault("reset", "receiver", 2650)],
    )

    assert passes(trace) == [(3650, 4750, 1)]


# The receiver's radio alone.


@pytest.mark.parametrize(("on_air_us", "fate"), [(6000, "off"), (8199, "off"), (8200, "new")])
def test_a_radio_that_lost_its_settings_is_dead_until_the_program_looks(
    on_air_us: float, fate: str
) -> None:
    # The program, up at 100, looks every 4000: at 8100; the radio is ready 100 later.
    trace = start(
        {"a": FLAG | {"offset_ms": (on_air_us - 200) / 1000, "period_ms": 50}},
        receiver={"recheck_ms": 4},
        fault=[fault("radio_reset", "receiver", 5000)],
    )

    assert attempts(trace) == [(0, on_air_us, fate)]


def test_without_a_look_the_radio_is_dead_until_the_next_power_on() -> None:
    faults = [fault("radio_reset", "receiver", 5000)]
    for_good = start(EVERY_2_MS, ms=20, fault=faults)
    # Off at 13000, up at 14100.
    back = start(EVERY_2_MS, ms=20, fault=[*faults, fault("power_off", "receiver", 13000, 1000)])

    assert fates(for_good) == ["new"] * 3 + ["off"] * 7
    assert fates(back) == ["new"] * 3 + ["off"] * 4 + ["new"] * 3


def test_a_radio_that_lost_its_settings_lost_its_fifo_too() -> None:
    trace = start(
        {"a": {}},
        ms=9,
        receiver=LATE_PASS,
        fault=[fault("radio_reset", "receiver", 3000)],
    )

    assert reads(trace) == [(0, 0, 3000, "lost with the fifo")]


# The receiver's program stands still. Passes: 100, 1100 (reads), 2200, 3200 (reads), 4300,
# 5300 (reads), 6400.


def test_a_hang_shifts_the_passes_by_the_time_it_stood() -> None:
    # From 5350 to 7550: the pass of 6400 comes at 8600, and reads those of 6410 and 8410.
    trace = start({"a": {"period_ms": 2}}, ms=9.9, fault=[fault("hang", "receiver", 5350, 2200)])

    assert passes(trace) == [(1100, 2200, 1), (3200, 4300, 1), (5300, 6400, 1), (8600, 9800, 2)]


def test_a_radio_goes_on_while_its_program_hangs() -> None:
    trace = start(EVERY_2_MS, ms=20, fault=[fault("hang", "receiver", 5350)])

    # Sampled at 6000, 8000 and 10000.
    assert fates(trace) == ["new"] * 6 + ["full"] * 4
    assert [row[2] for row in frames(trace)[3:6]] == ["acknowledged"] * 3
    assert [row[3] for row in reads(trace)[3:]] == ["waiting"] * 3


def test_a_watchdog_resets_a_program_that_hangs() -> None:
    # From 5350; the watchdog bites at 8350, and the first pass reads that of 6410.
    trace = start(
        {"a": {"period_ms": 2}},
        ms=10,
        receiver={"watchdog_ms": 3},
        fault=[fault("hang", "receiver", 5350)],
    )

    assert passes(trace)[3:] == [(8350, 9450, 1), (9450, 10550, 1)]


def test_interrupts_read_nothing_while_the_program_hangs() -> None:
    trace = start(
        {"a": {"period_ms": 2}},
        ms=9,
        receiver={"interrupt": True},
        fault=[fault("hang", "receiver", 5350, 2200)],
    )

    assert [row[2] for row in reads(trace)] == [410, 2410, 4410, 7550, 8410]


# What comes first at one instant.


def test_a_power_cut_comes_before_the_sample_of_its_instant() -> None:
    assert samples(start({"a": {}}, ms=12, fault=[fault("power_off", "a", 5000)])) == [0]


def test_a_power_cut_comes_after_the_end_of_a_frame() -> None:
    trace = start({"a": FLAG}, ms=3, fault=[fault("power_off", "a", 400)])

    assert attempts(trace) == [(0, 200, "new")]
    assert frames(trace) == [(0, 400, "sent")]


@pytest.mark.parametrize(("cut_us", "outcome"), [(1100, "lost with the fifo"), (1101, "read")])
def test_a_power_cut_comes_before_the_pass_of_its_instant(cut_us: float, outcome: str) -> None:
    trace = start({"a": FLAG}, ms=3, fault=[fault("power_off", "receiver", cut_us)])

    assert reads(trace) == [(0, 0, 1100, outcome)]


def test_an_interrupt_reads_before_a_power_cut_of_its_instant() -> None:
    trace = start(
        {"a": FLAG},
        ms=3,
        receiver={"interrupt": True},
        fault=[fault("power_off", "receiver", 410)],
    )

    assert reads(trace) == [(0, 0, 410, "read")]


def test_the_end_of_a_boot_comes_before_a_start_on_the_air() -> None:
    # The receiver is up at 200.
    trace = start({"a": FLAG}, ms=3, receiver={"boot_s": 0.0001})

    assert attempts(trace) == [(0, 200, "new")]
