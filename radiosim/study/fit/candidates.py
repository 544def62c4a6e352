"""Settings that a log can tell, each fitted to what it shows."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from msgspec import Struct

from radiosim.bench_log.estimates import Estimate
from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.figure import Figure, Values
from radiosim.study.fit.judged import Judged

RERUN_STARTS = 79
"""Of each candidate: a figure is explained where its chance is above the smallest but one, 0.05."""
_FEW = 12
"""Starts of each step towards a share of losses."""
_LOOP_STEPS = 3
"""Towards a loop time: what a pass has besides hardly changes with it."""
_BURST_STEPS = 4
"""Towards the lengths of bursts: each takes off most of what they are off by."""
_STEPS = 9
"""Halvings of the share of losses: to 1/512 of where it lies."""
_CLOCK_PPM = 20_000.0
"""Clocks are off by no more (rule T5): what is, is a period."""

Simulated = Callable[[Scenario, int], Sequence[Values]]
"""Figures of simulated logs of a scenario, of so many starts."""


class Setting(Struct, frozen=True, kw_only=True):
    """One setting as the log has it."""

    lines: tuple[str, ...]
    """KEY=VALUE, as for --set."""
    measured: str
    """Its figure with its interval, or how it was found."""
    value: float | None = None
    """Of the first line."""
    low: float | None = None
    """Where that lies with a trust of 95 %; None: not known."""
    high: float | None = None

    @property
    def keys(self) -> tuple[str, ...]:
        """What it sets."""
        return tuple(line.partition("=")[0] for line in self.lines)


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
    yield from _loop(scenario, figures, missed, simulated)
    yield from _reading(scenario, figures, missed, simulated)
    yield from _boot(scenario, figures, missed, simulated)
    for name in scenario.failsafe:
        yield from _timeout(scenario, name, figures, missed, simulated)
    if any(key.startswith(("missing.", "loss_run.", "longest_gap.", "trips.")) for key in missed):
        yield from _bursts(scenario, figures, simulated)
    if any(key.startswith(("missing.", "reads.", "longest_gap.", "retries.")) for key in missed):
        yield from _loss(scenario, figures, simulated)


def interval_text(found: Estimate, unit: str, digits: int = 6) -> str:
    """An interval as comments and tables show it."""
    return f"{found.low:.{digits}g} to {found.high:.{digits}g} {unit}".rstrip()


def _period(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], missed: set[str]
) -> Iterator[Setting]:
    unit, figure = scenario.transmitter[name], figures.get(f"period.{name}")
    keys = (f"period.{name}", f"reads.{name}")
    if not missed.intersection(keys) or unit.pacing != "timer" or not unit.period_ms:
        return
    if figure is not None and figure.estimate is not None:
        found = figure.estimate
        text = f"{interval_text(found, 'ms', 8)} on the receiver's clock"
        ppm = (found.value / unit.period_ms - 1) * 1e6
        if abs(ppm) <= _CLOCK_PPM:
            yield Setting(
                lines=(f"transmitter.{name}.clock_ppm={ppm:.0f}",),
                measured=text,
                value=ppm,
                low=(found.low / unit.period_ms - 1) * 1e6,
                high=(found.high / unit.period_ms - 1) * 1e6,
            )
        yield _as_measured(f"transmitter.{name}.period_ms", found, text)


def _jitter(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], missed: set[str]
) -> Iterator[Setting]:
    figure = figures.get(f"spread.{name}")
    keys = (f"spread.{name}", f"longest_period.{name}")
    if figure is None or figure.estimate is None or not missed.intersection(keys):
        return
    key, text = f"transmitter.{name}.jitter_ms", interval_text(figure.estimate, "ms", 4)
    yield _as_measured(key, figure.estimate, text, 4)


def _as_measured(key: str, found: Estimate, text: str, digits: int = 6) -> Setting:
    return Setting(
        lines=(f"{key}={found.value:.{digits}g}",),
        measured=text,
        value=found.value,
        low=found.low,
        high=found.high,
    )


def _moved(key: str, now: float, by: float, figure: Figure, per_unit: float, text: str) -> Setting:
    """A setting that is moved by as much as its figure was off, its interval that of the figure.

    `per_unit`: how many of the setting's units one of the figure's is.
    """
    value, found = now + by, figure.estimate
    return Setting(
        lines=(f"{key}={value:.6g}",),
        measured=text,
        value=value,
        low=None if found is None else value + (found.low - found.value) * per_unit,
        high=None if found is None else value + (found.high - found.value) * per_unit,
    )


def _loop(
    scenario: Scenario, figures: Mapping[str, Figure], missed: set[str], simulated: Simulated
) -> Iterator[Setting]:
    """The loop time less what reading and work add to it: tried until simulated logs agree."""
    figure = figures.get("pass.receiver")
    keys = ("pass.receiver", "longest_pass.receiver")
    if figure is None or figure.estimate is None or not missed.intersection(keys):
        return
    reads = [key for key in figures if key.startswith("reads.")]
    read = _total(reads, {key: figures[key].value for key in reads})
    loop_ms, again = scenario.receiver.loop_ms, scenario
    for _ in range(_LOOP_STEPS):
        logs = [one for one in simulated(again, _FEW) if "pass.receiver" in one]
        if not logs:
            return
        # Of logs with as many frames read: each adds to a pass, and losses take them away.
        alike = min(logs, key=lambda one: abs(_total(reads, one) - read))
        loop_ms += figure.value - alike["pass.receiver"]
        if loop_ms <= 0:
            return
        again = changed(scenario, (f"receiver.loop_ms={loop_ms:.6g}",))
    text = f"a pass of {interval_text(figure.estimate, 'ms')}, reading of frames included"
    yield _moved("receiver.loop_ms", loop_ms, 0.0, figure, 1.0, text)


def _reading(
    scenario: Scenario, figures: Mapping[str, Figure], missed: set[str], simulated: Simulated
) -> Iterator[Setting]:
    """Work for each frame: as much more as reading one takes longer than simulated."""
    figure = figures.get("reading.receiver")
    if figure is None or figure.estimate is None or scenario.receiver.interrupt:
        return
    if not missed.intersection(("reading.receiver", "pass.receiver", "longest_pass.receiver")):
        return
    usual = _usual(simulated(scenario, _FEW), figure.key)
    now = scenario.receiver.unpack_us
    if usual is None or now + figure.value - usual < 0:
        return
    text = f"reading a frame takes {interval_text(figure.estimate, 'us', 4)}"
    yield _moved("receiver.unpack_us", now, figure.value - usual, figure, 1.0, text)


def _boot(
    scenario: Scenario, figures: Mapping[str, Figure], missed: set[str], simulated: Simulated
) -> Iterator[Setting]:
    figure = figures.get("boot.receiver")
    if figure is None or figure.key not in missed:
        return
    usual = _usual(simulated(scenario, RERUN_STARTS), figure.key)
    if usual is None:
        return
    by_s, now = (figure.value - usual) / 1000, scenario.receiver.boot_s
    if now + by_s >= 0:
        text = f"boot to first pass {figure.value:.6g} ms"
        yield _moved("receiver.boot_s", now, by_s, figure, 0.001, text)


def _timeout(
    scenario: Scenario,
    name: str,
    figures: Mapping[str, Figure],
    missed: set[str],
    simulated: Simulated,
) -> Iterator[Setting]:
    figure = figures.get(f"reaction.{name}")
    if figure is None or not missed.intersection((figure.key, f"trips.{name}")):
        return
    usual, now = _usual(simulated(scenario, _FEW), figure.key), scenario.failsafe[name].timeout_ms
    if usual is None or now + figure.value - usual <= 0:
        return
    found = figure.estimate
    text = "" if found is None else f", {interval_text(found, 'ms')}"
    text = f"last frame to failsafe, mean {figure.value:.6g} ms{text}"
    yield _moved(f"failsafe.{name}.timeout_ms", now, figure.value - usual, figure, 1.0, text)


def _usual(simulated: Sequence[Values], key: str) -> float | None:
    """Median of a figure in simulated logs; None if they lack it."""
    found = sorted(one[key] for one in simulated if key in one)
    return found[len(found) // 2] if found else None


def _bursts(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    """Loss in two states, with which losses are as many and as long as in the log."""
    runs = [key for key in figures if key.startswith("loss_run.")]
    if not runs or scenario.air.range is not None:
        return
    key = max(runs, key=lambda one: figures[one].value)
    name, found = key.partition(".")[2], figures[key]
    period, missing = figures.get(f"period.{name}"), figures.get(f"missing.{name}")
    if period is None or missing is None or found.estimate is None or found.value <= 1:
        return
    share = missing.value / 100
    bad_ms = period.value * found.value
    good_ms = bad_ms * (1 - share) / share
    for _ in range(_BURST_STEPS):
        try:
            values = simulated(changed(scenario, _bursting(good_ms, bad_ms)), _FEW)
        except ScenarioError:
            return
        run, lost = _usual(values, key), _usual(values, missing.key)
        if run is None or not lost:
            return
        bad_ms *= found.value / run
        good_ms *= found.value / run * (lost / missing.value)
    text = f"frames of {name} missing in a row, mean {interval_text(found.estimate, '', 4)}"
    ratio = bad_ms / found.value
    yield Setting(
        lines=_bursting(good_ms, bad_ms),
        measured=text,
        value=bad_ms,
        low=found.estimate.low * ratio,
        high=found.estimate.high * ratio,
    )


def _bursting(good_ms: float, bad_ms: float) -> tuple[str, ...]:
    return (
        f"air.burst={{ good_ms = {good_ms:.4g}, bad_ms = {bad_ms:.4g} }}",
        "air.loss=0",
        "air.acknowledge_loss=0",
    )


def _loss(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Simulated
) -> Iterator[Setting]:
    """The share of attempts lost with which as much is missing as in the log."""
    keys = [key for key in figures if key.startswith(("missing.", "retries."))]
    if not keys or scenario.air.burst is not None or scenario.air.range is not None:
        return
    # Retries tell of loss where nothing is missing.
    told = [key for key in keys if key.startswith("retries.")] or keys
    target = _total(told, {key: figures[key].value for key in told})
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        values = simulated(changed(scenario, _losing(middle)), _FEW)
        got = sorted(_total(told, one) for one in values)[len(values) // 2]
        low, high = (middle, high) if got < target else (low, middle)
    loss = (low + high) / 2
    yield Setting(
        lines=_losing(loss),
        measured=f"tried until {' and '.join(figures[key].what for key in told[:1])} agree",
    )


def _losing(share: float) -> tuple[str, str]:
    return f"air.loss={share:.3g}", f"air.acknowledge_loss={share:.3g}"


def _total(keys: Sequence[str], values: Values) -> float:
    return math.fsum(values.get(key, 0.0) for key in keys)
