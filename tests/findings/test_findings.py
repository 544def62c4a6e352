"""Every finding: a scenario that shows it with proof and cure, and a twin in which it is silent."""

import math
import re
from types import SimpleNamespace
from typing import cast

import msgspec
import pytest

from radiosim.findings.air_findings import interference, out_of_range
from radiosim.findings.case import Case, Changes
from radiosim.findings.clock_findings import clocks_beat
from radiosim.findings.failsafe_findings import drill
from radiosim.measure.summary import Summary
from radiosim.scenario.changed import changed
from radiosim.scenario.noise import noise_per_hour
from radiosim.study.starts import simulate_starts
from radiosim.trace import OUT_OF_RANGE
from radiosim.vehicle.feedback import simulate
from tests.findings.cases import found, scenario_with

MEETS = ("transmitter.head.period_ms=20", "transmitter.drive.clock_ppm=9")
STILL = (
    'transmitter.drive.signals.count={kind="constant"}',
    'transmitter.drive.signals.throttle={kind="constant", value=0.0}',
    "transmitter.drive.retry_limit=0",
    "air.loss=0.25",
    'failsafe.drive.watch_field=""',
    "failsafe.drive.timeout_ms=90",
    "duration_s=200",
)
PLAIN = ("transmitter.drive.acknowledge=false", "transmitter.head.acknowledge=false")
HEAVY = (
    "transmitter.head={layout='head_v1', pacing='after_send', pause_ms=0.5, acknowledge=false}",
    "transmitter.drive.acknowledge=false",
    "radio.profile=gfsk-250k",
)

TOO_OFTEN = (
    "radio.profile=gfsk-250k",
    "transmitter.drive.period_ms=2",
    "transmitter.head.period_ms=2",
)
"""No other period is clear of these frames: the beat has no cure."""

FILLED = (
    "transmitter.drive.period_ms=2.3",
    "transmitter.drive.jitter_ms=0",
    "transmitter.head.period_ms=100",
    "transmitter.head.offset_ms=12",
    "failsafe.head.timeout_ms=600",
    "receiver.loop_ms=0.1",
    "receiver.work=[{every_ms=100, takes_ms=20, offset_ms=0, interrupts_off=true}]",
    *PLAIN,
)
"""Frames of drive fill the FIFO while the receiver works, before the one of head comes."""
STREAMS = ("drive", "head")
AT_120_M = "air.range={distance_m=120, path='free-space', fading='rician'}"
AT_3_M = "air.range={distance_m=3, path='free-space'}"
NEAR = "air.range={distance_m=15, path='free-space'}"
TURNING = "{pattern='half_wave_dipole', heading_field='pan'}"
LOOKS = "transmitter.head.signals.pan={kind='lookaround'}"
LOUD = "{kind='bursts', channel_mhz=2467, duty=0.3, power_dbm_at_receiver=-45}"
SIDE_BY_SIDE = (
    "air.loss=0.3",
    "transmitter.drive={layout='drive_v1', period_ms=20, clock_ppm=0, offset_ms=0}",
    "transmitter.head={layout='head_v1', period_ms=20, clock_ppm=0, offset_ms=0.35}",
)
BURSTS = "air.burst={good_ms=900, bad_ms=60}"

SHOWN = [
    ("transmitter.drive.power_dbm", (AT_120_M,), (AT_3_M,)),
    (
        "transmitter.head.antenna",
        (NEAR, LOOKS, f"transmitter.head.antenna={TURNING}"),
        (NEAR, f"transmitter.head.antenna={TURNING}"),
    ),
    (
        "receiver.antenna",
        (NEAR, "receiver.antenna={pattern='half_wave_dipole', turn_deg_s=40}"),
        (NEAR, "receiver.antenna={pattern=[[0, -3]], turn_deg_s=40}"),
    ),
    (
        "interferer.hall",
        (AT_3_M, f"interferer.hall={LOUD}"),
        (AT_3_M, f"interferer.hall={LOUD}", "radio.channel=10"),
    ),
    ("air.burst", (BURSTS,), ("air.burst={good_ms=900, bad_ms=0.3}",)),
    (
        "air.between_transmitters_m",
        (AT_3_M, "air.between_transmitters_m=0.3", "transmitter.head.period_ms=3"),
        (AT_3_M, "air.between_transmitters_m=300", "transmitter.head.period_ms=3"),
    ),
    (
        "transmitter.head.address",
        (
            *SIDE_BY_SIDE,
            "transmitter.drive.address=B4 69 D2 3C C5",
            "transmitter.head.address=B4 69 D2 3C C5",
        ),
        SIDE_BY_SIDE,
    ),
    ("transmitter.head.pause_ms", (*HEAVY, "transmitter.head.power_dbm=20"), HEAVY),
    (
        "failsafe.drive.timeout_ms",
        (
            "receiver.loop_ms=60",
            "air.loss=0.9",
            'failsafe.drive={timeout_ms=50, watch_field="count"}',
        ),
        (
            "receiver.loop_ms=60",
            "air.loss=0.9",
            'failsafe.drive={timeout_ms=3000, watch_field="count"}',
        ),
    ),
    ("failsafe.drive.fed_by", ("failsafe.drive.fed_by=any", 'failsafe.drive.watch_field=""'), ()),
    ("failsafe.head", ("failsafe={}",), ()),
    (
        "failsafe.drive.resume_needs",
        ('failsafe.drive={timeout_ms=250, watch_field="count"}',),
        (),
    ),
    (
        "transmitter.head.period_ms",
        (
            *MEETS,
            *PLAIN,
            "transmitter.head.clock_ppm=-9",
            "transmitter.drive.jitter_ms=0",
            "transmitter.head.jitter_ms=0",
        ),
        ("transmitter.head.period_ms=19",),
    ),
    (
        "transmitter.head.retry_delay_us",
        (
            *MEETS,
            "transmitter.head.retry_delay_us=500",
            "transmitter.drive.jitter_ms=0",
            "transmitter.head.jitter_ms=0",
        ),
        (*MEETS, "transmitter.head.retry_delay_us=1500"),
    ),
    ("receiver.delay_ms", ("receiver.delay_ms=60",), ("receiver.delay_ms=0.5",)),
    (
        "receiver.read",
        ("receiver.read=one", "receiver.loop_ms=25"),
        ("receiver.read=one",),
    ),
    (
        "receiver.work",
        ("receiver.work=[{every_ms=120, takes_ms=70}]",),
        ("receiver.work=[{every_ms=1000, takes_ms=0.5}]",),
    ),
    (
        "transmitter.head.work",
        ("transmitter.head.work=[{every_ms=200, takes_ms=80}]",),
        ("transmitter.head.work=[{every_ms=1000, takes_ms=0.2}]",),
    ),
    (
        "transmitter.head.period_ms",
        ("receiver.deaf=[{every_ms=23, for_ms=1}]", *PLAIN),
        ("receiver.deaf=[{every_ms=31, for_ms=1}]", *PLAIN),
    ),
    (
        "transmitter.head.period_ms",
        FILLED,
        (*FILLED, "transmitter.head.period_ms=71"),
    ),
    (
        "receiver.deaf",
        ("receiver.deaf=[{every_ms=50, for_ms=8}]",),
        (),
    ),
    ("layout.drive_v1", STILL, STILL[1:]),
    ("transmitter.head", HEAVY, ("radio.profile=gfsk-250k", *PLAIN)),
    (
        "transmitter.head.boot_s",
        ("transmitter.head.boot_s=3", 'fault=[{at_s=8, kind="reset", unit="head"}]'),
        ("transmitter.head.boot_s=3",),
    ),
    ("failsafe.drive.watch_field", ('failsafe.drive.watch_field=""',), ()),
    ("receiver.watchdog_ms", ("receiver.watchdog_ms=0",), ()),
    ("receiver.recheck_ms", ("receiver.recheck_ms=0",), ()),
    ("transmitter.head.recheck_ms", ("transmitter.head.recheck_ms=0",), ()),
    ("radio.payload_length", ("radio.payload_length=32",), ("radio.payload_length=4",)),
    (
        "transmitter.head.jitter_ms",
        (
            *MEETS,
            *PLAIN,
            *TOO_OFTEN,
            "transmitter.head.clock_ppm=-9",
            "transmitter.drive.jitter_ms=0",
            "transmitter.head.jitter_ms=0",
        ),
        ("transmitter.drive.jitter_ms=0", "transmitter.head.jitter_ms=0"),
    ),
]


def test_a_scenario_in_which_nothing_is_wrong_has_no_finding() -> None:
    assert found() == {}


@pytest.mark.parametrize(("where", "shows", "twin"), SHOWN, ids=[where for where, _, _ in SHOWN])
def test_a_finding_is_proved_where_it_is_and_silent_in_its_twin(
    where: str, shows: tuple[str, ...], twin: tuple[str, ...]
) -> None:
    here = found(*shows)

    assert where in here, sorted(here)
    proof = here[where].proof
    assert proof["before"] != proof["after"]
    assert here[where].measure
    assert here[where].why
    # What is told to be tried can be pasted, and was tried.
    assert bool(here[where].set) == ("cured" in proof)
    assert changed(scenario_with(*shows), here[where].set)
    assert where not in found(*twin)


def test_an_address_that_noise_is_taken_for_is_told_though_no_figure_shows_it() -> None:
    poor = [
        f"transmitter.{name}.address=55 55 55 55 0{n}" for n, name in enumerate(("drive", "head"))
    ]
    here = found(*poor)["transmitter.drive.address"]

    assert "no figure shows it" in here.why
    assert here.proof["before"] == here.proof["after"]
    assert changed(scenario_with(*poor), here.set)
    assert "transmitter.drive.address" not in found(*here.set)


NOISY = {
    # Plain frames of a quick radio, so that noise comes in seconds.
    "radio.crc_bytes": ("radio.bit_rate=100_000_000", "radio.crc_bytes=0"),
    "radio.address_bytes": ("radio.address_bytes=3",),
}


@pytest.mark.parametrize("where", NOISY)
def test_addresses_and_crc_that_noise_matches_are_found_and_cured(where: str) -> None:
    short = (
        *(f"transmitter.{name}.acknowledge=false" for name in ("drive", "head")),
        *NOISY[where],
    )
    here = found(*short)[where]

    assert "closed form" in here.why
    assert here.proof["before"] is not None
    assert any(line.startswith(where) for line in here.set)
    cured = changed(scenario_with(*short), here.set)
    assert noise_per_hour(cured) is None
    assert where not in found(*short, *here.set)


def test_no_longer_crc_is_asked_for_where_noise_is_never_a_frame() -> None:
    usual = found("radio.crc_bytes=1", "radio.noise_frames=true")

    assert not {"radio.crc_bytes", "radio.address_bytes"} & set(usual)


def test_a_unit_that_the_scenario_switches_off_does_not_hide_what_meeting_clocks_do() -> None:
    meets = (*MEETS, *PLAIN, "transmitter.head.clock_ppm=-9")
    off = 'fault=[{at_s=10, for_s=6, kind="power_off", unit="drive"}]'
    here = found(*meets, off, "failsafe.drive.timeout_ms=120")["transmitter.head.period_ms"]

    assert "faults left out" in here.why
    # Not the six seconds of the fault, which no cure takes away.
    assert here.proof["after"] is not None
    assert here.proof["after"] < 1000


def test_no_rerun_takes_days_because_a_timeout_or_a_boot_does() -> None:
    scenario = scenario_with("receiver.boot_s=80000000", "duration_s=5")
    case = Case(run=scenario, summary=simulate_starts(scenario, count=1))

    assert not case.is_sound(Changes(keys=drill(scenario, "drive", "power_off")))
    assert case.is_sound(Changes(pasted=("failsafe.drive.timeout_ms=30000",)))


@pytest.mark.parametrize(("drive", "head", "worst"), [(40, 700, "head"), (700, 40, "drive")])
def test_an_interferer_is_shown_by_the_stream_that_loses_most(
    drive: int, head: int, worst: str
) -> None:
    given = scenario_with(AT_3_M, f"interferer.hall={LOUD}", "duration_s=4", "starts=1")
    summary = simulate_starts(given, workers=1)
    lost = {"drive": drive, "head": head}
    streams = {
        name: msgspec.structs.replace(of, lost_collision=lost[name], attempts=1_000)
        for name, of in summary.figures.stream.items()
    }
    figures = msgspec.structs.replace(summary.figures, stream=streams)
    seen = msgspec.structs.replace(summary, figures=figures)

    (suspect,) = interference(cast(Case, SimpleNamespace(scenario=given, summary=seen)))

    assert suspect.figure == f"stream.{worst}.lost_collision"
    assert f"700 of 1000 attempts of {worst}" in suspect.why


def test_how_often_a_null_is_to_blame_is_counted_in_the_start_that_is_named() -> None:
    lines = (NEAR, LOOKS, f"transmitter.head.antenna={TURNING}")
    why = found(*lines)["transmitter.head.antenna"].why
    told = re.search(r"in start (\d+), (\d+) of (\d+) .* as did (\d+) of all (\d+)", why)
    assert told is not None
    start, lost_low, lost, all_low, attempts = map(int, told.groups())
    trace = simulate(scenario_with(*lines), start=start)
    head = tuple(trace.scenario.transmitter).index("head")
    rows = trace.attempts[trace.attempts["stream"] == head]

    assert attempts == len(rows)
    assert lost == int((rows["fate"] == OUT_OF_RANGE).sum())
    assert lost_low * (attempts - all_low) > 2 * (lost - lost_low) * all_low


def test_clocks_that_pass_each_other_quickly_are_not_said_to_stay() -> None:
    """A thousand ppm apart frames of 0.1 ms meet for 0.2 s, not for seconds."""
    steady = (f"transmitter.{name}.jitter_ms=0" for name in ("drive", "head"))
    quick = (*MEETS, *PLAIN, *steady, "transmitter.head.clock_ppm=1000")
    asked = "requirement=[{figure='stream.head.gap_ms.max', at_most=60}]"
    here = found(*quick, asked)["transmitter.head.period_ms"]

    assert here.proof["before"] is not None
    assert here.proof["before"] < 1000
    assert "second" not in here.what


def test_a_weak_level_counts_the_mean_of_the_patterns_and_says_so_of_those_that_have_one() -> None:
    """A mean worked by hand: straight lines from 0 by -9 and -18 to -27 dB and back, -13.5 dB.

    Source: free space, 20 lg (4 pi d f / c) (H. T. Friis, "A note on a simple transmission
    formula", Proc. IRE 34, 1946; from memory).
    """
    turns = "{pattern=[[0, 0], [90, -9], [180, -18], [270, -27]], turn_deg_s=360}"
    at_3_km = "air.range={distance_m=3000, path='free-space'}"
    run = scenario_with(at_3_km, f"transmitter.head.antenna={turns}")
    lost = SimpleNamespace(attempts=50, lost_range=50)
    streams = SimpleNamespace(stream={"drive": lost, "head": lost})
    summary = cast(Summary, SimpleNamespace(figures=streams))
    told = {
        one.where.split(".")[1]: one.why for one in out_of_range(Case(run=run, summary=summary))
    }

    mhz = 2400 + run.radio.channel
    loss_db = 20 * math.log10(4 * math.pi * 3000 * mhz * 1e6 / 299_792_458)
    bare_db = -loss_db - run.profile().sensitivity_dbm
    for name, more_db in (("drive", 0.0), ("head", -13.5)):
        side = "above" if bare_db + more_db >= 0 else "below"
        assert f"the level is {abs(bare_db + more_db):.0f} dB {side}" in told[name]
        assert ("with the mean of the antennas' patterns" in told[name]) == (name == "head")


def test_where_no_period_is_clear_of_the_other_periods_are_drawn() -> None:
    """A beat of frames of 0.4 ms every 3 ms; a dither is a cure that reruns must prove."""
    often = ("transmitter.drive.period_ms=3", "transmitter.head.period_ms=3")
    late = ("transmitter.drive.jitter_ms=0.1", "transmitter.head.jitter_ms=0.1")
    run = scenario_with(*PLAIN, "radio.profile=gfsk-250k", *often, *late, "duration_s=4")
    case = Case(run=run, summary=simulate_starts(run, count=1))
    (beat,) = clocks_beat(case)

    assert beat.cures == (
        ("transmitter.head.dither_ms=1.5",),
        ("transmitter.drive.dither_ms=1.5",),
    )
    assert "random number" in beat.advice
    drawn = changed(run, beat.cures[0])
    assert case.summary.figures.stream["drive"].gap_ms.max > 200
    assert simulate_starts(drawn, count=1).figures.stream["drive"].gap_ms.max < 100
