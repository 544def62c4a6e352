"""Nuisance trips of two transmitters whose clocks beat, and the period that ends them.

Proved on the same starts: those that tripped most are simulated again with one period changed.
"""

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.scenario.danger import danger_of_stream
from radiosim.scenario.traffic import too_much
from radiosim.study.drill.results import BeatTrips
from radiosim.study.drill.trade_off import Trips, trips_of
from radiosim.study.tune.period_pairs import Pair, pairs_of, periods_near

FEWEST_TRIPS = 3
"""Below that nothing is proved by fewer."""
MOST_STARTS = 4
"""Starts that are simulated again for each stream."""
LEFT_SHARE = 0.2
"""Of the trips, at most, for the beat to be what trips: our own choice."""


def beats_of(
    scenario: Scenario, timeouts_ms: Sequence[float], trips: Sequence[Trips], engine: Engine
) -> Iterator[BeatTrips]:
    """The beat that trips each stream's failsafe, where there is one that a period ends.

    `trips`: those of starts 0, 1, 2 … of the scenario, which has no faults.
    """
    pairs = [pair for pair in pairs_of(scenario) if pair.is_beating]
    for stream, failsafe in scenario.failsafe.items():
        place = timeouts_ms.index(failsafe.timeout_ms)
        counts = {start: found.counts[stream][place] for start, found in enumerate(trips)}
        worst = sorted(counts, key=lambda start: -counts[start])[:MOST_STARTS]
        tripped = {start: counts[start] for start in worst if counts[start]}
        mine = [pair for pair in pairs if stream in (pair.first, pair.second)]
        if sum(tripped.values()) >= FEWEST_TRIPS:
            yield from _of_stream(scenario, stream, tripped, mine, engine)


def _of_stream(
    scenario: Scenario,
    stream: str,
    tripped: Mapping[int, int],
    pairs: Sequence[Pair],
    engine: Engine,
) -> Iterator[BeatTrips]:
    """The first of a stream's pairs that trips it; `tripped`: trips by start."""
    total, timeout_ms = sum(tripped.values()), scenario.failsafe[stream].timeout_ms
    for pair in pairs:
        for unit in _movable(scenario, pair):
            period_ms = clear_period_ms(scenario, unit)
            if period_ms is None:
                continue
            cured = with_period(scenario, unit, period_ms)
            left = sum(
                trips_of(cured, start, engine, (timeout_ms,)).counts[stream][0] for start in tripped
            )
            if left <= LEFT_SHARE * total:
                yield BeatTrips(
                    stream=stream,
                    first=pair.first,
                    second=pair.second,
                    starts=len(tripped),
                    trips=total,
                    left=left,
                    set=f"transmitter.{unit}.period_ms={period_ms}",
                )
                return


def _movable(scenario: Scenario, pair: Pair) -> list[str]:
    """Units of a pair that have a period to change; first the one that moves what looks alone."""
    return sorted(
        (
            name
            for name in reversed(pair.transmitters)
            if scenario.transmitter[name].period_ms is not None
        ),
        key=lambda name: -danger_of_stream(scenario, name),
    )


def with_period(scenario: Scenario, name: str, period_ms: float) -> Scenario:
    """The scenario with another period of one transmitter."""
    unit = replace(scenario.transmitter[name], period_ms=period_ms)
    return replace(scenario, transmitter={**scenario.transmitter, name: unit})


def clear_period_ms(scenario: Scenario, name: str) -> int | None:
    """The nearest whole period, from half to double, with which a transmitter beats with none."""
    for period_ms in periods_near(scenario.transmitter[name].period_ms or 0.0):
        tried = with_period(scenario, name, float(period_ms))
        mine = (pair for pair in pairs_of(tried) if name in (pair.first, pair.second))
        if not any(pair.is_beating for pair in mine) and not too_much(tried):
            return period_ms
    return None
