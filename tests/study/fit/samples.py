"""Logs for tests, made by the simulation with settings that the scenario does not have."""

from pathlib import Path

from radiosim.bench_log.probe_records import encoded
from radiosim.firmware.settings_header import stamp_of
from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.study.fit.explained import Explanation
from radiosim.study.fit.fit import Again, Fit
from radiosim.study.fit.gaps import GapCurve
from radiosim.study.fit.judged import Judged
from radiosim.study.fit.offsets import Offsets
from radiosim.study.fit.setting import Setting
from radiosim.study.fit.simulated import logs_of
from radiosim.study.fit.told import LogUsed, NotMeasured, Told
from radiosim.vehicle.feedback import simulate

LINK = """
title = "Car"
duration_s = 9
radio.profile = "gfsk-1M"
air.loss = 0.02
receiver.boot_s = 0
receiver.loop_ms = 2     # guessed
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
"""


def link() -> Scenario:
    return parse(LINK)


def written_logs(folder: Path, *hidden: str, seed: int = 77) -> dict[str, Path]:
    """Files of every unit, of a start that has the hidden settings, by unit."""
    trace = simulate(changed(link(), hidden), seed=seed)
    made = logs_of(trace, int(stamp_of(link()), 16))
    paths = {unit: folder / f"{unit}.log" for unit in made}
    for unit, records in made.items():
        paths[unit].write_bytes(encoded(records))
    return paths


def a_fit() -> Fit:
    """A result with something in each of its parts."""
    setting = Setting(lines=("receiver.loop_ms=3.2",), measured="a pass of 3.19 to 3.21 ms")
    return Fit(
        scenario="car",
        title="Car",
        version="0",
        seed=1,
        starts=239,
        seconds=40.0,
        logs=(
            LogUsed(
                source="rx.log",
                unit="receiver",
                records=4_000,
                lives=2,
                lost=12,
                notes=("3 bytes belong to no record",),
            ),
        ),
        warnings=("rx.log: stamp 0000BEEF, the scenario's is 0000CAFE",),
        figures=(
            Judged(
                key="pass.receiver",
                of="receiver",
                what="loop time",
                unit="ms",
                measured=3.2012,
                low=2.001,
                high=2.003,
                chance=1 / 120,
                is_held=False,
                resolution=0.001,
                measured_low=3.19,
                measured_high=3.21,
            ),
            Judged(
                key="reads.drive",
                of="drive",
                what="frames read",
                unit="/s",
                measured=49.5,
                low=49.0,
                high=50.0,
                chance=0.6,
                is_held=True,
                resolution=0.01,
            ),
        ),
        told=(
            Told(
                of="drive",
                what="losses in a row",
                value=2.5,
                low=2.0,
                high=3.1,
                unit="frames",
                how="losses hang together: by chance alone once in 1e+04",
            ),
        ),
        explanations=(
            Explanation(setting=setting, explains=("pass.receiver",), breaks=("reads.drive",)),
        ),
        unexplained=(),
        not_measured=(NotMeasured(what="latency", log="a logic analyser's"),),
        settings=(setting,),
        still_out=("reads.drive",),
        again=Again(
            seconds=19.5,
            lines=("receiver.loop_ms=3.21",),
            figures=(
                Judged(
                    key="pass.receiver",
                    of="receiver",
                    what="loop time",
                    unit="ms",
                    measured=3.2011,
                    low=3.2,
                    high=3.204,
                    chance=0.4,
                    is_held=True,
                    resolution=0.001,
                    measured_low=3.19,
                    measured_high=3.21,
                ),
            ),
        ),
        gaps=(
            GapCurve(
                stream="drive",
                gaps=970,
                shares=(0.0, 0.5, 0.99, 1.0),
                logged=(18.2, 20.0, 40.1, 61.3),
                low=(18.0, 19.9, 39.8, 41.0),
                high=(18.5, 20.1, 60.2, 80.5),
            ),
        ),
        offsets=(
            Offsets(
                stream="drive",
                at_s=(1.0, 20.0, 38.0),
                median_ms=(1.0, 1.1, 0.9),
                low_ms=(0.0, 0.1, 0.0),
                high_ms=(2.0, 2.1, 3.5),
            ),
        ),
    )
