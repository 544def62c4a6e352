"""Streams that a tuning must not make worse than they are: those that no requirement keeps up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from radiosim.errors import OptionError
from radiosim.measure.figures import flat
from radiosim.measure.summary import Summary
from radiosim.registers.figure import LOW
from radiosim.registers.figure_register import figure_at
from radiosim.scenario import Scenario
from radiosim.study.tune.tune_results import PointFigures, Worse

KEEPS_UP = (
    "gap_ms",
    "age_ms",
    "update_rate_hz",
    "worst_second_updates",
    "longest_hold_ms",
    "servo_error_deg",
)
"""Figures that say how often values come: a limit on one of them is a requirement on its stream.

A latency from sample to read, a share delivered or a trip says nothing of how seldom is enough.
"""
IN_WORST = (
    "update_rate_hz",
    "age_ms.mean",
    "age_ms.p99",
    "gap_ms.max",
    "failsafe.nuisance_per_hour",
)
"""Figures that must not become worse in the worst start."""
TOGETHER = ("update_rate_hz", "age_ms.median", "age_ms.mean", "age_ms.p99")
"""Nor these over all starts together: where some starts fail, all is better than the worst."""
SLACK = 0.02
"""By so much as a share: quantiles are known to 1.1 %."""


def stream_of(figure: str, scenario: Scenario) -> str:
    """The stream that a figure is about; empty for none."""
    kind, name, *_ = f"{figure}.".split(".")
    if kind == "output" and name in scenario.output:
        return scenario.output[name].stream
    return name if kind == "stream" else ""


def guarded_of(scenario: Scenario, prefer: Sequence[str] = ()) -> tuple[str, ...]:
    """Streams that no requirement of the scenario keeps up; of those preferred alone if some are.

    OptionError for a preferred stream that is none.
    """
    for name in prefer:
        if name not in scenario.transmitter:
            known = ", ".join(scenario.transmitter)
            raise OptionError(f"--prefer: must be a stream, one of {known}, got '{name}'")
    kept_up = {
        stream_of(requirement.figure, scenario)
        for requirement in scenario.requirement
        if requirement.figure.split(".")[2:3] and requirement.figure.split(".")[2] in KEEPS_UP
    }
    return tuple(name for name in prefer or scenario.transmitter if name not in kept_up)


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """What streams get, by path of a figure."""

    worst: Mapping[str, float]
    """In the worst start of each."""
    together: Mapping[str, float]
    """Over all starts."""


def levels_at(figures: PointFigures) -> Levels:
    """What streams get at a point."""
    together = {}
    for name, of in figures.stream.items():
        told = of.update_rate_hz, of.age_median_ms, of.age_mean_ms, of.age_p99_ms
        for figure, value in zip(TOGETHER, told, strict=True):
            if value is not None:
                together[f"stream.{name}.{figure}"] = value
    return Levels(worst=figures.worst, together=together)


def levels_in(summary: Summary) -> Levels:
    """What streams get in a run."""
    together = flat(summary.figures)
    worst = {path: entry.value for path, entry in summary.worst.items()}
    return Levels(worst=worst or together, together=together)


def worse_than(now: Levels, here: Levels, streams: Sequence[str]) -> tuple[Worse, ...]:
    """Figures of some streams that are worse here than as it stands, each once."""
    found: dict[str, Worse] = {}
    for name in streams:
        for figures, before, after, is_worst in (
            (TOGETHER, now.together, here.together, False),
            (IN_WORST, now.worst, here.worst, True),
        ):
            for path in (f"stream.{name}.{figure}" for figure in figures):
                value = after.get(path)
                if path not in before or path in found:
                    continue
                if value is None or _is_worse(path, before[path], value):
                    found[path] = Worse(
                        figure=path, now=before[path], here=value, is_in_worst_start=is_worst
                    )
    return tuple(found.values())


def _is_worse(path: str, now: float, here: float) -> bool:
    at = figure_at(path)
    if at is not None and at[0].worse_part(at[1]) == LOW:
        return here < now * (1 - SLACK)
    return here > now * (1 + SLACK)
