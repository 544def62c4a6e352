"""What explains figures that did not hold: settings fitted to the log, each proved by reruns."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from msgspec import Struct

from radiosim.bench_log.estimates import Estimate
from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from radiosim.study.fit.judged import Judged, Values, chance_of
from radiosim.study.fit.log_figures import Figure

RERUN_STARTS = 79
"""Of each candidate: a figure is explained where its chance is above the smallest but one, 0.05."""
_FEW = 12
"""Starts of each step towards a share of losses."""
_LOOP_STEPS = 3
"""Towards a loop time: what a pass has besides hardly changes with it."""
_STEPS = 9
"""Halvings of the share of losses: to 1/512 of where it lies."""
_EXPLAINED = 0.05
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


class Explanation(Struct, frozen=True, kw_only=True):
    """A setting, and the figures that hold with it."""

    setting: Setting
    explains: tuple[str, ...]
    """Keys of figures that did not hold and do with it."""
    breaks: tuple[str, ...]
    """Keys of figures that held and do not with it."""


def explanations(
    scenario: Scenario,
    figures: Mapping[str, Figure],
    rows: Sequence[Judged],
    simulated: Simulated,
) -> tuple[Explanation, ...]:
    """Settings that explain figures which did not hold, the best first; empty if all held.

    Each is fitted to the log, and the scenario run again with it alone.
    """
    missed = [row.key for row in rows if not row.is_held]
    if not missed:
        return ()
    found = []
    for setting in candidates(scenario, figures, rows, simulated):
        try:
            again = changed(scenario, setting.lines)
        except ScenarioError:
            continue
        values = simulated(again, RERUN_STARTS)
        fits = fitting(rows, values)
        explains = tuple(key for key in missed if fits[key])
        # One of twenty falls outside by chance: what was inside must be far outside to count.
        breaks = tuple(row.key for row in rows if row.is_held and not fits[row.key])
        if explains:
            found.append(Explanation(setting=setting, explains=explains, breaks=breaks))
    return tuple(sorted(found, key=lambda one: (-len(one.explains), len(one.breaks))))


def fitting(rows: Sequence[Judged], values: Sequence[Values]) -> dict[str, bool]:
    """Whether each figure lies where those of simulated logs do."""
    return {
        row.key: chance_of(
            row.measured, [one.get(row.key, -math.inf) for one in values], row.resolution
        )
        > _EXPLAINED
        for row in rows
    }


def together(found: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """The best explanation, and of the others those that explain what none before does."""
    chosen: list[Explanation] = []
    done: set[str] = set()
    keys: set[str] = set()
    for one in found:
        own = {line.partition("=")[0] for line in one.setting.lines}
        if not done.issuperset(one.explains) and not keys & own:
            chosen.append(one)
            done.update(one.explains)
            keys |= own
    return tuple(chosen)


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
            yield Setting(lines=(f"transmitter.{name}.clock_ppm={ppm:.0f}",), measured=text)
        yield Setting(lines=(f"transmitter.{name}.period_ms={found.value:.6g}",), measured=text)


def _jitter(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], missed: set[str]
) -> Iterator[Setting]:
    figure = figures.get(f"spread.{name}")
    keys = (f"spread.{name}", f"longest_period.{name}")
    if figure is None or figure.estimate is None or not missed.intersection(keys):
        return
    yield Setting(
        lines=(f"transmitter.{name}.jitter_ms={figure.value:.4g}",),
        measured=interval_text(figure.estimate, "ms", 4),
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
    yield Setting(
        lines=(f"receiver.loop_ms={loop_ms:.6g}",),
        measured=f"a pass of {interval_text(figure.estimate, 'ms')}, reading of frames included",
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
