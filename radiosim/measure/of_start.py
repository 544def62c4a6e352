"""Single figures of one start: the same numbers as all of them at once, in less time."""

from collections.abc import Iterable

from radiosim.measure.figures import start_figures
from radiosim.measure.histogram import Histogram
from radiosim.measure.tally import FailsafeTally, StartTally, StreamTally
from radiosim.scenario import Scenario
from radiosim.units import NS_PER_HOUR, NS_PER_MS, NS_PER_S

_QUANTILES = {"median": 0.50, "p95": 0.95, "p99": 0.99}
_SPREADS = ("gap_ms", "latency_ms", "age_ms")


def figures_at(scenario: Scenario, tally: StartTally, paths: Iterable[str]) -> dict[str, float]:
    """The figures of one start at some paths; those that were not measured are left out."""
    found: dict[str, float] = {}
    others: list[str] = []
    for path in paths:
        value = _figure(tally, path)
        if isinstance(value, str):
            others.append(path)
        elif value is not None:
            found[path] = value
    if others:
        figures = start_figures(scenario, tally)
        found |= {path: figures[path] for path in others if path in figures}
    return found


_ELSEWHERE = "elsewhere"


def _figure(tally: StartTally, path: str) -> float | str | None:
    """One figure; None: not measured; `_ELSEWHERE`: not one of those that are asked for often."""
    kind, name, *leaf = path.split(".")
    if kind == "stream":
        return _of_stream(tally, tally.streams[name], leaf)
    if kind == "output" and len(leaf) == 2 and leaf[0] in ("latency_ms", "age_ms"):
        output = tally.outputs[name]
        return _part(output.latency if leaf[0] == "latency_ms" else output.age, leaf[1])
    return _ELSEWHERE


def _of_stream(tally: StartTally, stream: StreamTally, leaf: list[str]) -> float | str | None:
    match leaf:
        case ["delivery_ratio"]:
            return stream.read / stream.sampled if stream.sampled else None
        case ["update_rate_hz"]:
            return stream.read / (tally.duration_ns / NS_PER_S)
        case ["gap_ms", "max"]:
            return stream.longest_gap_ns / NS_PER_MS
        case [spread, part] if spread in _SPREADS:
            return _part(getattr(stream, spread.removesuffix("_ms")), part)
        case ["failsafe", figure] if stream.failsafe is not None:
            return _of_failsafe(tally, stream.failsafe, figure)
    return _ELSEWHERE


def _of_failsafe(tally: StartTally, failsafe: FailsafeTally, figure: str) -> float | str:
    match figure:
        case "nuisance_trips" | "trips_on_fault":
            count: int = getattr(failsafe, figure)
            return count
        case "nuisance_per_hour":
            return failsafe.nuisance_trips / (tally.duration_ns / NS_PER_HOUR)
    return _ELSEWHERE


def _part(spread: Histogram, part: str) -> float | str | None:
    if part not in _QUANTILES:
        return _ELSEWHERE
    return spread.quantile_ns(_QUANTILES[part]) / NS_PER_MS if spread.weight > 0 else None
