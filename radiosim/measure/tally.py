"""What starts add to the figures: counts, spreads and extremes, pooled as they come."""

import functools
from collections.abc import Callable, Mapping, Sequence
from enum import Enum
from typing import Annotated, Any, TypeVar, get_type_hints

import msgspec

from radiosim.engine.stratification import Phases, shares_of, weight_of
from radiosim.measure.histogram import Histogram, added, empty
from radiosim.trace import BrownoutRow
from radiosim.units import NS_PER_S

T = TypeVar("T")
LOWEST, HIGHEST, SAME = "lowest", "highest", "same"


class FailsafeTally(msgspec.Struct, frozen=True, kw_only=True):
    """One stream's timer."""

    trips_on_fault: int
    nuisance_trips: int
    on_ns: int


class NoiseTally(msgspec.Struct, frozen=True, kw_only=True):
    """Noise that passed for frames of one stream."""

    frames: int


class RadioTally(msgspec.Struct, frozen=True, kw_only=True):
    """Time that one radio spent in each state that draws current."""

    transmit_settle_ns: int = 0
    transmit_ns: int = 0
    receive_settle_ns: int = 0
    receive_ns: int = 0
    standby_ns: int = 0
    asleep_ns: int = 0

    @property
    def busy_ns(self) -> int:
        """All but standby and sleep."""
        turning_ns = self.transmit_settle_ns + self.receive_settle_ns
        return turning_ns + self.transmit_ns + self.receive_ns


class StreamTally(msgspec.Struct, frozen=True, kw_only=True):
    """One stream; names as in the results."""

    sampled: int
    skipped: int
    replaced: int
    queue_full: int
    power_cut: int
    sent: int
    attempts: int
    acknowledged: int
    retries_used_up: int
    received_new: int
    duplicates: int
    mistaken: int
    """Of those: attempts of a frame that was none (rule D3)."""
    fifo_dropped: int
    read: int
    thrown_away: int
    waiting: int
    never_accepted: int
    under_way: int
    lost_chance: int
    lost_collision: int
    lost_deaf: int
    lost_range: int
    lost_off: int
    lost_cut: int
    acknowledgements_lost: int
    up_ns: int
    """From when the programs at both its ends have first started to the end of the start."""
    on_air_ns: int
    radio: RadioTally
    """What the radio of the stream's transmitter did."""
    worst_second_updates: Annotated[int | None, LOWEST]
    longest_gap_ns: Annotated[int, HIGHEST]
    longest_gap_at_ns: Annotated[int, SAME]
    """Start of that gap, in the start that it is of."""
    gap: Histogram
    latency: Histogram
    age: Histogram
    failsafe: FailsafeTally | None
    noise: NoiseTally | None
    """None: not simulated."""

    @property
    def up_s(self) -> float:
        """The same in seconds."""
        return self.up_ns / NS_PER_S


class OutputTally(msgspec.Struct, frozen=True, kw_only=True):
    """One output."""

    stream: Annotated[str, SAME]
    refresh_hz: Annotated[float | None, SAME]
    fresh: int
    up_ns: int
    """That of its stream."""
    longest_hold_ns: Annotated[int | None, HIGHEST]
    latency: Histogram
    age: Histogram
    servo_error: Histogram | None
    """Servo errors in millionths of a degree."""

    @property
    def up_s(self) -> float:
        """The same in seconds."""
        return self.up_ns / NS_PER_S


class Fate(Enum):
    """What became of one output at a fault of one start; the names are those of the results."""

    NEVER_CAME = "never came"
    """It was driven, and its failsafe was due and not in effect."""
    HELD = "held"
    """It keeps its value, on failsafe too, or it has none."""
    NO_PULSES = "no pulses"
    """Its pin floated before its failsafe was in effect."""
    CAME = "came"
    """Its failsafe value came into effect."""
    NOT_DUE = "not due"
    """Frames came again, or the start ended, before its failsafe had to be in effect."""
    WAS_ON = "was on"
    """Its failsafe was on when the fault struck."""
    NOT_DRIVEN = "not driven"
    """Nothing drove it when the fault struck."""
    NOTHING = "no effect"
    """The fault changed nothing: its unit did what it would have done without it."""


class OutputFaultTally(msgspec.Struct, frozen=True, kw_only=True):
    """What one output made of one fault; −1: it never came."""

    action: str
    fate: Fate
    reaction_ns: int
    """From the fault to the failsafe value in effect; 0: it was on."""
    recovered_ns: int
    is_left_driven: bool
    """The start ends, and it is driven by a value from before the end of the fault."""


class FaultTally(msgspec.Struct, frozen=True, kw_only=True):
    """What one fault did."""

    over_ns: int
    """From the fault to its end, boot apart; −1: for good."""
    is_bitten: bool
    """A watchdog ended it."""
    is_felt: bool
    """Its unit did something else than without it."""
    outputs: dict[str, OutputFaultTally]
    """By output that it can touch."""
    has_brownout: bool | None
    """Whether what outputs drew brought the receiver down after it, before all had fresh values
    again; None: nothing says what feeds it."""


class StartTally(msgspec.Struct, frozen=True, kw_only=True):
    """All of one start."""

    start: int
    engine: str
    """Name of the engine that ran it."""
    duration_ns: int
    streams: dict[str, StreamTally]
    outputs: dict[str, OutputTally]
    busy_ns: int
    receiver: RadioTally
    faults: tuple[FaultTally, ...]
    """What each fault of the scenario did."""
    brownouts: tuple[BrownoutRow, ...]
    """Of the receiver, by what its outputs drew."""
    beats: tuple[float, ...]
    """By pair of transmitters: how many beats of their clocks this start can be expected to have
    seen; inf: no need."""
    phases: Phases


@functools.cache
def how_pooled(kind: type) -> dict[str, str]:
    """By field of a tally: how it is pooled; empty: summed."""
    marks = {name: getattr(of, "__metadata__", ("",)) for name, of in kind.__annotations__.items()}
    return {name: mark[0] for name, mark in marks.items()}


def pooled(tallies: Sequence[T]) -> T:
    """The sum of tallies of one kind; extremes stay extremes."""
    first: Any = tallies[0]
    if len(tallies) == 1:
        return tallies[0]
    values = {
        name: _pool(how, [getattr(tally, name) for tally in tallies])
        for name, how in how_pooled(first.__class__).items()
    }
    return type(first)(**values)  # type: ignore[no-any-return]  # the type of its own members


def _pool(how: str, values: list[Any]) -> Any:
    if how == SAME:
        return values[0]
    present = [value for value in values if value is not None]
    if not present:
        return None
    if how == LOWEST:
        return min(present)
    if how == HIGHEST:
        return max(present)
    if isinstance(present[0], msgspec.Struct):
        return added(present) if isinstance(present[0], Histogram) else pooled(present)
    total = present[0]
    for value in present[1:]:
        total = total + value
    return total


@functools.cache
def _spreads_in(kind: type) -> tuple[str, ...]:
    """Fields of a tally that are histograms, if they are there."""
    found = (Histogram, Histogram | None)
    return tuple(name for name, of in get_type_hints(kind).items() if of in found)


def with_spreads(tally: T, change: Callable[[Histogram], Histogram]) -> T:
    """A tally of one stream, output or the like with each of its histograms changed."""
    made: Any = tally
    spreads = {name: getattr(made, name) for name in _spreads_in(made.__class__)}
    changed = {n: change(spread) for n, spread in spreads.items() if spread is not None}
    return msgspec.structs.replace(made, **changed)  # type: ignore[no-any-return]  # as above


def without_spreads(tally: StartTally) -> StartTally:
    """What intervals need of a start: all but its histograms, which are empty."""
    return msgspec.structs.replace(
        tally,
        streams={n: with_spreads(t, lambda _: empty()) for n, t in tally.streams.items()},
        outputs={n: with_spreads(t, lambda _: empty()) for n, t in tally.outputs.items()},
    )


class Range(msgspec.Struct, frozen=True, kw_only=True):
    """The starts of a run: `count` in a row."""

    first: int
    count: int

    def weight(self, tally: StartTally) -> float:
        """How much a start counts in averages over all of them (rule T6)."""
        shares = shares_of(self.first, self.count, len(tally.phases.densities))
        return weight_of(tally.phases, shares)


class Extreme(msgspec.Struct, frozen=True, kw_only=True):
    """The lowest and highest value of one figure, each with its start, and how many had it."""

    low: float
    low_start: int
    high: float
    high_start: int
    n: int

    def __add__(self, later: "Extreme") -> "Extreme":
        """Of equal values that of the earlier start."""
        low_first, high_first = self.low <= later.low, self.high >= later.high
        return Extreme(
            low=self.low if low_first else later.low,
            low_start=self.low_start if low_first else later.low_start,
            high=self.high if high_first else later.high,
            high_start=self.high_start if high_first else later.high_start,
            n=self.n + later.n,
        )


class Apart(msgspec.Struct, frozen=True, kw_only=True):
    """The spread of the one start in which a figure is highest, as it came."""

    value: float
    start: int
    spread: Histogram

    def __add__(self, later: "Apart") -> "Apart":
        """Of equal values the earlier start."""
        return self if self.value >= later.value else later


class Pool(msgspec.Struct, frozen=True, kw_only=True):
    """Some starts together.

    Counts are plain sums of what was simulated; spreads are weighted, and extremes stay extremes.
    """

    streams: Mapping[str, StreamTally]
    outputs: Mapping[str, OutputTally]
    rows: tuple[StartTally, ...]
    """The starts one by one, without their spreads."""
    weights: tuple[float, ...]
    """Weight of each row."""
    extremes: Mapping[str, Extreme]
    """Worst value by path of a figure."""
    apart: Mapping[str, Apart] = msgspec.field(default_factory=dict)
    """By path of the figure that says which start is the worst; see `_apart`."""

    def __add__(self, later: "Pool") -> "Pool":
        return joined((self, later))


def pool_of(tally: StartTally, weight: float, figures: Mapping[str, float]) -> Pool:
    """One start as a pool; `figures`: its own, by path."""
    streams, outputs = tally.streams, tally.outputs
    if weight != 1:
        streams = {n: with_spreads(t, lambda h: h.scaled(weight)) for n, t in streams.items()}
        outputs = {n: with_spreads(t, lambda h: h.scaled(weight)) for n, t in outputs.items()}
    return Pool(
        streams=streams,
        outputs=outputs,
        rows=(without_spreads(tally),),
        weights=(weight,),
        extremes={
            path: Extreme(low=v, low_start=tally.start, high=v, high_start=tally.start, n=1)
            for path, v in figures.items()
        },
        apart=_apart(tally, figures),
    )


def _apart(tally: StartTally, figures: Mapping[str, float]) -> dict[str, Apart]:
    """Waits, and ages, with the figure that tells how bad they are."""
    spreads = {f"stream.{name}.gap_ms.max": of.gap for name, of in tally.streams.items()}
    spreads |= {f"stream.{name}.age_ms.p99": of.age for name, of in tally.streams.items()}
    spreads |= {f"output.{name}.age_ms.p99": of.age for name, of in tally.outputs.items()}
    return {
        path: Apart(value=figures[path], start=tally.start, spread=spread)
        for path, spread in spreads.items()
        if path in figures
    }


def joined(pools: Sequence[Pool]) -> Pool:
    """Pools in order of their starts as one; at least one."""
    return Pool(
        streams={name: pooled([pool.streams[name] for pool in pools]) for name in pools[0].streams},
        outputs={name: pooled([pool.outputs[name] for pool in pools]) for name in pools[0].outputs},
        rows=tuple(row for pool in pools for row in pool.rows),
        weights=tuple(weight for pool in pools for weight in pool.weights),
        extremes=_summed([pool.extremes for pool in pools]),
        apart=_summed([pool.apart for pool in pools]),
    )


Kept = TypeVar("Kept", Extreme, Apart)


def _summed(parts: Sequence[Mapping[str, Kept]]) -> dict[str, Kept]:
    """Sums each path over the mappings that have it."""
    total = dict(parts[0])
    for later in parts[1:]:
        for path, found in later.items():
            total[path] = total[path] + found if path in total else found
    return total
