"""Logs of the bench against a scenario: what held, what the log alone tells, what explains it."""

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from functools import partial

import numpy as np
from msgspec import Struct

from radiosim.bench_log.csv_records import Names
from radiosim.bench_log.estimates import Estimate
from radiosim.bench_log.records import RECEIVER, Event, LogError, UnitLog, of_event
from radiosim.engine.simulate import Engine
from radiosim.firmware.settings_header import stamp_of
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.explained import (
    RERUN_STARTS,
    Explanation,
    Setting,
    Simulated,
    explanations,
    fitting,
    together,
)
from radiosim.study.fit.judged import (
    FIRST_STARTS,
    Judged,
    Values,
    is_clear,
    judged,
    simulated_values,
    starts_for,
    units_of,
)
from radiosim.study.fit.log_figures import (
    Window,
    figures_of,
    judged_rows,
    losses_of,
    whole_window,
)
from radiosim.study.run_points import OnProgress
from radiosim.study.worker_pool import shared_pool

MOST_S = 600.0
"""Of a log that is judged: what comes later tells little more, and takes as long to simulate."""
_SHORTEST_S = 5.0
_LEAST_CHANCE = 1e-12
"""Smaller ones say no more."""


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


class Fit(Struct, frozen=True, kw_only=True):
    """All that logs say of a scenario."""

    scenario: str
    title: str
    version: str
    seed: int
    starts: int
    """Simulated logs that each figure is judged beside."""
    seconds: float
    """Of each log that is judged."""
    logs: tuple[LogUsed, ...]
    warnings: tuple[str, ...]
    figures: tuple[Judged, ...]
    told: tuple[Told, ...]
    explanations: tuple[Explanation, ...]
    unexplained: tuple[str, ...]
    """Keys of figures that did not hold and that no setting tried explains."""
    not_measured: tuple[NotMeasured, ...]
    settings: tuple[Setting, ...]
    """The best explanations that do not overlap: what --write sets."""
    still_out: tuple[str, ...]
    """Keys of figures that do not fit with all of `settings`; on the log that they come from."""

    @property
    def ok(self) -> bool:
        """Whether every figure held."""
        return all(row.is_held for row in self.figures)


def names_of(scenario: Scenario) -> Names:
    """What logs of a scenario may name."""
    return Names(transmitters=tuple(scenario.transmitter), outputs=tuple(scenario.output))


@shared_pool()
def fit_logs(
    scenario: Scenario,
    logs: Sequence[UnitLog],
    *,
    version: str,
    engine: Engine = "auto",
    workers: int | None = None,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
) -> Fit:
    """Judge the logs of units, one each, of one run; LogError if they are too short.

    Only starts without faults are simulated: log the bench while all is well.
    """
    streams = tuple(scenario.transmitter)
    window = _window(logs, streams)
    figures = figures_of(scenario, logs, window)
    if not figures:
        raise LogError(f"{logs[0].source}: has nothing to judge: no frame, no sample and no pass")
    simulated = partial(
        _simulated, logs=logs, window=window, engine=engine, workers=workers, executor=executor
    )
    total = starts_for(len(figures))
    values = simulated(scenario, range(min(FIRST_STARTS, total)), on_progress=on_progress)
    if len(values) < total and not is_clear(figures, values):
        more = simulated(scenario, range(len(values), total), on_progress=on_progress)
        values = (*values, *more)
    rows = judged(figures, values)

    def again(other: Scenario, count: int) -> Sequence[Values]:
        return simulated(other, range(count))

    why = explanations(scenario, figures, rows, again)
    explained = {key for one in why for key in one.explains}
    chosen = together(why)
    lines = tuple(line for one in chosen for line in one.setting.lines)
    return Fit(
        scenario=scenario.name,
        title=scenario.title or scenario.name,
        version=version,
        seed=scenario.seed,
        starts=len(values),
        seconds=window.length_us / 1e6,
        logs=tuple(_used(log) for log in logs),
        warnings=tuple(_warnings(scenario, logs, rows)),
        figures=rows,
        told=tuple(_told(scenario, logs, window)),
        explanations=why,
        unexplained=tuple(row.key for row in rows if not row.is_held and row.key not in explained),
        not_measured=tuple(_not_measured(scenario, logs)),
        settings=tuple(one.setting for one in chosen),
        still_out=_still_out(scenario, rows, lines, again),
    )


def _still_out(
    scenario: Scenario, rows: Sequence[Judged], lines: Sequence[str], again: Simulated
) -> tuple[str, ...]:
    if not lines:
        return ()
    fits = fitting(rows, again(changed(scenario, lines), RERUN_STARTS))
    return tuple(key for key, is_fitting in fits.items() if not is_fitting)


def _window(logs: Sequence[UnitLog], streams: Sequence[str]) -> Window:
    found = whole_window(logs, streams)
    if found is None or found.length_us < _SHORTEST_S * 1e6:
        raise LogError(
            f"{logs[0].source}: must go on for {_SHORTEST_S + 1:g} s after the first frame of each "
            "stream, without a reset between, in every unit's log"
        )
    return Window(skipped_us=0, length_us=min(found.length_us, round(MOST_S * 1e6)))


def _simulated(
    scenario: Scenario,
    numbers: range,
    *,
    logs: Sequence[UnitLog],
    window: Window,
    engine: Engine,
    workers: int | None,
    executor: Executor | None,
    on_progress: OnProgress | None = None,
) -> tuple[Values, ...]:
    return simulated_values(
        scenario,
        units_of(logs),
        window,
        numbers,
        engine=engine,
        workers=workers,
        executor=executor,
        on_progress=on_progress,
    )


def _used(log: UnitLog) -> LogUsed:
    return LogUsed(
        source=log.source,
        unit=log.unit,
        records=sum(map(len, log.lives)),
        lives=len(log.lives),
        lost=log.lost,
        notes=log.notes,
    )


def _warnings(scenario: Scenario, logs: Sequence[UnitLog], rows: Sequence[Judged]) -> Iterator[str]:
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
    if len(rows) > 2 and not any(row.is_held for row in rows):
        yield "nothing held: is it this scenario's log?"


def _told(scenario: Scenario, logs: Sequence[UnitLog], window: Window) -> Iterator[Told]:
    for log in logs:
        if log.unit != RECEIVER:
            continue
        rows = judged_rows(log, tuple(scenario.transmitter), window)
        for number, name in enumerate(scenario.transmitter):
            runs = losses_of(rows, number)
            if runs is not None and runs.run_frames and runs.apart_frames:
                yield _runs(name, "losses in a row", runs.run_frames, runs.chance)
                yield _runs(name, "frames between them", runs.apart_frames, runs.chance)
            yield from _reactions(log, number, name)


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


def _reactions(log: UnitLog, number: int, name: str) -> Iterator[Told]:
    """From the last frame that was read to failsafe, over all lives."""
    late_us: list[int] = []
    for life in log.lives:
        on = of_event(life, Event.FAILSAFE, number)
        reads = of_event(life, Event.READ, number)["t_us"]
        at_us = on["t_us"][on["value"] == 1]
        places = np.searchsorted(reads, at_us, side="right") - 1
        late_us += (at_us[places >= 0] - reads[places[places >= 0]]).tolist()
    if late_us:
        yield Told(
            of=name,
            what="last frame to failsafe, median",
            value=float(np.median(late_us)) / 1000,
            low=min(late_us) / 1000,
            high=max(late_us) / 1000,
            unit="ms",
            how=f"shortest and longest of {len(late_us)}; it is the timeout and up to a pass",
        )


def _not_measured(scenario: Scenario, logs: Sequence[UnitLog]) -> Iterator[NotMeasured]:
    units: Mapping[str, UnitLog] = {log.unit: log for log in logs}
    if RECEIVER not in units:
        yield NotMeasured(
            what="frames read and missing, gaps, periods on one clock, loop time",
            log="the receiver's, with probe_read and probe_pass",
        )
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
        what="reaction to each fault (the sheet's 'Failsafe')",
        log="none yet: do those steps of radiosim bench-test by hand",
    )
