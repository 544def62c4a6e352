"""Grids beside the link's own frames: deaf spans of the receiver, bursts that come at a fixed rate.

A transmitter on a timer whose period is near such a grid's, or near a whole multiple of it, starves
on it as it does on another transmitter (facts 5): every frame meets a deaf span, or a beacon, until
the clocks have drifted apart. A grid slower than the transmitter takes one frame of several and
starves nobody; nor does one that a retry leaves.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from radiosim.engine.plan_rows import ACKNOWLEDGING, GRID, Emitter, Rx, Step, Tx
from radiosim.engine.rules.levels import error_rate, path_gain_db
from radiosim.engine.rules.timing import TIMER, scaled
from radiosim.engine.stratification import (
    Beat,
    Pair,
    beat_of_schedules,
    distance_from_multiple,
    period_of,
)
from radiosim.engine.unit_spans import first_boot_ns, shared_ns
from radiosim.units import db_to_ratio

MUCH_HAZARD = 0.5
"""Of a frame under a burst, from which on the burst counts: four frames of ten are lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Something that takes frames on a grid of its own."""

    emitter: Emitter | None
    """What sends; None: the receiver is deaf."""
    place: int
    """Place among the deaf spans, or among the emitters."""
    period_ns: float
    """True period."""
    first_ns: float
    takes_ns: int
    from_ns: int
    until_ns: int


def grids_of(rx: Rx, steps: Sequence[Step], unit: int, until_ns: int) -> tuple[Grid, ...]:
    """Every grid of one start; `unit`: the receiver's number."""
    boot_ns = first_boot_ns(steps, unit)
    deaf = (
        Grid(
            emitter=None,
            place=place,
            period_ns=_true_ns(span.every_ns, rx.ppb),
            first_ns=float(boot_ns + span.offset_ns),
            takes_ns=span.takes_ns,
            from_ns=boot_ns,
            until_ns=until_ns,
        )
        for place, span in enumerate(rx.deaf[: rx.deafs])
    )
    bursts = (
        Grid(
            emitter=emitter,
            place=place,
            period_ns=_true_ns(emitter.every_ns, emitter.ppb),
            first_ns=float(emitter.offset_ns),
            takes_ns=emitter.burst_ns,
            from_ns=emitter.from_ns,
            until_ns=min(until_ns, emitter.until_ns),
        )
        for place, emitter in enumerate(rx.emitter[: rx.emitters])
        if emitter.kind == GRID
    )
    return (*deaf, *bursts)


def nominal_grid(grid: Grid, rx: Rx) -> Grid:
    """A grid as it would be with ideal clocks."""
    if grid.emitter is not None:
        return replace(grid, period_ns=float(grid.emitter.every_ns))
    every_ns, takes_ns = rx.deaf[grid.place].every_ns, grid.takes_ns / (1 + rx.ppb / 1e9)
    # Whole microseconds, so that every start finds the same.
    return replace(grid, period_ns=float(every_ns), takes_ns=1000 * round(takes_ns / 1000))


def _true_ns(every_ns: int, ppb: int) -> float:
    return scaled(every_ns * 1_000_000, ppb) / 1e6


def grid_window_ns(tx: Tx, grid: Grid) -> int:
    """Width of the phases at which every attempt of a frame meets the grid, ns; 0: none do."""
    retrying_ns = 0
    if tx.acknowledge == ACKNOWLEDGING:
        retrying_ns = tx.retry_limit * (tx.frame_ns + tx.retry_ns)
    return max(0, tx.frame_ns + grid.takes_ns - retrying_ns)


def can_starve(rx: Rx, tx: Tx, grid: Grid) -> bool:
    """Whether a grid and a transmitter beat seldom, and take every frame while they do."""
    if tx.pacing != TIMER or tx.period_ns == 0 or not _reaches(rx, tx, grid):
        return False
    own_ns, window = period_of(tx) / 1e6, grid_window_ns(tx, grid)
    long_ns, short_ns = max(own_ns, grid.period_ns), min(own_ns, grid.period_ns)
    if grid.period_ns > own_ns and round(long_ns / short_ns) > 1:
        return False
    return tx.jitter_ns < short_ns / 2 and distance_from_multiple(long_ns, short_ns) < window


def _reaches(rx: Rx, tx: Tx, grid: Grid) -> bool:
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
    own = (period_of(unit) / 1e6, bases_ns[pair[0]] + unit.offset_ns + lead_ns, unit.frame_ns)
    other = (grid.period_ns, grid.first_ns, grid_window_ns(unit, grid) - unit.frame_ns)
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
