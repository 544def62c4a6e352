"""Figures of small runs against what is worked out by hand: one transmitter every 20 ms from 1 ms
on, 50 frames a second, nothing left to chance."""

import pytest
from msgspec import UNSET
from msgspec.structs import replace

from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.measure.summary import Figures, NoiseFigures, StreamFigures
from radiosim.scenario import parse
from radiosim.trace import FIRST_NOISE

BASE = """
duration_s = 2
radio.profile = "gfsk-1M"
radio.power_on_reset_ms = 0
radio.crystal_start_us = 0
air.loss = 0
air.acknowledge_loss = 0
[transmitter.drive]
period_ms = 20
offset_ms = 1
clock_ppm = 0
payload_bytes = 8
boot_s = 0
[receiver]
read = "all"
clock_ppm = 0
boot_s = 0
loop_ms = 1
"""
FRAMES = 100
HEAD = """
[transmitter.head]
period_ms = 20
offset_ms = 1
clock_ppm = 0
payload_bytes = 8
boot_s = 0
"""


def figures(*overrides: str, more: str = "") -> Figures:
    return summarise(simulate(parse(BASE + more, overrides=overrides))).figures


def drive(*overrides: str, more: str = "") -> StreamFigures:
    return figures(*overrides, more=more).stream["drive"]


def test_a_sound_link_brings_every_frame_at_its_first_attempt() -> None:
    found = drive()

    counts = (found.sampled, found.sent, found.attempts, found.acknowledged, found.received_new)
    assert counts == (FRAMES,) * 5
    assert (found.read, found.delivery_ratio) == (FRAMES, 1.0)
    # The receiver's radio takes 0.13 ms to be up, from which the rate counts.
    assert found.update_rate_hz == pytest.approx(50.0, rel=1e-4)
    assert (found.attempts_per_frame, found.worst_second_updates) == (1.0, 50)
    assert (found.under_way, found.waiting, found.never_accepted) == (0, 0, 0)
    assert found.gap_ms.median == pytest.approx(20, rel=0.06)
    assert found.latency_ms.max is not None
    assert found.latency_ms.max < 2.5


def test_where_nothing_comes_through_every_retry_is_lost() -> None:
    found = drive("air.loss=1", "transmitter.drive.retry_limit=3")

    assert (found.retries_used_up, found.lost_chance) == (FRAMES, 4 * FRAMES)
    assert (found.never_accepted, found.read, found.update_rate_hz) == (FRAMES, 0, 0.0)
    assert (found.attempts, found.attempts_per_frame) == (4 * FRAMES, 4.0)
    assert (found.longest_gap_at_s, found.longest_gap_start) == (0.001, 0)
    assert found.gap_ms.max == 1999.0


def test_where_no_acknowledgement_comes_through_retries_are_duplicates() -> None:
    found = drive("air.acknowledge_loss=1", "transmitter.drive.retry_limit=3")

    assert (found.received_new, found.duplicates) == (FRAMES, 3 * FRAMES)
    assert (found.acknowledgements_lost, found.acknowledged) == (4 * FRAMES, 0)


def test_two_that_always_send_together_lose_every_attempt() -> None:
    plain = ("transmitter.drive.acknowledge='flag'", "transmitter.head.acknowledge='flag'")
    found = figures(*plain, more=HEAD)

    assert found.stream["drive"].lost_collision == found.stream["head"].lost_collision == FRAMES
    assert found.air.collisions == 2 * FRAMES


def test_the_air_is_taken_by_frames_and_acknowledgements() -> None:
    found = figures()
    # Preamble, 5 bytes of address, 9 bits of header, payload, 2 bytes of CRC, at 1 bit in a us.
    frame_us, acknowledgement_us = 8 * (1 + 5 + 8 + 2) + 9, 8 * (1 + 5 + 2) + 9

    assert found.stream["drive"].duty_cycle == pytest.approx(50 * frame_us / 1e6)
    assert found.air.occupancy == pytest.approx(50 * (frame_us + acknowledgement_us) / 1e6)


@pytest.mark.parametrize(
    ("kind", "unit", "figure"),
    [
        ("out_of_range", "drive", "lost_range"),
        ("power_off", "receiver", "lost_off"),
        ("jam", "air", "lost_collision"),
    ],
)
def test_a_fault_takes_every_attempt_of_its_half_of_the_run(
    kind: str, unit: str, figure: str
) -> None:
    plain = 'transmitter.drive.acknowledge="flag"'
    fault = f'\n[[fault]]\nat_s = 1\nkind = "{kind}"\nunit = "{unit}"\n'

    assert getattr(drive(plain, more=fault), figure) == FRAMES // 2


def test_a_power_cut_in_a_frame_ends_its_attempt_and_takes_what_waits() -> None:
    # On the air from 1001 ms + upload and 130 us to settle, for 137 us.
    cut = '\n[[fault]]\nat_s = 1.00125\nkind = "power_off"\nunit = "drive"\n'
    before = '\n[[fault]]\nat_s = 1.00105\nkind = "power_off"\nunit = "drive"\n'
    plain = 'transmitter.drive.acknowledge="flag"'

    assert drive(plain, more=cut).lost_cut == 1
    assert drive(plain, more=before).power_cut == 1


def test_a_receiver_that_is_deaf_for_half_of_the_time_loses_half_of_the_attempts() -> None:
    plain = 'transmitter.drive.acknowledge="flag"'
    deaf = "receiver.deaf=[{every_ms=40, for_ms=20, offset_ms=0}]"

    assert drive(plain, deaf).lost_deaf == FRAMES // 2


def test_a_transmitter_that_is_busy_for_three_periods_skips_replaces_or_queues() -> None:
    busy = ("air.loss=1", "transmitter.drive.retry_limit=15")
    slow = ("transmitter.drive.retry_delay_us=4000", "radio.fifo_frames=3")
    # A frame and its retries take 16 attempts of 4 ms and more: longer than three periods.
    skip = drive(*busy, *slow, "transmitter.drive.when_busy=skip")
    replaced = drive(*busy, *slow, "transmitter.drive.when_busy=replace")
    queue = drive(*busy, *slow, "transmitter.drive.when_busy=queue")

    assert skip.skipped == FRAMES - FRAMES // 4
    assert replaced.replaced == pytest.approx(FRAMES - FRAMES * 20 / 66.5, abs=3)
    assert queue.queue_full == pytest.approx(FRAMES - FRAMES * 20 / 66.5, abs=4)


def test_a_slow_program_drops_throws_away_and_leaves_waiting() -> None:
    slow = ("transmitter.drive.acknowledge='flag'", "receiver.loop_ms=199.9")
    newest = drive(*slow, "receiver.read=newest", "radio.fifo_frames=2")
    one = drive(*slow, "receiver.read=one", "radio.fifo_frames=2")

    # Ten frames a pass: two find room, of which the newer is used.
    assert newest.fifo_dropped == pytest.approx(80, abs=2)
    assert newest.thrown_away == pytest.approx(10, abs=1)
    # The last pass, at 1,999 ms, has read one of the two.
    assert one.waiting == 1


NOISY = (
    *("radio.bit_rate=100_000_000", "radio.address_bytes=3", "radio.crc_bytes=0"),
    *("radio.noise_frames=true", "transmitter.drive.acknowledge=false"),
)
"""Noise passes for a frame six times a second."""


def test_noise_is_counted_beside_frames_and_is_none_of_them() -> None:
    given = parse(BASE, overrides=NOISY)
    trace = simulate(given)
    found = summarise(trace).figures.stream["drive"]

    assert isinstance(found.noise, NoiseFigures)
    assert found.noise.frames == sum(trace.reads["frame"] <= FIRST_NOISE) > 3
    assert found.noise.per_hour == found.noise.frames * 1800
    assert found.noise.expected_per_hour == pytest.approx(3600 * 1e8 / 2**24)
    # What it says is no value of the transmitter.
    quiet = drive(*NOISY, "radio.noise_frames=false")
    assert (quiet.noise, quiet.read) == (UNSET, FRAMES)
    assert (found.sampled, found.received_new, found.read) == (FRAMES,) * 3
    # It takes the program the time of a read.
    assert found.gap_ms.max == pytest.approx(quiet.gap_ms.max, abs=0.2)
    assert found.latency_ms.mean == pytest.approx(quiet.latency_ms.mean, abs=0.05)
    assert (found.gap_ms.n, found.age_ms.n) == (quiet.gap_ms.n, quiet.age_ms.n)


def test_a_timer_shorter_than_the_period_trips_after_every_frame() -> None:
    timer = "\n[failsafe.drive]\ntimeout_ms = 10\n"
    given = parse(BASE + timer)
    tallies = [tally_start(simulate(given, start=k)) for k in range(2)]
    failsafe = summary_of(replace(given, starts=2), tallies).figures.stream["drive"].failsafe

    assert failsafe is not None
    assert failsafe.nuisance_trips == pytest.approx(2 * FRAMES, abs=2)
    assert failsafe.nuisance_per_hour == failsafe.nuisance_trips * 3600 / 4
    assert failsafe.starts_with_nuisance == 2
    # On from the first pass after 10 ms to the next read: about half of the time.
    assert failsafe.seconds_on == pytest.approx(2.0, rel=0.1)


def test_a_fault_for_good_is_one_trip_and_failsafe_to_the_end() -> None:
    more = (
        "\n[failsafe.drive]\ntimeout_ms = 100\n"
        '[[fault]]\nat_s = 1\nkind = "power_off"\nunit = "drive"\n'
    )
    failsafe = drive(more=more).failsafe

    assert failsafe is not None
    assert (failsafe.trips_on_fault, failsafe.nuisance_trips) == (1, 0)
    # The last frame is of 981 ms.
    assert failsafe.seconds_on == pytest.approx(0.918, abs=0.003)


def test_a_servo_at_50_hz_takes_a_fresh_value_a_pulse() -> None:
    more = '\n[output.pan]\nstream = "drive"\nfield = "value"\nrefresh_hz = 50\nphase_ms = 10\n'
    pan = figures(more=more).output["pan"]

    assert pan.refresh_hz == 50
    assert pan.update_rate_hz == pytest.approx(50, abs=1)
    assert pan.latency_ms.max is not None
    assert 9 < pan.latency_ms.max < 12


def test_a_fault_is_over_and_reacted_to_when_it_must_be() -> None:
    more = (
        "\n[failsafe.drive]\ntimeout_ms = 100\n"
        '[output.lamp]\nstream = "drive"\nfield = "value"\nkind = "pin"\non_failsafe = "off"\n'
        '[[fault]]\nat_s = 1\nkind = "power_off"\nunit = "drive"\nfor_s = 0.5\n'
    )
    given = parse(BASE + more)
    tallies = [tally_start(simulate(given, start=k)) for k in range(2)]
    (fault,) = summary_of(replace(given, starts=2), tallies).figures.faults

    # The last frame is of 981 ms; the first again, of the grid that begins at the boot.
    assert fault.over_ms == 500
    assert fault.reaction_ms == pytest.approx(82, abs=2)
    assert fault.recovered_ms == pytest.approx(2, abs=1.5)
    assert (fault.starts_without_reaction, fault.unrecovered_starts) == (0, 0)
    assert fault.starts_without_effect == 0
