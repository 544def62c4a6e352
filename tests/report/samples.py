"""A scenario and its summaries, built by hand: reports are tested without simulating."""

from typing import Any

import msgspec

from radiosim.measure.summary import (
    AirFigures,
    Distribution,
    FailsafeFigures,
    FaultFigures,
    Figures,
    Gaps,
    OutputAtFault,
    OutputFigures,
    Reaction,
    ReceiverFigures,
    RequirementFigures,
    StreamFigures,
    Summary,
    Worst,
)
from radiosim.scenario import Scenario, parse

SCENARIO = """
title = "Culvert crawler"
starts = 40
duration_s = 600
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
transmitter.head = { period_ms = 20, payload_bytes = 4 }
failsafe.drive = { timeout_ms = 250 }
output.left_track = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
output.lamp = { stream = "drive", field = "value", kind = "pin", on_failsafe = "off" }
output.pan = { stream = "head", field = "value" }
fault = [{ at_s = 40, kind = "power_off", unit = "drive", for_s = 5 }]
"""


def scenario() -> Scenario:
    """The scenario of the samples."""
    return parse(SCENARIO, "culvert.toml")


def spread(median: float, longest: float) -> Distribution:
    """A distribution with these two figures and likely others."""
    return Distribution(
        mean=median * 1.1, median=median, p95=median * 2, p99=median * 3, max=longest, n=1000
    )


def gaps(median: float, longest: float) -> Gaps:
    """Gaps with these two figures and likely others."""
    return Gaps(
        mean=median * 1.1, median=median, p95=median * 2, p99=median * 3, max=longest, n=1000
    )


def stream(failsafe: FailsafeFigures | None, longest_gap_ms: float = 120.0) -> StreamFigures:
    """A stream at 50 Hz for 600 s."""
    return StreamFigures(
        sampled=30_000,
        skipped=10,
        replaced=0,
        queue_full=0,
        power_cut=0,
        sent=29_990,
        attempts=31_000,
        acknowledged=29_800,
        retries_used_up=190,
        received_new=29_900,
        duplicates=400,
        fifo_dropped=0,
        read=29_899,
        thrown_away=0,
        waiting=1,
        never_accepted=90,
        under_way=0,
        lost_chance=600,
        lost_collision=90,
        lost_deaf=10,
        lost_range=0,
        lost_off=0,
        lost_cut=0,
        acknowledgements_lost=500,
        delivery_ratio=0.99663,
        update_rate_hz=49.8316,
        worst_second_updates=41,
        longest_gap_at_s=39.99,
        longest_gap_start=0,
        gap_ms=gaps(20.0, longest_gap_ms),
        latency_ms=spread(1.4, 3.3),
        age_ms=spread(11.0, longest_gap_ms),
        attempts_per_frame=1.034,
        duty_cycle=0.0071,
        charge_mah_per_hour=0.61,
        battery_h=None,
        failsafe=failsafe,
    )


def output(name: str, refresh_hz: float | None = 50.0) -> OutputFigures:
    """An output that follows the stream `name`."""
    return OutputFigures(
        stream=name,
        refresh_hz=refresh_hz,
        update_rate_hz=49.1,
        latency_ms=spread(12.0, 30.0),
        age_ms=spread(22.0, 140.0),
        longest_hold_ms=140.0,
        servo_error_deg=None,
    )


def one_start() -> Summary:
    """A run of start 3; everything holds, `head` has no failsafe."""
    quiet = FailsafeFigures(
        trips_on_fault=1, nuisance_trips=0, nuisance_per_hour=0.0, seconds_on=4.75
    )
    figures = Figures(
        stream={"drive": stream(quiet), "head": stream(None)},
        output={
            "left_track": output("drive"),
            "lamp": output("drive", refresh_hz=None),
            "pan": output("head"),
        },
        air=AirFigures(occupancy=0.0153, collisions=90),
        receiver=ReceiverFigures(charge_mah_per_hour=13.0, battery_h=100.0),
        faults=(fault(),),
    )
    return Summary(
        scenario="culvert",
        title="Culvert crawler",
        seed=1,
        start=3,
        starts=1,
        first_start=3,
        duration_s=600.0,
        version="0.1.0",
        engine="reference",
        assumed=("head: NO FAILSAFE: its outputs keep their last value for good",),
        warnings=("radio.channel: 82 may leave the band",),
        figures=figures,
        worst={},
        reaction=reactions(),
        requirements=(
            RequirementFigures(
                figure="stream.drive.gap_ms.max",
                at_least=None,
                at_most=200.0,
                measured=120.0,
                ok=True,
                why="",
            ),
        ),
        findings=(),
    )


def at_fault(action: str, reaction_ms: float | None, **more: Any) -> OutputAtFault:
    """An output whose failsafe came in the one start, or that `fates` of `more` are of."""
    fates = {"never came" if reaction_ms is None else "came": 1}
    said = {"fates": fates, "slowest_ms": reaction_ms, "recovered_ms": None} | more
    return OutputAtFault(action=action, reaction_ms=reaction_ms, **said)


def fault(starts: int = 1) -> FaultFigures:
    """The drive hand unit is off for five seconds."""
    fates = {"came": starts}
    return FaultFigures(
        kind="power_off",
        unit="drive",
        at_s=40.0,
        for_s=5.0,
        over_ms=5000.0,
        reaction_ms=271.4,
        recovered_ms=42.1,
        outputs={
            "left_track": at_fault("preset", 271.4, recovered_ms=42.1, fates=fates),
            "lamp": at_fault("off", 251.0, recovered_ms=22.0, fates=fates),
        },
    )


def reactions() -> dict[str, Reaction]:
    """`drive` stops, nothing stops `head`."""
    return {
        "drive": Reaction(
            timeout_ms=250.0,
            terms_ms={"wait in the FIFO": 4.26, "timeout": 250.02, "longest pass": 1.02},
            bound_ms={"left_track": 293.2, "lamp": 255.3},
            why={},
        ),
        "head": Reaction(
            timeout_ms=None,
            terms_ms={},
            bound_ms={"pan": None},
            why={"pan": "its stream has no failsafe"},
        ),
    }


def several_starts() -> Summary:
    """40 starts, in some of which the drive starves; one requirement fails, one is not judged."""
    one = one_start()
    trips = FailsafeFigures(
        trips_on_fault=40,
        nuisance_trips=12,
        nuisance_per_hour=1.8,
        nuisance_per_hour_ci95=(0.21, 4.6),
        starts_with_nuisance=3,
        seconds_on=190.0,
    )
    drive = msgspec.structs.replace(
        stream(trips, longest_gap_ms=412.345),
        sampled=1_200_000,
        read=1_195_960,
        delivery_ratio_ci95=(0.991, 0.998),
        update_rate_hz_ci95=(49.2, 49.9),
    )
    head = msgspec.structs.replace(stream(None), sampled=1_200_000, read=1_195_960)
    streams = {"drive": drive, "head": head}
    figures = msgspec.structs.replace(one.figures, stream=streams, faults=(fault(40),))
    failed = RequirementFigures(
        figure="stream.drive.gap_ms.max",
        at_least=None,
        at_most=200.0,
        measured=412.345,
        ok=False,
        why="worst in start 17",
    )
    unjudged = RequirementFigures(
        figure="worst.drive.reaction_ms",
        at_least=None,
        at_most=300.0,
        measured=None,
        ok=None,
        why="judged by the failsafe drill",
    )
    return msgspec.structs.replace(
        one,
        start=None,
        starts=40,
        first_start=0,
        figures=figures,
        worst={
            "stream.drive.gap_ms.max": Worst(value=412.345, start=17),
            "stream.drive.update_rate_hz": Worst(value=31.25, start=17),
            "stream.head.gap_ms.max": Worst(value=120.0, start=2),
            "stream.head.update_rate_hz": Worst(value=48.0, start=2),
            "output.left_track.update_rate_hz": Worst(value=30.0, start=17),
            "output.left_track.age_ms.max": Worst(value=430.0, start=17),
        },
        requirements=(*one.requirements, failed, unjudged),
    )
