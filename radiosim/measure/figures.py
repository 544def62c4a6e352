"""From tallies to figures, with intervals over starts where there is more than one."""

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec
from msgspec import UNSET

from radiosim.measure.histogram import Histogram
from radiosim.measure.intervals import MISS, rate_over_starts, ratio_over_starts, share_over_starts
from radiosim.measure.of_fault import NEVER, over_at_ns
from radiosim.measure.of_output import MICRODEGREES
from radiosim.measure.summary import (
    AirFigures,
    FailsafeFigures,
    FaultFigures,
    Figures,
    Gaps,
    OutputAtFault,
    OutputFigures,
    ReceiverFigures,
    StreamFigures,
)
from radiosim.measure.tally import (
    FailsafeTally,
    OutputFaultTally,
    OutputTally,
    Pool,
    RadioTally,
    StartTally,
    StreamTally,
    pooled,
)
from radiosim.radio.profiles import State, charge_mah, currents_ma
from radiosim.scenario import Scenario
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.units import NS_PER_HOUR, NS_PER_MS, NS_PER_S, ms_from_ns, ns_from_s

_COUNTS = tuple(
    name for name in StreamFigures.__struct_fields__ if StreamTally.__annotations__.get(name) is int
)


def figures_of(scenario: Scenario, pool: Pool, miss: float = MISS) -> Figures:
    """Figures of the starts together: counts as simulated, ratios and rates weighted (rule T6).

    `miss`: share of intervals that may miss their figure.
    """
    rows, weights = pool.rows, pool.weights
    spans_ns = _times(weights, [tally.duration_ns for tally in rows])
    return Figures(
        stream={
            name: _stream(scenario, name, [t.streams[name] for t in rows], pool, miss)
            for name in scenario.transmitter
        },
        output={
            name: _output(pool.outputs[name], [t.outputs[name] for t in rows], pool, miss)
            for name in scenario.output
        },
        air=AirFigures(
            occupancy=sum(_times(weights, [tally.busy_ns for tally in rows])) / sum(spans_ns),
            collisions=sum(total.lost_collision for total in pool.streams.values()),
        ),
        receiver=_receiver(scenario, pool),
        faults=tuple(
            _fault(scenario, index, [tally.faults[index] for tally in rows])
            for index in range(len(scenario.fault))
        ),
    )


def start_figures(scenario: Scenario, tally: StartTally) -> dict[str, float]:
    """Every number of one start's figures by its path (see `flat`)."""
    alone = Pool(
        streams=tally.streams, outputs=tally.outputs, rows=(tally,), weights=(1.0,), extremes={}
    )
    return flat(figures_of(scenario, alone))


def _times(weights: Sequence[float], values: Sequence[float]) -> list[float]:
    """Values of starts, each as often as its start counts."""
    return [weight * value for weight, value in zip(weights, values, strict=True)]


def _stream(
    scenario: Scenario, name: str, tallies: list[StreamTally], pool: Pool, miss: float
) -> StreamFigures:
    total, unit = pool.streams[name], scenario.transmitter[name]
    several, weights = len(tallies) > 1, pool.weights
    charge = _charge(scenario, unit, [tally.radio for tally in tallies], pool)
    worst = max(range(len(tallies)), key=lambda k: tallies[k].longest_gap_ns)
    seconds = _times(weights, [row.duration_ns / NS_PER_S for row in pool.rows])
    attempts = _times(weights, [t.attempts for t in tallies])
    sent = _times(weights, [t.sent for t in tallies])
    reads = _times(weights, [t.read for t in tallies])
    sampled = _times(weights, [t.sampled for t in tallies])
    on_air_ns = _times(weights, [t.on_air_ns for t in tallies])
    spans_ns = _times(weights, [row.duration_ns for row in pool.rows])
    return StreamFigures(
        **{name: getattr(total, name) for name in _COUNTS},
        delivery_ratio=sum(reads) / sum(sampled) if sum(sampled) else None,
        delivery_ratio_ci95=share_over_starts(reads, sampled, miss) if several else UNSET,
        update_rate_hz=sum(reads) / sum(seconds),
        update_rate_hz_ci95=ratio_over_starts(reads, seconds, miss) if several else UNSET,
        worst_second_updates=total.worst_second_updates,
        longest_gap_at_s=tallies[worst].longest_gap_at_ns / NS_PER_S,
        longest_gap_start=pool.rows[worst].start,
        gap_ms=_gaps(total),
        latency_ms=total.latency.distribution(NS_PER_MS),
        age_ms=total.age.distribution(NS_PER_MS),
        attempts_per_frame=sum(attempts) / sum(sent) if sum(sent) else None,
        attempts_per_frame_ci95=ratio_over_starts(attempts, sent, miss) if several else UNSET,
        duty_cycle=sum(on_air_ns) / sum(spans_ns),
        charge_mah_per_hour=charge,
        battery_h=_battery_h(unit, charge),
        failsafe=_failsafe([t.failsafe for t in tallies if t.failsafe is not None], pool, miss),
    )


def _gaps(total: StreamTally) -> Gaps:
    """The spread of closed gaps, with the longest of all: one may be open at either end."""
    closed = total.gap.distribution(NS_PER_MS)
    return Gaps(
        mean=closed.mean,
        median=closed.median,
        p95=closed.p95,
        p99=closed.p99,
        max=ms_from_ns(total.longest_gap_ns),
        n=closed.n,
    )


def _receiver(scenario: Scenario, pool: Pool) -> ReceiverFigures:
    unit = scenario.receiver
    charge = _charge(scenario, unit, [row.receiver for row in pool.rows], pool)
    return ReceiverFigures(charge_mah_per_hour=charge, battery_h=_battery_h(unit, charge))


def _charge(
    scenario: Scenario, unit: Transmitter | Receiver, radios: list[RadioTally], pool: Pool
) -> float:
    """Mean current of a radio over the starts, mA: the charge of an hour in mAh."""
    currents = currents_ma(scenario.profile(), unit.power_dbm)
    charges = [charge_mah(currents, _seconds(radio)) for radio in radios]
    hours = [row.duration_ns / NS_PER_HOUR for row in pool.rows]
    return sum(_times(pool.weights, charges)) / sum(_times(pool.weights, hours))


def _seconds(radio: RadioTally) -> dict[State, float]:
    return {
        "transmit_settle": radio.transmit_settle_ns / NS_PER_S,
        "transmit": radio.transmit_ns / NS_PER_S,
        "receive_settle": radio.receive_settle_ns / NS_PER_S,
        "receive": radio.receive_ns / NS_PER_S,
        "standby": radio.standby_ns / NS_PER_S,
        "power_down": radio.asleep_ns / NS_PER_S,
    }


def _battery_h(unit: Transmitter | Receiver, charge_mah_per_hour: float) -> float | None:
    """Hours of the unit's cell; None without one, or where nothing draws."""
    drawn_ma = charge_mah_per_hour + unit.board_ma
    return unit.battery_mah / drawn_ma if unit.battery_mah is not None and drawn_ma > 0 else None


def _failsafe(tallies: list[FailsafeTally], pool: Pool, miss: float) -> FailsafeFigures | None:
    if not tallies:
        return None
    total, several = pooled(tallies), len(tallies) > 1
    hours = [row.duration_ns / NS_PER_HOUR for row in pool.rows]
    trips = [tally.nuisance_trips for tally in tallies]
    weighted, spans = _times(pool.weights, trips), _times(pool.weights, hours)
    return FailsafeFigures(
        trips_on_fault=total.trips_on_fault,
        nuisance_trips=total.nuisance_trips,
        nuisance_per_hour=sum(weighted) / sum(spans),
        nuisance_per_hour_ci95=rate_over_starts(trips, hours, pool.weights, miss)
        if several
        else UNSET,
        starts_with_nuisance=sum(count > 0 for count in trips) if several else UNSET,
        seconds_on=total.on_ns / NS_PER_S,
    )


def _output(
    total: OutputTally, tallies: list[OutputTally], pool: Pool, miss: float
) -> OutputFigures:
    several = len(tallies) > 1
    seconds = _times(pool.weights, [row.duration_ns / NS_PER_S for row in pool.rows])
    fresh = _times(pool.weights, [tally.fresh for tally in tallies])
    error = total.servo_error
    return OutputFigures(
        stream=total.stream,
        refresh_hz=total.refresh_hz,
        update_rate_hz=sum(fresh) / sum(seconds),
        update_rate_hz_ci95=ratio_over_starts(fresh, seconds, miss) if several else UNSET,
        latency_ms=total.latency.distribution(NS_PER_MS),
        age_ms=total.age.distribution(NS_PER_MS),
        longest_hold_ms=None
        if total.longest_hold_ns is None
        else ms_from_ns(total.longest_hold_ns),
        servo_error_deg=None if error is None else error.distribution(MICRODEGREES),
    )


def _fault(
    scenario: Scenario, index: int, starts: list[dict[str, OutputFaultTally]]
) -> FaultFigures:
    """The slowest start, by output; None as soon as one start never got there.

    An output that holds its value has nothing to detect by, and is left out of the fault's own.
    """
    fault = scenario.fault[index]
    detected = {name: [start[name].reaction_ns for start in starts] for name in starts[0]}
    recovered = {name: [start[name].recovered_ns for start in starts] for name in starts[0]}
    outputs = {
        name: OutputAtFault(
            action=starts[0][name].action,
            reaction_ms=_slowest(detected[name]),
            recovered_ms=_slowest(recovered[name]),
        )
        for name in starts[0]
    }
    several, over_ns = len(starts) > 1, over_at_ns(scenario, fault)
    acting = {name: detected[name] for name in starts[0] if starts[0][name].action != "hold"}
    return FaultFigures(
        kind=fault.kind,
        unit=fault.unit,
        at_s=fault.at_s,
        for_s=fault.for_s,
        over_ms=None if over_ns == NEVER else ms_from_ns(over_ns - ns_from_s(fault.at_s)),
        reaction_ms=_slowest([ns for column in acting.values() for ns in column]),
        recovered_ms=_slowest([ns for column in recovered.values() for ns in column]),
        outputs=outputs,
        starts_without_reaction=_starts_without(acting, len(starts)) if several else UNSET,
        unrecovered_starts=_starts_without(recovered, len(starts)) if several else UNSET,
    )


def _slowest(spans_ns: list[int]) -> float | None:
    return None if not spans_ns or NEVER in spans_ns else ms_from_ns(max(spans_ns))


def _starts_without(columns: dict[str, list[int]], starts: int) -> int:
    return sum(any(column[k] == NEVER for column in columns.values()) for k in range(starts))


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
