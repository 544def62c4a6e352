"""What logs tell beside the figures that are judged, and what they cannot tell."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from radiosim.bench_log.estimates import Estimate
from radiosim.bench_log.records import RECEIVER, Event, UnitLog, of_event
from radiosim.firmware.settings_header import stamp_of
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import Figure, Window
from radiosim.study.fit.judged import Judged
from radiosim.study.fit.log_figures import end_us, judged_rows
from radiosim.study.fit.reactions import reactions_ms
from radiosim.study.fit.receiver_figures import boots_ms, losses_of


class LogUsed(Struct, frozen=True, kw_only=True):
    """One unit's log."""

    source: str
    unit: str
    records: int
    lives: int
    """Parts, from reset to reset; the longest is judged."""
    lost: int
    """Records that the unit says it lost."""
    notes: tuple[str, ...]


class Told(Struct, frozen=True, kw_only=True):
    """What the log tells on its own, without a prediction."""

    of: str
    what: str
    value: float
    low: float | None
    high: float | None
    unit: str
    how: str


class NotMeasured(Struct, frozen=True, kw_only=True):
    """What stays as the scenario has it, and the log that would tell."""

    what: str
    log: str


_LEAST_CHANCE = 1e-12
"""Smaller ones say no more."""


def used(log: UnitLog) -> LogUsed:
    """What is said of a log that was judged."""
    return LogUsed(
        source=log.source,
        unit=log.unit,
        records=sum(map(len, log.lives)),
        lives=len(log.lives),
        lost=log.lost,
        notes=log.notes,
    )


def warnings(scenario: Scenario, logs: Sequence[UnitLog], rows: Sequence[Judged]) -> Iterator[str]:
    """What casts doubt on the logs, or leaves some of them out; a sentence each."""
    streams = tuple(scenario.transmitter)
    wanted = int(stamp_of(scenario), 16)
    for log in logs:
        others = [f"{stamp:08X}" for stamp in log.stamps if stamp != wanted]
        if others:
            yield (
                f"{log.source}: stamp {', '.join(others)}, the scenario's is {wanted:08X}: another "
                "scenario's log, or settings have changed since the firmware was built"
            )
        if log.lost:
            share = 100 * log.lost / (log.lost + sum(map(len, log.lives)))
            yield (
                f"{log.source}: {log.lost:,} records ({share:.2g} %) did not fit into the probe's "
                "buffer: frames that were read but not logged count as missing"
            )
        left_us = int(log.longest["t_us"][-1]) - end_us(log, streams)
        if left_us:
            yield (
                f"{log.source}: a transmitter is silent for the last {left_us / 1e6:.1f} s of what "
                "is judged, as one that was switched off: they are left out"
            )
    if len(rows) > 2 and not any(row.is_held for row in rows):
        yield "nothing held: is it this scenario's log?"


def failsafes_told(scenario: Scenario, logs: Sequence[UnitLog]) -> tuple[str, ...]:
    """Streams with a failsafe of which the receiver's log says something."""
    return tuple(
        name
        for number, name in enumerate(scenario.transmitter)
        if name in scenario.failsafe
        and any(
            len(of_event(life, Event.FAILSAFE, number))
            for log in logs
            if log.unit == RECEIVER
            for life in log.lives
        )
    )


def told(scenario: Scenario, logs: Sequence[UnitLog], window: Window) -> Iterator[Told]:
    """What the receiver's log tells on its own."""
    for log in logs:
        if log.unit != RECEIVER:
            continue
        rows = judged_rows(log, tuple(scenario.transmitter), window)
        for number, name in enumerate(scenario.transmitter):
            runs = losses_of(rows, number)
            if runs is not None and runs.run_frames and runs.apart_frames:
                yield _runs(name, "losses in a row", runs.run_frames, runs.chance)
                yield _runs(name, "frames between them", runs.apart_frames, runs.chance)
        for name in window.failsafes:
            yield from _reactions(reactions_ms(scenario, log, name), name)
        yield from _resets(boots_ms(log))


def _runs(name: str, what: str, found: Estimate, chance: float) -> Told:
    return Told(
        of=name,
        what=what,
        value=found.value,
        low=found.low,
        high=found.high,
        unit="frames",
        how=f"losses hang together: by chance alone {_seldom(chance)}",
    )


def _seldom(chance: float) -> str:
    is_known = chance > _LEAST_CHANCE
    return (
        f"about once in {1 / chance:.2g}"
        if is_known
        else f"less than once in {1 / _LEAST_CHANCE:g}"
    )


def _reactions(found_ms: Sequence[float], name: str) -> Iterator[Told]:
    if found_ms:
        how = "it is the timeout and up to a pass"
        yield _median(name, "last frame to failsafe", found_ms, how)


def _resets(boots: Sequence[float]) -> Iterator[Told]:
    """Boots after the first, whose kind the log does not tell."""
    if later := boots[1:]:
        how = "receiver.reset_boot_s, if they were resets"
        yield _median(RECEIVER, "later boots to first pass", later, how)


def _median(of: str, what: str, found_ms: Sequence[float], how: str) -> Told:
    return Told(
        of=of,
        what=f"{what}, median",
        value=float(np.median(found_ms)),
        low=min(found_ms),
        high=max(found_ms),
        unit="ms",
        how=f"shortest and longest of {len(found_ms)}: {how}",
    )


def not_measured(
    scenario: Scenario, logs: Sequence[UnitLog], figures: Mapping[str, Figure]
) -> Iterator[NotMeasured]:
    """What the figures of these logs leave open, and the log that would tell."""
    units: Mapping[str, UnitLog] = {log.unit: log for log in logs}
    if RECEIVER not in units:
        yield NotMeasured(
            what="frames read and missing, gaps, periods on one clock, loop time",
            log="the receiver's, with probe_read and probe_pass",
        )
    else:
        yield from _of_receiver(scenario, figures)
    for name in scenario.transmitter:
        if name not in units:
            yield NotMeasured(
                what=f"{name}: spread of samples, retries",
                log=f"that of {name}, with probe_sample and probe_done",
            )
    yield NotMeasured(
        what="upload, time on the air, retries used up (the sheet's 'Times of one frame')",
        log="a logic analyser's: select pin, start pin and interrupt line",
    )
    yield NotMeasured(
        what="latency to an output",
        log="a logic analyser's: a spare pin of the transmitter, and the output",
    )
    yield NotMeasured(
        what="reaction of outputs to each fault (the sheet's 'Failsafe')",
        log="none yet: do those steps of radiosim bench-test by hand",
    )


def _of_receiver(scenario: Scenario, figures: Mapping[str, Figure]) -> Iterator[NotMeasured]:
    """What another log of the receiver would tell."""
    if scenario.receiver.interrupt:
        yield NotMeasured(
            what="loop time, work for each frame, boot time",
            log="none: passes are not compared where an interrupt reads",
        )
    else:
        wanted = {
            "pass.receiver": ("loop time", "with probe_pass once a turn"),
            "reading.receiver": (
                "work for each frame (receiver.unpack_us)",
                "with probe_pass and probe_read, and more than 1,000 passes",
            ),
            "boot.receiver": (
                "boot time (receiver.boot_s)",
                "from power-on on, with probe_boot first of all and probe_pass",
            ),
        }
        for key, (what, how) in wanted.items():
            if key not in figures:
                yield NotMeasured(what=what, log=f"the receiver's, {how}")
    for name in scenario.failsafe:
        if f"reaction.{name}" not in figures:
            yield NotMeasured(
                what=f"{name}: reaction time of failsafe",
                log=(
                    f"the receiver's, with probe_failsafe, in which {name} is switched off some "
                    "times and left off until failsafe comes"
                ),
            )
    for name in scenario.transmitter:
        if f"missing.{name}" in figures and f"loss_run.{name}" not in figures:
            yield NotMeasured(
                what=f"{name}: lengths of loss bursts",
                log="a longer one of the receiver: fewer than five runs of losses are in this",
            )
