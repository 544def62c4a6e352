"""From tallies to figures, as the register says, with intervals over starts where there is more
than one."""

import dataclasses
import functools
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
from msgspec import UNSET

from radiosim.measure.figure_rules import (
    RULES,
    FaultMeasured,
    Measured,
    brownouts_with,
    slowest_ms,
)
from radiosim.measure.histogram import Histogram
from radiosim.measure.intervals import (
    MISS,
    is_too_few,
    rate_over_starts,
    ratio_over_starts,
    share_over_starts,
)
from radiosim.measure.summary import (
    AirFigures,
    Distribution,
    FailsafeFigures,
    FaultFigures,
    Figures,
    Gaps,
    Interval,
    NoiseFigures,
    OutputAtFault,
    OutputFigures,
    ReceiverFigures,
    StreamFigures,
)
from radiosim.measure.tally import (
    HIGHEST,
    LOWEST,
    SAME,
    FailsafeTally,
    Fate,
    FaultTally,
    NoiseTally,
    OutputFaultTally,
    OutputTally,
    Pool,
    StartTally,
    StreamTally,
    how_pooled,
    pooled,
)
from radiosim.registers.figure import (
    Figure,
    Highest,
    Judged,
    Lowest,
    Ratio,
    Ruled,
    Same,
    Spread,
    StartsWith,
    Sum,
)
from radiosim.registers.figure_register import FIGURES, figure_at, figures_in, is_rate
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.units import NS_PER_HOUR

STRUCTS: dict[str, type[msgspec.Struct]] = {
    "stream": StreamFigures,
    "stream.failsafe": FailsafeFigures,
    "stream.noise": NoiseFigures,
    "output": OutputFigures,
    "air": AirFigures,
    "receiver": ReceiverFigures,
    "faults": FaultFigures,
}
"""Table of the results → the struct that holds its figures, each under its name."""
_TALLIES: dict[str, type] = {
    "stream": StreamTally,
    "stream.failsafe": FailsafeTally,
    "stream.noise": NoiseTally,
    "output": OutputTally,
    "air": StartTally,
}
"""Table → what one start adds to it."""
_INTERVALS = {"share": share_over_starts, "ratio": ratio_over_starts}


def figures_of(scenario: Scenario, pool: Pool, miss: float = MISS) -> Figures:
    """Figures of the starts together: counts as simulated, ratios and rates weighted (rule T6).

    `miss`: share of intervals that may miss their figure.
    """
    return Figures(
        stream={
            name: _made("stream", _stream(scenario, pool, name, miss))
            for name in scenario.transmitter
        },
        output={
            name: _made("output", _output(scenario, pool, name, miss)) for name in scenario.output
        },
        air=_made("air", _air(scenario, pool)),
        receiver=_made("receiver", _receiver(scenario, pool)),
        faults=tuple(
            _made_fault(fault, [tally.faults[index] for tally in pool.rows])
            for index, fault in enumerate(scenario.fault)
        ),
    )


def start_figures(scenario: Scenario, tally: StartTally) -> dict[str, float]:
    """Every number of one start's figures by its path (see `flat`)."""
    return flat(figures_of(scenario, _alone(tally)))


def figures_at(scenario: Scenario, tally: StartTally, paths: Iterable[str]) -> dict[str, float]:
    """The figures of one start at some paths; those that were not measured are left out."""
    pool = _alone(tally)
    units: dict[tuple[str, ...], Measured | None] = {}
    found: dict[str, float] = {}
    for path in paths:
        at = figure_at(path)
        if at is None or isinstance(at[0].pool, Judged):
            continue
        unit = _unit_of(path)
        if unit not in units:
            units[unit] = _measured_at(scenario, pool, path)
        measured = units[unit]
        value = None if measured is None else _value(at[0], measured, at[1])
        if isinstance(value, int | float):
            found[path] = value
    return found


def rates_at(
    scenario: Scenario, pool: Pool, paths: Iterable[str]
) -> dict[str, tuple[float, tuple[float, float] | None]]:
    """Rates of events among the figures at some paths, over all starts, with their intervals.

    None for an interval: too few starts for one. Figures that are no rates, or that no start has,
    are left out.
    """
    found = {}
    for path in paths:
        at = figure_at(path)
        if at is None or not isinstance(at[0].pool, Ratio) or not is_rate(path):
            continue
        measured = _measured_at(scenario, pool, path)
        if measured is not None:
            counts = [getattr(tally, at[0].pool.of) for tally in measured.tallies]
            found[path] = (_value(at[0], measured), _rate_interval(counts, measured))
    return found


def _alone(tally: StartTally) -> Pool:
    return Pool(
        streams=tally.streams, outputs=tally.outputs, rows=(tally,), weights=(1.0,), extremes={}
    )


@functools.lru_cache(1024)
def _unit_of(path: str) -> tuple[str, ...]:
    """What the figure of a path is measured of: a table and a name, and the part of a stream."""
    steps = path.split(".")
    is_part = steps[0] == "stream" and steps[2] in _WITHOUT
    return tuple(steps[: 3 if is_part else 2])


def _measured_at(scenario: Scenario, pool: Pool, path: str) -> Measured | None:
    """What starts have measured of the unit of a path; None: it has no such timer."""
    table, name = path.split(".")[:2]
    measured: Measured | None
    match table:
        case "stream":
            measured = _stream(scenario, pool, name)
            part = path.split(".")[2]
            if part in _WITHOUT:
                measured = _part_of(measured, part)
        case "output":
            measured = _output(scenario, pool, name)
        case "air":
            measured = _air(scenario, pool)
        case _:
            measured = _receiver(scenario, pool)
    return measured


def _stream(scenario: Scenario, pool: Pool, name: str, miss: float = MISS) -> Measured:
    tallies = [row.streams[name] for row in pool.rows]
    total = pool.streams[name]
    return Measured(
        scenario=scenario, name=name, total=total, tallies=tallies, pool=pool, miss=miss
    )


_WITHOUT: dict[str, Any] = {"failsafe": None, "noise": UNSET}
"""Parts of a stream, and what stands for one that it has not."""


def _part_of(stream: Measured, part: str) -> Measured | None:
    """The timer, or the noise, of a stream; None without one."""
    found = [getattr(tally, part) for tally in stream.tallies]
    tallies = [tally for tally in found if tally is not None]
    if not tallies:
        return None
    return dataclasses.replace(stream, total=pooled(tallies), tallies=tallies)


def _output(scenario: Scenario, pool: Pool, name: str, miss: float = MISS) -> Measured:
    tallies = [row.outputs[name] for row in pool.rows]
    total = pool.outputs[name]
    return Measured(
        scenario=scenario, name=name, total=total, tallies=tallies, pool=pool, miss=miss
    )


def _air(scenario: Scenario, pool: Pool) -> Measured:
    return Measured(scenario=scenario, name="air", total=None, tallies=pool.rows, pool=pool)


def _receiver(scenario: Scenario, pool: Pool) -> Measured:
    radios = [row.receiver for row in pool.rows]
    return Measured(scenario=scenario, name="receiver", total=None, tallies=radios, pool=pool)


def _made(table: str, measured: Measured) -> Any:
    """The struct of a table of the results."""
    values = _values(table, measured)
    if table == "stream":
        for part, without in _WITHOUT.items():
            found, inner = _part_of(measured, part), f"{table}.{part}"
            values[part] = without if found is None else STRUCTS[inner](**_values(inner, found))
    if table == "output":
        values["stream"] = measured.total.stream
    if table == "receiver":
        values["brownouts_with"] = brownouts_with(measured)
    return STRUCTS[table](**values)


def _values(table: str, measured: Measured) -> dict[str, Any]:
    """Every figure of a table, and its interval, by name."""
    values: dict[str, Any] = {}
    for row in rows_of(table):
        if isinstance(row.pool, Judged):
            continue
        name = row.key.removeprefix(f"{table}.")
        values[name] = _value(row, measured)
        if isinstance(row.pool, Ratio) and row.has_interval:
            values[f"{name}_ci95"] = _interval(row.pool, measured)
    return values


@functools.cache
def rows_of(table: str) -> tuple[Figure, ...]:
    """The rows whose figures stand in the struct of a table, `stream.failsafe` being one."""
    top, _, inner = table.partition(".")
    return tuple(
        row
        for row in figures_in(top)
        if row.name.startswith(f"{inner}.") or (not inner and "." not in row.name)
    )


def _value(row: Figure, measured: Measured, part: str = "") -> Any:
    """A figure over some starts; of a spread one part alone where it is named."""
    value: Any = None
    match row.pool:
        case Sum() | Lowest() | Highest() | Same() as kept:
            value = getattr(measured.total, kept.of)
            if value is not None and kept.unit != 1:
                value /= kept.unit
        case Ratio(of=of, per=per):
            whole = math.fsum(measured.weighted(per))
            value = math.fsum(measured.weighted(of)) / whole if whole else None
        case StartsWith(of=of):
            counts = [getattr(tally, of) for tally in measured.tallies]
            value = sum(count > 0 for count in counts) if measured.is_several else UNSET
        case Spread() as spread:
            value = _spread(spread, measured.total, part)
        case Ruled():
            value = RULES[row.key](measured)
    return value


_QUANTILES = {"median": 0.50, "p95": 0.95, "p99": 0.99}


def _spread(row: Spread, total: Any, part: str) -> Distribution | Gaps | float | None:
    spread: Histogram | None = getattr(total, row.of)
    if spread is None:
        return None
    if part in _QUANTILES:
        return spread.quantile_ns(_QUANTILES[part]) / row.unit if spread.weight > 0 else None
    if part == "mean":
        return spread.moment / spread.weight / row.unit if spread.weight > 0 else None
    if part == "max" and row.longest:
        return float(getattr(total, row.longest) / row.unit)
    whole: Any = spread.distribution(row.unit)
    if row.longest:
        parts = {name: getattr(whole, name) for name in whole.__struct_fields__}
        whole = Gaps(**parts | {"max": getattr(total, row.longest) / row.unit})
    found: Distribution | Gaps | float | None = getattr(whole, part) if part else whole
    return found


def _interval(row: Ratio, measured: Measured) -> Interval:
    if not measured.is_several:
        return UNSET
    if row.interval == "rate":
        return _rate_interval([getattr(tally, row.of) for tally in measured.tallies], measured)
    if is_too_few(measured.pool.weights):
        return None
    over_starts = _INTERVALS[row.interval]
    return over_starts(measured.weighted(row.of), measured.weighted(row.per), measured.miss)


def _rate_interval(counts: Sequence[int], measured: Measured) -> tuple[float, float] | None:
    hours = [start.duration_ns / NS_PER_HOUR for start in measured.pool.rows]
    return rate_over_starts(counts, hours, measured.pool.weights, measured.miss)


def _made_fault(fault: Fault, starts: Sequence[FaultTally]) -> FaultFigures:
    """The slowest start, by output; None as soon as one start never got there.

    An output that holds its value has nothing to detect by, and is left out of the fault's own.
    """
    measured = FaultMeasured(starts=starts)
    values = {row.name: RULES[row.key](measured) for row in figures_in("faults")}
    made: Any = STRUCTS["faults"]
    found: FaultFigures = made(
        kind=fault.kind,
        unit=fault.unit,
        at_s=fault.at_s,
        for_s=fault.for_s,
        is_bitten=any(start.is_bitten for start in starts),
        outputs={name: _made_output(measured.of_output(name)) for name in starts[0].outputs},
        **values,
    )
    return found


def _made_output(starts: Sequence[OutputFaultTally]) -> OutputAtFault:
    found = Counter(start.fate for start in starts)
    return OutputAtFault(
        action=starts[0].action,
        fates={fate.value: found[fate] for fate in Fate if found[fate]},
        reaction_ms=slowest_ms([start.reaction_ns for start in starts]),
        recovered_ms=slowest_ms([start.recovered_ns for start in starts]),
        slowest_ms=slowest_ms([o.reaction_ns for o in starts if o.fate is Fate.CAME]),
        left_driven_starts=sum(start.is_left_driven for start in starts),
    )


_HOW = {Sum: "", Lowest: LOWEST, Highest: HIGHEST, Same: SAME, Spread: "", StartsWith: ""}
"""How the tally pools what a row says."""


def check_row(row: Figure) -> None:
    """ValueError: a row of the register has no rule, no field of its struct, or pools what the
    tally pools in another way."""
    if isinstance(row.pool, Judged):
        return
    table = next(t for t in sorted(STRUCTS, reverse=True) if row.key.startswith(f"{t}."))
    name = row.key.removeprefix(f"{table}.")
    if name not in STRUCTS[table].__struct_fields__:
        raise ValueError(f"figure {row.key!r}: {STRUCTS[table].__name__} has no field {name!r}")
    if isinstance(row.pool, Ruled):
        if row.key not in RULES:
            raise ValueError(f"figure {row.key!r}: has no rule in RULES")
        return
    parts = how_pooled(_TALLIES[table])
    if row.pool.of not in parts:
        raise ValueError(f"figure {row.key!r}: {_TALLIES[table].__name__} has no {row.pool.of!r}")
    how = _HOW.get(type(row.pool))
    if how is not None and parts[row.pool.of] != how:
        raise ValueError(f"figure {row.key!r}: its tally is not pooled as the row says")


for _row in FIGURES.values():
    check_row(_row)


def flat(figures: Figures) -> dict[str, float]:
    """Every number of the figures by its path, e.g. `stream.drive.gap_ms.p99`; faults left out."""
    found: dict[str, float] = {}
    _walk(msgspec.to_builtins(figures), "", found)
    return found


def _walk(value: Any, path: str, found: dict[str, float]) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            _walk(inner, f"{path}.{key}" if path else key, found)
    elif isinstance(value, int | float):
        found[path] = value
