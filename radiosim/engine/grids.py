"""Grids beside the link's own frames: deaf spans and work of the receiver, bursts at a fixed rate.

A transmitter on a timer whose period is near such a grid's, or near a whole multiple of it, starves
on it as it does on another transmitter (facts 5): every frame meets a deaf span, or a beacon, until
the clocks have drifted apart. A grid slower than the transmitter takes one frame of several and
starves nobody; nor does one that a retry leaves. Work of the receiver's program takes frames once
the other transmitters' may have filled its FIFO.
"""

import heapq
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Literal

import msgspec
from msgspec.structs import replace

from radiosim.engine.plan_drift import NO_DRIFT
from radiosim.engine.plan_rows import ACKNOWLEDGING, GRID, Drift, Emitter, Rx, Step, Tx, Work
from radiosim.engine.rules.levels import error_rate, path_gain_db
from radiosim.engine.rules.timing import TIMER, scaled
from radiosim.engine.stratification import (
    Beat,
    Pair,
    Schedule,
    beat_of_schedules,
    distance_from_multiple,
    period_of,
)
from radiosim.engine.timeline import FOREVER_NS
from radiosim.engine.unit_spans import first_boot_ns, shared_ns
from radiosim.units import db_to_ratio

MUCH_HAZARD = 0.5
"""Of a frame under a burst, from which on the burst counts: four frames of ten are lost."""


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """Something that takes frames on a grid of its own."""

    of: Literal["deaf", "work", "emitter"]
    place: int
    """Place among the deaf spans, the works, or the emitters."""
    emitter: Emitter | None = None
    """What sends; None: nothing does."""
    period_ns: float
    """True period."""
    first_ns: float
    takes_ns: int
    spares_ns: tuple[int, ...]
    """By transmitter: from the begin of a span on, for how long its frames get through all the
    same."""
    is_acknowledged: bool = False
    """A frame that is taken is acknowledged all the same, and not sent again."""
    from_ns: int
    until_ns: int
    drift: Drift = NO_DRIFT
    """Of its clock."""


def grids_of(rx: Rx, tx: Sequence[Tx], steps: Sequence[Step], until_ns: int) -> tuple[Grid, ...]:
    """Every grid of one start."""
    boot_ns, none = first_boot_ns(steps, len(tx)), (0,) * len(tx)
    deaf = (
        Grid(
            of="deaf",
            place=place,
            period_ns=_true_ns(span.every_ns, rx.ppb + rx.drift.mean_ppb),
            first_ns=float(boot_ns + span.offset_ns),
            takes_ns=span.takes_ns,
            spares_ns=none,
            from_ns=boot_ns,
            until_ns=until_ns,
            drift=rx.drift,
        )
        for place, span in enumerate(rx.deaf[: rx.deafs])
    )
    bursts = (
        Grid(
            of="emitter",
            place=place,
            emitter=emitter,
            period_ns=_true_ns(emitter.every_ns, emitter.ppb),
            first_ns=float(emitter.offset_ns),
            takes_ns=emitter.burst_ns,
            spares_ns=none,
            from_ns=emitter.from_ns,
            until_ns=min(until_ns, emitter.until_ns),
        )
        for place, emitter in enumerate(rx.emitter[: rx.emitters])
        if emitter.kind == GRID
    )
    return (*deaf, *bursts, *_works(rx, tx, boot_ns, until_ns))


def _works(rx: Rx, tx: Sequence[Tx], boot_ns: int, until_ns: int) -> Iterator[Grid]:
    """Work that no interrupt reads through."""
    for place, work in enumerate(rx.work[: rx.works]):
        if not rx.interrupt or work.interrupts_off:
            yield Grid(
                of="work",
                place=place,
                period_ns=_true_ns(work.every_ns, rx.ppb + rx.drift.mean_ppb),
                first_ns=float(boot_ns + work.offset_ns),
                takes_ns=work.longest_ns,
                spares_ns=tuple(_filling_ns(rx, tx, i, work) for i in range(len(tx))),
                is_acknowledged=bool(rx.acknowledge_when_full),
                from_ns=boot_ns,
                until_ns=until_ns,
                drift=rx.drift,
            )


def _filling_ns(rx: Rx, tx: Sequence[Tx], place: int, work: Work) -> int:
    """How long all transmitters but one take to fill the FIFO, all s, ns; no
    longer than the work."""
    every_ns = [max(unit.period_ns, unit.frame_ns) for i, unit in enumerate(tx) if i != place]
    instants = heapq.merge(*(range(0, work.longest_ns, apart_ns) for apart_ns in every_ns))
    return next(islice(instants, rx.fifo_frames - 1, None), FOREVER_NS)


def nominal_grid(grid: Grid, rx: Rx) -> Grid:
    """A grid as it would be with ideal clocks."""
    if grid.emitter is not None:
        return replace(grid, period_ns=float(grid.emitter.every_ns))
    span = (rx.deaf if grid.of == "deaf" else rx.work)[grid.place]
    takes_ns = grid.takes_ns / (1 + rx.ppb / 1e9)
    # Whole microseconds, so that every start finds the same.
    return replace(grid, period_ns=float(span.every_ns), takes_ns=1000 * round(takes_ns / 1000))


def _true_ns(every_ns: int, ppb: int) -> float:
    return scaled(every_ns * 1_000_000, ppb) / 1e6


def grid_window_ns(tx: Sequence[Tx], place: int, grid: Grid) -> int:
    """Width of the phases at which every attempt of a frame meets the grid, ns; 0: none do."""
    unit, retrying_ns = tx[place], 0
    if unit.acknowledge == ACKNOWLEDGING and not grid.is_acknowledged:
        retrying_ns = unit.retry_limit * (unit.frame_ns + unit.retry_ns)
    # What finds the FIFO full finds it so at its end.
    frame_ns = 0 if grid.of == "work" else unit.frame_ns
    return max(0, frame_ns + grid.takes_ns - grid.spares_ns[place] - retrying_ns)


def can_starve(rx: Rx, tx: Sequence[Tx], place: int, grid: Grid) -> bool:
    """Whether a grid and a transmitter beat seldom, and take every frame while they do."""
    unit = tx[place]
    if unit.pacing != TIMER or unit.period_ns == 0 or not reaches(rx, unit, grid):
        return False
    own_ns, window = period_of(unit) / 1e6, grid_window_ns(tx, place, grid)
    return (
        not is_slower(grid, own_ns)
        and unit.jitter_ns < min(own_ns, grid.period_ns) / 2
        and unit.dither_ns < window
        and distance_from_multiple(own_ns, grid.period_ns) < window
    )


def is_slower(grid: Grid, period_ns: float) -> bool:
    """Whether a grid takes one frame of several at most."""
    return grid.period_ns > period_ns and round(grid.period_ns / period_ns) > 1


def reaches(rx: Rx, tx: Tx, grid: Grid) -> bool:
    """Whether bursts of a grid spoil frames of a transmitter where it is weakest, fading apart."""
    emitter = grid.emitter
    if emitter is None:
        return True
    instants = [point.at_ns for point in tx.track[: tx.points]] or [0]
    turned_db = tx.antenna.worst_db + rx.antenna.worst_db
    level_mw = tx.power_mw * min(db_to_ratio(path_gain_db(tx, at) + turned_db) for at in instants)
    covered_ns = min(tx.frame_ns, grid.takes_ns)
    return error_rate(rx, level_mw, emitter.at_receiver_mw) * covered_ns > MUCH_HAZARD


def beat_of_grid(
    tx: Sequence[Tx], bases_ns: Sequence[int], pair: Pair, grid: Grid, shared: int
) -> Beat:
    """The beat of a transmitter, first in `pair`, with a grid; `shared`: time that both run, ns."""
    unit = tx[pair[0]]
    lead_ns = unit.prepare_ns + unit.upload_ns + unit.settle_ns
    first_ns = float(bases_ns[pair[0]] + unit.offset_ns + lead_ns)
    own = Schedule(period_of(unit) / 1e6, first_ns, unit.frame_ns, unit.drift)
    takes_ns = grid_window_ns(tx, pair[0], grid) - unit.frame_ns
    first_ns = grid.first_ns + grid.spares_ns[pair[0]]
    other = Schedule(grid.period_ns, first_ns, takes_ns, grid.drift)
    base_ns = max(bases_ns[pair[0]], grid.from_ns)
    schedules = {pair[0]: own, pair[1]: other}
    return beat_of_schedules(schedules, base_ns, shared, 0)


def shared_with_grid(steps: Sequence[Step], transmitter: int, unit: int, grid: Grid) -> int:
    """For how long a transmitter's program runs while a grid does; `unit`: the receiver's number.

    An emitter's own span bounds it.
    """
    beside = unit if grid.emitter is None else transmitter
    running_ns = shared_ns(steps, transmitter, beside, grid.until_ns)
    return min(running_ns, max(0, grid.until_ns - grid.from_ns))


def grid_pairs(tx: Sequence[Tx], grids: Sequence[Grid]) -> Iterator[Pair]:
    """Every transmitter with every grid, which are numbered behind the transmitters."""
    for i in range(len(tx)):
        for place in range(len(grids)):
            yield i, len(tx) + place
