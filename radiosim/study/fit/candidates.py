"""Settings that a log can tell, each fitted to what it shows."""

import math
from collections.abc import Iterator, Mapping, Sequence

from radiosim.bench_log.estimates import Estimate
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.figure import Figure, clock_off
from radiosim.study.fit.judged import Judged
from radiosim.study.fit.loss_settings import OF_LOSS, of_losses
from radiosim.study.fit.setting import (
    RERUN_STARTS,
    Setting,
    Simulated,
    as_measured,
    interval_text,
    moved,
    usual,
)

FEW = 12
"""Starts of which the usual figure is taken."""
_LOOP_STEPS = 3
"""Towards a loop time: what a pass has besides hardly changes with it."""
_CLOCK_PPM = 20_000.0
"""Clocks are off by no more (rule T5): what is, is a period."""
_OF_PASSES = ("reading.receiver", "pass.receiver", "longest_pass.receiver")


def candidates(
    scenario: Scenario,
    figures: Mapping[str, Figure],
    rows: Sequence[Judged],
    simulated: Simulated,
) -> Iterator[Setting]:
    """Settings that the log can tell and that could explain what did not hold."""
    missed = {row.key for row in rows if not row.is_held}
    for name in scenario.transmitter:
        yield from _period(scenario, name, figures, missed)
        yield from _jitter(scenario, name, figures, missed)
    if missed.intersection(_OF_PASSES):
        yield from _reading(scenario, figures, simulated)
        yield from _loop(scenario, figures, simulated)
    if "boot.receiver" in missed:
        yield from _boot(scenario, figures, simulated)
    for name in scenario.failsafe:
        if missed.intersection((f"reaction.{name}", f"trips.{name}")):
            yield from _timeout(scenario, name, figures, simulated)
    if any(key.startswith(OF_LOSS) for key in missed):
        yield from of_losses(scenario, figures, simulated(scenario, FEW))


def _period(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], missed: set[str]
) -> Iterator[Setting]:
    unit, figure = scenario.transmitter[name], figures.get(f"period.{name}")
    keys = (f"period.{name}", f"reads.{name}")
    if not missed.intersection(keys) or unit.pacing != "timer" or not unit.period_ms:
        return
    if figure is not None and figure.estimate is not None:
        found = figure.estimate
        text = f"{interval_text(found, 'ms', 8)} by the clock of the log"
        ppm = (found.value / unit.period_ms - 1) * 1e6
        if abs(ppm) <= _CLOCK_PPM:
            true = _by_own_clock(found, 0.0, figure.clock_off)
            yield Setting(
                lines=(f"transmitter.{name}.clock_ppm={ppm:.0f}",),
                measured=text,
                value=ppm,
                low=(true.low / unit.period_ms - 1) * 1e6,
                high=(true.high / unit.period_ms - 1) * 1e6,
            )
        own = _by_own_clock(found, clock_off(unit), figure.clock_off)
        yield as_measured(f"transmitter.{name}.period_ms", own, text)


def _jitter(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], missed: set[str]
) -> Iterator[Setting]:
    """The spread as the unit's clock has it, which is off by as much as its kind may be."""
    figure = figures.get(f"spread.{name}")
    keys = (f"spread.{name}", f"longest_period.{name}")
    if figure is None or figure.estimate is None or not missed.intersection(keys):
        return
    found = _by_own_clock(figure.estimate, clock_off(scenario.transmitter[name]))
    text = interval_text(found, "ms", 4)
    yield as_measured(f"transmitter.{name}.jitter_ms", found, text, 4)


def _by_own_clock(found: Estimate, own_off: float, log_off: float = 0.0) -> Estimate:
    """A time as its own clock has it, taken by the clock of a log, each off by such a part."""
    return Estimate(
        value=found.value,
        low=found.low * (1 - log_off) / (1 + own_off),
        high=found.high * (1 + log_off) / (1 - own_off),
    )


def _reading(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    """Work for each frame: as much more as reading one takes longer than simulated."""
    figure, now = figures.get("reading.receiver"), scenario.receiver.unpack_us
    if figure is None or figure.estimate is None or scenario.receiver.interrupt:
        return
    known = usual(simulated(scenario, FEW), figure.key)
    if known is not None and now + figure.value - known >= 0:
        text = f"reading a frame takes {interval_text(figure.estimate, 'us', 4)}"
        yield moved("receiver.unpack_us", now + figure.value - known, figure, text)


def _loop(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    """The loop time less what reading and work add to it: tried until simulated logs agree."""
    figure = figures.get("pass.receiver")
    if figure is None or figure.estimate is None:
        return
    reads = [key for key in figures if key.startswith("reads.")]
    read = math.fsum(figures[key].value for key in reads)
    loop_ms, again = scenario.receiver.loop_ms, scenario
    for _ in range(_LOOP_STEPS):
        logs = [one for one in simulated(again, FEW) if "pass.receiver" in one]
        if not logs:
            return
        # Of logs with as many frames read: each adds to a pass, and losses take them away.
        totals = [math.fsum(one.get(key, 0.0) for key in reads) for one in logs]
        alike = min(range(len(logs)), key=lambda k: abs(totals[k] - read))
        loop_ms += figure.value - logs[alike]["pass.receiver"]
        if loop_ms <= 0:
            return
        again = changed(scenario, (f"receiver.loop_ms={loop_ms:.6g}",))
    text = f"a pass of {interval_text(figure.estimate, 'ms')}, reading of frames included"
    yield moved("receiver.loop_ms", loop_ms, figure, text)


def _boot(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    figure = figures["boot.receiver"]
    logs = simulated(scenario, RERUN_STARTS)
    known = usual(logs, figure.key)
    if known is None:
        return
    # The radio's part of it is by no clock, and the first pass's by luck.
    spread_ms = max(abs(one[figure.key] - known) for one in logs if figure.key in one)
    boot_s = scenario.receiver.boot_s + (figure.value - known) / 1000
    if boot_s >= 0:
        text = f"boot to first pass {figure.value:.6g} ms"
        yield moved("receiver.boot_s", boot_s, figure, text, per_unit=0.001, blur=spread_ms / 1000)


def _timeout(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    """As much longer as the reaction: it is looked at once a pass, which is how far it is known."""
    figure, now = figures.get(f"reaction.{name}"), scenario.failsafe[name].timeout_ms
    known = None if figure is None else usual(simulated(scenario, FEW), figure.key)
    if figure is None or known is None or now + figure.value - known <= 0:
        return
    longest = figures.get("longest_pass.receiver")
    pass_ms = scenario.receiver.loop_ms if longest is None else longest.value
    found = figure.estimate
    text = "" if found is None else f", {interval_text(found, 'ms')}"
    text = f"last frame to failsafe, mean {figure.value:.6g} ms{text}"
    key = f"failsafe.{name}.timeout_ms"
    yield moved(key, now + figure.value - known, figure, text, blur=pass_ms)
