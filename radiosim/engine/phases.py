"""Phases of one start: drawn, or placed so that two clocks beat while it lasts (rule T6)."""

from collections.abc import Iterator, Sequence

from radiosim.engine.grids import (
    Grid,
    beat_of_grid,
    can_starve,
    grid_pairs,
    nominal_grid,
    shared_with_grid,
)
from radiosim.engine.plan_rows import Rx, Step, Tx
from radiosim.engine.stratification import (
    ENOUGH,
    EVERY,
    Beat,
    Pair,
    Phases,
    beat_of,
    component,
    drifts,
    movable_pairs,
    moved_offset,
    place,
)
from radiosim.engine.unit_spans import first_boot_ns, shared_ns
from radiosim.scenario import Scenario


def phased(
    scenario: Scenario,
    start: int,
    tx: tuple[Tx, ...],
    rx: Rx,
    steps: list[Step],
    until_ns: int,
    grids: Sequence[Grid],
) -> tuple[tuple[Tx, ...], Phases]:
    """The transmitters with the phases of this start: drawn, or placed on a beat (rule T6).

    `grids`: those of `grids_of`.
    """
    is_drawn = [unit.offset_ms == "drawn" for unit in scenario.transmitter.values()]
    pairs = (*movable_pairs(tx, is_drawn), *_movable_grids(rx, tx, is_drawn, grids))
    chosen = component(start, len(pairs))
    bases_ns = [first_boot_ns(steps, i) for i in range(len(tx))]

    def meeting(pair: Pair) -> Beat | None:
        """The beat of a pair; None if it needs no help."""
        first, second = pair
        if second < len(tx):
            found = beat_of(tx, bases_ns, pair, shared_ns(steps, first, second, until_ns))
            do_meet = drifts(tx[first], tx[second])
        else:
            grid = grids[second - len(tx)]
            shared = shared_with_grid(steps, first, len(tx), grid)
            found = beat_of_grid(tx, bases_ns, pair, grid, shared)
            do_meet = can_starve(rx, tx, first, grid)
        return found if do_meet and found.share < ENOUGH else None

    made = meeting(pairs[chosen]) if chosen >= 0 else None
    if made is not None:
        first, second = ([*scenario.transmitter, *_grid_names(grids)][i] for i in pairs[chosen])
        at = place(scenario.seed, (first, second), start // EVERY // len(pairs))
        none = [False] * len(grids)
        transmitter, offset_ns = moved_offset(tx, [*is_drawn, *none], made, at)
        tx = tuple(
            unit._replace(offset_ns=offset_ns) if i == transmitter else unit
            for i, unit in enumerate(tx)
        )
    found = [meeting(pair) for pair in pairs]
    return tx, Phases(
        made_for=pairs[chosen] if made is not None else None,
        densities=tuple(1.0 if m is None else m.is_met / m.share for m in found),
    )


def _movable_grids(
    rx: Rx, tx: Sequence[Tx], is_drawn: Sequence[bool], grids: Sequence[Grid]
) -> Iterator[Pair]:
    """Transmitters with a drawn phase, each with the grids that it may beat with, by nominal
    clocks."""
    nominal, units = rx._replace(ppb=0), [unit._replace(ppb=0) for unit in tx]
    for i, number in grid_pairs(tx, grids):
        grid = nominal_grid(grids[number - len(tx)], rx)
        if is_drawn[i] and can_starve(nominal, units, i, grid):
            yield i, number


def _grid_names(grids: Sequence[Grid]) -> list[str]:
    """Names that are no transmitter's, for the draws of beats with grids."""
    return [f"{grid.of} {grid.place}" for grid in grids]
