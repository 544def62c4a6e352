"""The rung `chip`: a whole image on the emulated chip, with its radio's wires and its pulses."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import radiosim
from radiosim.errors import FirmwareError, OptionError
from radiosim.firmware.bench import Bench
from radiosim.firmware.board import board_of, chip_of
from radiosim.firmware.build import work_folder
from radiosim.firmware.chip import (
    GOES_ON,
    HANGS,
    POWER_OFF,
    POWER_ON,
    RESET_HELD,
    RESET_RELEASED,
    SETTINGS_LOST,
    chip_bench,
    one_at_a_time,
    unheard,
)
from radiosim.firmware.chip_times import chip_times
from radiosim.firmware.emulator import TARGET, compiled_for_chip, lacking
from radiosim.firmware.script import Reply, Script, Status
from radiosim.scenario import Scenario
from tests.firmware.hand_scripts import MS, S, hand_script

WHOLE = Path(__file__).parent / "whole.c"
PINS = "mhz=16, select=B2, enable=B1, line=D2, mark=C0, motor=D3, steering=D4"
Steps = tuple[tuple[int, int], ...]
needs_chip = pytest.mark.skipif(lacking() is not None, reason=lacking() or "")


@cache
def scenario() -> Scenario:
    return radiosim.load(Path(__file__).parent / "whole.toml")


@contextmanager
def started(*defines: str) -> Iterator[Bench]:
    with (
        work_folder() as work,
        chip_bench(
            scenario(),
            compiled_for_chip(work, [WHOLE], board=(), defines=defines)[0],
            board_of(PINS, scenario()),
        ) as bench,
    ):
        yield bench


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    with started() as one:
        yield one


def script(*at_ms: float, us: int = 1800, steps: Steps = ((0, POWER_ON),), ppb: int = 0) -> Script:
    """One second: frames that come at these instants, and what becomes of the supply."""
    arrivals = [(round(at * MS), 1, us.to_bytes(2, "little")) for at in at_ms]
    return hand_script(until_ns=S, arrivals=arrivals, steps=steps, ppb=ppb)


def pulses(answer: Reply, output: int) -> list[tuple[float, float]]:
    """Start in ms and width in us of each pulse of a servo."""
    mine = answer.outs[answer.outs["output"] == output]
    return [(at / 1e6, ns / 1e3) for at, ns in zip(mine["at_ns"], mine["value"], strict=True)]


def widths(answer: Reply, output: int) -> list[int]:
    """Widths one after the other, to 10 us, each once."""
    found: list[int] = []
    for _, us in pulses(answer, output):
        if not found or round(us, -1) != found[-1]:
            found.append(round(us, -1))
    return found


EVERY_20_MS = tuple(float(at) for at in range(120, 500, 20))


@needs_chip
def test_frames_go_in_at_the_wires_and_pulses_come_out_at_the_pins(bench: Bench) -> None:
    answer = bench.run(script(*EVERY_20_MS))
    assert answer.head["status"] == Status.FINE
    assert unheard(answer.seen) == []
    assert answer.takes["row"].tolist() == list(range(len(EVERY_20_MS)))
    late_ms = answer.takes["at_ns"] / 1e6 - np.array(EVERY_20_MS)
    # It looks once a millisecond, and moves four bytes of 1 us each.
    assert 0 < late_ms.min() <= late_ms.max() < 1.1
    assert widths(answer, 0) == [1500, 1800, 1000]
    assert widths(answer, 1) == [1500]
    starts_ms = np.array([at for at, _ in pulses(answer, 0)])
    assert np.allclose(np.diff(starts_ms), 20.0, atol=0.02)


@needs_chip
def test_its_failsafe_comes_when_its_own_timer_says_so(bench: Bench) -> None:
    answer = bench.run(script(*EVERY_20_MS))
    first_ms = next(at for at, us in pulses(answer, 0) if us < 1100)
    # The last frame, 100 ms that must be passed, a tick, and then the next pulse within 20 ms.
    assert EVERY_20_MS[-1] + 100 < first_ms <= EVERY_20_MS[-1] + 100 + 2 + 20


@needs_chip
def test_its_clock_runs_as_fast_as_it_is_told_to(bench: Bench) -> None:
    plain, slow = (bench.run(script(ppb=ppb)) for ppb in (0, 10_000_000))
    first, second = (pulses(answer, 0)[20][0] for answer in (plain, slow))
    assert second / first == pytest.approx(1.01, rel=1e-6)


@needs_chip
def test_a_reset_begins_anew_and_leaves_the_radio_what_came_meanwhile(bench: Bench) -> None:
    steps = ((0, POWER_ON), (200 * MS, RESET_HELD), (210 * MS, RESET_RELEASED))
    answer = bench.run(script(150, 205, 250, steps=steps))
    times = chip_times(answer)
    assert times.cold_boot is not None
    assert times.warm_boot is not None
    assert times.cold_boot.mean_us == pytest.approx(times.warm_boot.mean_us, abs=2)
    # The radio goes on while the pins float; the program then holds its enable pin low.
    assert answer.takes["row"].tolist() == [0, 1]
    assert 210 + 101 < answer.takes["at_ns"][1] / 1e6 < 210 + 105
    assert [line[:2] for line in unheard(answer.seen)] == [(1, 250 * MS)]


@needs_chip
def test_without_power_nothing_comes_and_nothing_goes(bench: Bench) -> None:
    steps = ((0, POWER_ON), (300 * MS, POWER_OFF), (500 * MS, POWER_ON))
    answer = bench.run(script(250, 400, 700, steps=steps))
    assert answer.takes["row"].tolist() == [0, 2]
    assert not [at for at, _ in pulses(answer, 0) if 302 < at < 600]


@needs_chip
def test_a_radio_that_lost_its_settings_hears_nothing_and_says_why(bench: Bench) -> None:
    answer = bench.run(script(150, 250, 350, steps=((0, POWER_ON), (200 * MS, SETTINGS_LOST))))
    assert answer.takes["row"].tolist() == [0]
    count, first_ns, why = unheard(answer.seen)[0]
    assert (count, first_ns) == (2, 250 * MS)
    assert "did not receive" in why


@needs_chip
def test_a_program_that_hangs_reads_nothing_while_its_pulses_go_on(bench: Bench) -> None:
    # Its timeout of 100 ms passes meanwhile, and nobody looks.
    steps = ((0, POWER_ON), (205 * MS, HANGS), (405 * MS, GOES_ON))
    answer = bench.run(script(190, 250, 350, steps=steps))
    read_ms = answer.takes["at_ns"] / 1e6
    assert read_ms[0] == pytest.approx(190.5, abs=0.6)
    assert (read_ms[1:] > 405).all()
    assert (read_ms[1:] < 407).all()
    starts_ms = [at for at, us in pulses(answer, 0) if 225 < at < 405 and us > 1790]
    assert np.allclose(np.diff(starts_ms), 20.0, atol=0.02)
    assert len(starts_ms) == 9


@needs_chip
def test_a_watchdog_of_its_own_resets_what_hangs_and_nothing_else() -> None:
    steps = ((0, POWER_ON), (400 * MS, HANGS))
    with started("WATCHDOG=WDTO_120MS") as watched:
        answer = watched.run(script(*EVERY_20_MS, 700, steps=steps))
    times = chip_times(answer)
    assert times.cold_boot is not None
    assert times.warm_boot is not None
    assert times.bite is not None
    # 16,384 cycles of its oscillator of 128 kHz after the last pass (data sheet of the chip,
    # "Watchdog Timer Prescale Select": typical time-out at 5.0 V, from memory).
    assert times.bite.count == 1
    assert 127_000 < times.bite.mean_us <= 128_000
    assert times.warm_boot.mean_us == pytest.approx(times.cold_boot.mean_us, abs=2)
    assert not [at for at, _ in pulses(answer, 0) if 530 < at < 630]
    assert answer.takes["at_ns"][-1] / 1e6 == pytest.approx(700.5, abs=0.6)


@needs_chip
def test_what_one_frame_an_edge_loses_is_lost_on_the_chip(bench: Bench) -> None:
    # Two come within one turn: the line falls once, and the second waits until the next edge.
    together = (150.0, 150.2, 300.0, 450.0)
    assert len(bench.run(script(*together)).takes) == 4
    with started("EDGE") as edge:
        answer = edge.run(script(*together))
        late = edge.run(script(150.0, 150.1, 150.2, 150.3))
    assert [round(at / 1e6) for at in answer.takes["at_ns"]] == [151, 301, 451]
    assert answer.takes["row"].tolist() == [0, 1, 2]
    assert (int(late.head["full"]), int(late.head["full_at_ns"])) == (1, 150_300_000)


@needs_chip
@pytest.mark.slow
@pytest.mark.parametrize(
    ("define", "why"),
    [("CHANNEL=41", "another channel"), ("WAIT_MS=50", "did not receive")],
)
def test_a_radio_that_is_set_up_wrongly_is_named(define: str, why: str) -> None:
    with started(define) as wrong:
        answer = wrong.run(script(*EVERY_20_MS))
    assert len(answer.takes) == 0
    assert why in unheard(answer.seen)[0][2]


@needs_chip
@pytest.mark.slow
def test_a_loop_that_never_turns_is_told_from_one_that_does() -> None:
    with started("STOPS") as stops:
        answer = stops.run(script())
    assert answer.head["status"] == Status.ENDLESS
    assert 0.6 * S < int(answer.head["at_ns"]) < 0.9 * S


@needs_chip
def test_times_are_those_of_the_firmware(bench: Bench) -> None:
    times = chip_times(bench.run(script(*EVERY_20_MS)))
    assert times.idle_pass is not None
    assert times.frame_low is not None
    assert times.cold_boot is not None
    assert times.idle_pass.mean_us == pytest.approx(1000, rel=1e-3)
    assert times.frame_bytes == 3
    # Three bytes of 8 bits at half the clock's 16 MHz, and what the loop between them takes.
    assert 3 < times.frame_low.least_us < 6
    # 101 ms, the radio's 1.7 ms, and the first tick.
    assert times.cold_boot.mean_us == pytest.approx(103_700, abs=100)
    assert times.asleep > 0.8


def test_an_image_says_which_chip_it_is_for(tmp_path: Path) -> None:
    other = tmp_path / "rx.elf"
    other.write_bytes(b"\x7fELF" + bytes(100))
    with pytest.raises(FirmwareError, match="does not say which chip it is for"):
        chip_of(other)
    other.write_text("no image")
    with pytest.raises(FirmwareError, match="is no image of a linker"):
        chip_of(other)
    with pytest.raises(FirmwareError, match="cannot be read"):
        chip_of(tmp_path / "none.elf")


@needs_chip
def test_the_toolchain_leaves_the_chip_in_the_image() -> None:
    with work_folder() as work:
        assert chip_of(compiled_for_chip(work, [WHOLE], board=())[0]) == TARGET


@pytest.mark.parametrize(
    ("pins", "said"),
    [
        ("select=B2, enable=B1, motor=D3", "mhz lacks"),
        ("mhz=16, enable=B1, motor=D3", "select lacks"),
        ("mhz=16, select=B2, enable=B1", "no pin of a servo output"),
        ("mhz=16, select=B2, enable=B2, motor=D3", "enable and select are both on B2"),
        ("mhz=16, select=B9, enable=B1, motor=D3", "select=B9 is no pin"),
        ("mhz=160, select=B2, enable=B1, motor=D3", "mhz=160 is no frequency"),
        ("mhz=16, select=B2, enable=B1, rudder=D3", "rudder is none of mhz, select"),
        ("mhz=16, select, enable=B1, motor=D3", "'select' is none of NAME=VALUE"),
        ("mhz=16, mhz=8, select=B2, enable=B1, motor=D3", "mhz stands there twice"),
    ],
)
def test_pins_are_told_and_never_guessed(pins: str, said: str) -> None:
    with pytest.raises(OptionError, match=said):
        board_of(pins, scenario())


def test_faults_that_overlap_give_power_back_once() -> None:
    events = [(1, 1, POWER_OFF), (2, 2, POWER_OFF), (3, 1, POWER_ON), (4, 2, POWER_ON)]
    assert list(one_at_a_time(events)) == [(1, POWER_OFF), (4, POWER_ON)]
    hung = [(1, 1, HANGS), (2, 2, POWER_OFF), (3, 2, POWER_ON), (4, 3, HANGS), (5, 3, GOES_ON)]
    assert list(one_at_a_time([*hung, (9, 1, GOES_ON)]))[:5] == [(at, kind) for at, _, kind in hung]
