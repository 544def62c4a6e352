"""Logs of simulated starts: read back through files, they tell what the start had drawn."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from radiosim.bench_log.csv_records import HEADER, Names, csv_lines
from radiosim.bench_log.estimates import loss_runs, mean, period_us, seen_of
from radiosim.bench_log.lives import counts_of, unit_log
from radiosim.bench_log.probe_records import encoded
from radiosim.bench_log.read import read_logs
from radiosim.bench_log.records import RECEIVER, Event, Records, of_event
from radiosim.scenario import parse
from radiosim.study.fit.simulated import logs_of, with_losses
from radiosim.trace import READ, Trace
from radiosim.vehicle.feedback import simulate

LINK = """
duration_s = 60
radio.profile = "gfsk-1M"
receiver = { boot_s = 1, loop_ms = 3, clock_ppm = 4_000 }
air.loss = 0.1
transmitter.drive = { period_ms = 20, payload_bytes = 6, retry_limit = 0, clock_ppm = -1_000 }
failsafe.drive = { timeout_ms = 250 }
output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
[[fault]]
at_s = 40
kind = "power_off"
unit = "drive"
for_s = 5
"""
STAMP = 0xC0FFEE01


@cache
def trace() -> Trace:
    return simulate(parse(LINK))


@cache
def logs() -> dict[str, Records]:
    return logs_of(trace(), STAMP)


NAMES = Names(transmitters=("drive",), outputs=("motor",))


def test_a_log_has_every_read_in_order_and_the_stamp() -> None:
    log = unit_log(logs()[RECEIVER], RECEIVER, "a")
    counts, again = (counts_of(of_event(life, Event.READ, 0)) for life in log.lives)
    rows = trace().reads
    frames = rows["frame"][rows["outcome"] == READ]

    assert log.stamps == (STAMP,)
    assert counts.tolist() == frames[: len(counts)].tolist()
    # Switched on again, the transmitter counts from 0.
    later = frames[len(counts) :]
    assert (again - again[0]).tolist() == (later - later[0]).tolist()
    assert again[0] < 10


def test_clocks_of_both_units_are_in_the_period() -> None:
    reads = of_event(unit_log(logs()[RECEIVER], RECEIVER, "a").lives[0], Event.READ, 0)
    first = reads[reads["t_us"] < 35_000_000]

    found = period_us(counts_of(first), first["t_us"], adds_up=False)

    assert found is not None
    # Slow by 4,000 ppm, the receiver counts less of a span; fast by 1,000, the transmitter sends
    # sooner: 20 ms · (1 − 0.001)/(1 + 0.004).
    # One interval of twenty misses: within twice its width nearly all lie (t of 18 degrees).
    assert abs(found.value - 20_000 * 0.999 / 1.004) < found.high - found.low


def test_a_units_own_clock_shows_its_nominal_period() -> None:
    samples = of_event(unit_log(logs()["drive"], "drive", "a").lives[0], Event.SAMPLE)

    assert np.diff(samples["t_us"]).tolist() == pytest.approx([20_000] * (len(samples) - 1), abs=1)


def test_a_transmitters_reset_begins_a_life() -> None:
    assert len(unit_log(logs()["drive"], "drive", "a").lives) == 2


def test_an_output_is_logged_as_the_pulse_that_a_servo_sees() -> None:
    """In us, from 1000 to 2000 as servos have it: common practice, no source."""
    widths_us = of_event(unit_log(logs()[RECEIVER], RECEIVER, "a").lives[0], Event.OUTPUT)["value"]

    assert len(widths_us) > 100
    assert 1000 <= widths_us.min() <= widths_us.max() <= 2000


def test_failsafe_comes_its_timeout_after_the_last_read() -> None:
    life = unit_log(logs()[RECEIVER], RECEIVER, "a").lives[0]
    on = of_event(life, Event.FAILSAFE, 0)
    on = on[on["value"] == 1]
    reads = of_event(life, Event.READ, 0)["t_us"]

    late_us = on["t_us"] - reads[np.searchsorted(reads, on["t_us"]) - 1]

    # Timeout to the next pass on the receiver's clock, from model.md, rules F1 and E1.
    assert len(late_us) >= 1
    assert late_us.min() >= 250_000 - 2
    assert late_us.max() <= 250_000 + 3_000 + 2


def test_passes_tell_the_loop_time_of_the_programs_own_clock() -> None:
    life = unit_log(logs()[RECEIVER], RECEIVER, "a").lives[0]
    passes = of_event(life, Event.PASS)
    per_pass = mean(np.diff(passes["t_us"]) / passes["value"][1:])

    longest = of_event(life, Event.LONGEST)["value"].max()

    # A pass lasts loop_ms, longer by its reading of frames (rule E1).
    assert 3_000 <= per_pass.value < 3_100
    assert longest >= 3_000


def test_loss_is_what_was_put_in() -> None:
    reads = of_event(unit_log(logs()[RECEIVER], RECEIVER, "a").lives[0], Event.READ, 0)
    first = reads[reads["t_us"] < 35_000_000]

    found = loss_runs(seen_of(counts_of(first)))

    assert found.share.low < 0.1 < found.share.high


def test_files_of_both_kinds_hold_the_same(tmp_path: Path) -> None:
    binary, text = tmp_path / "rx.bin", tmp_path / "rx.csv"
    binary.write_bytes(encoded(logs()[RECEIVER]))
    lines = [HEADER, *csv_lines(logs()[RECEIVER], RECEIVER, NAMES)]
    text.write_text("\n".join(lines), encoding="utf-8")

    ((one,), (other,)) = (read_logs([str(path)], NAMES) for path in (binary, text))

    assert one.lives[0].tobytes() == other.lives[0].tobytes()


def test_records_that_did_not_fit_are_counted_where_they_were() -> None:
    whole = logs()[RECEIVER]
    log = unit_log(with_losses(whole, 0.1, 5), RECEIVER, "a")

    kept = sum(int(np.count_nonzero(life["event"] != Event.LOST)) for life in log.lives)

    assert log.lost > 100
    # Those at the very end have nothing behind them that could tell.
    assert len(whole) - 10 <= kept + log.lost <= len(whole)
