"""A run in growing parts: the first start, the first two, four, eight …, at last all of it.

Each part is a prefix of the run that `radiosim run` makes of the same scenario, and the last look
has its very figures. Intervals of the looks before it are wider, so that together they miss with
5 % at most (Bonferroni, as in `starts.py`): somebody may stop at any of them.
"""

import dataclasses
from collections.abc import Callable, Iterator

from msgspec import Struct

from radiosim.engine.simulate import Chunk, Engine, Flow
from radiosim.engine.stratification import EVERY
from radiosim.measure.intervals import MISS
from radiosim.measure.start import tally_flow, tally_program
from radiosim.measure.summarise import pool_starts
from radiosim.measure.tally import Pool, Range, StartTally
from radiosim.scenario import Scenario
from radiosim.study.starts import batches_of
from radiosim.vehicle.feedback import flow, simulate

MOST_BETWEEN = 64
"""Starts of the largest look before the last: what looks pool anew is kept no longer."""

IsOutdated = Callable[[], bool]


class Outdated(Exception):  # noqa: N818 - no error: somebody asked for something newer
    """Nobody waits for these looks any more."""


class Look(Struct, frozen=True, kw_only=True):
    """The starts so far."""

    number: int
    """From 1."""
    starts: int
    of: int
    """Starts of the whole run."""
    pool: Pool
    """With the weights that so many starts have."""
    miss: float
    """Chance that one of its intervals misses."""

    @property
    def is_last(self) -> bool:
        """Whether it is the whole run."""
        return self.starts == self.of

    @property
    def chance_of_more(self) -> float | None:
        """At most with this chance another ordinary start has a longer gap than any so far.

        Ordinary starts are draws alike, so that each of k + 1 is as likely to be the longest of
        them (order statistics of exchangeable draws); those placed on beats (rule T6) can only make
        it less likely. None: there was no ordinary start yet.
        """
        ordinary = sum(1 for row in self.pool.rows if is_ordinary(row))
        return 1 / (ordinary + 1) if ordinary else None


def is_ordinary(row: StartTally) -> bool:
    """Whether nothing chose the phases of a start but its own draws, nor may have."""
    return not row.phases.densities or row.start % EVERY != 0


def sizes_of(starts: int) -> tuple[int, ...]:
    """After how many starts to look: 1, 2, 4, 8 …, all."""
    found = []
    size = 1
    while size < starts and size <= MOST_BETWEEN:
        found.append(size)
        size *= 2
    return (*found, starts)


def looks(scenario: Scenario, is_outdated: IsOutdated, engine: Engine = "auto") -> Iterator[Look]:
    """Looks at a run, one after the other.

    Raises Outdated as soon as `is_outdated` says so: it is asked between any two chunks of rows.
    """
    whole = Range(first=0, count=scenario.starts)
    sizes = sizes_of(scenario.starts)
    early: list[StartTally] = []
    pool: Pool | None = None
    for batch in batches_of(whole):
        tallies = []
        for start in batch:
            tally = _tally(scenario, start, engine, is_outdated)
            tallies.append(tally)
            if len(early) == start < sizes[-1] and start < MOST_BETWEEN:
                early.append(tally)
                if start + 1 in sizes[:-1]:
                    yield _early_look(scenario, sizes, early)
        if start + 1 >= MOST_BETWEEN:
            early.clear()
        # The very batches of a run: sums are alike to the last bit.
        part = pool_starts(scenario, whole, tallies)
        pool = part if pool is None else pool + part
    assert pool is not None
    yield Look(number=len(sizes), starts=sizes[-1], of=sizes[-1], pool=pool, miss=MISS)


def _early_look(scenario: Scenario, sizes: tuple[int, ...], early: list[StartTally]) -> Look:
    count = len(early)
    return Look(
        number=sizes.index(count) + 1,
        starts=count,
        of=sizes[-1],
        pool=pool_starts(scenario, Range(first=0, count=count), early),
        miss=MISS / (len(sizes) - 1),
    )


def _tally(scenario: Scenario, start: int, engine: Engine, is_outdated: IsOutdated) -> StartTally:
    if is_outdated():
        raise Outdated
    if scenario.receiver.program is not None:
        return tally_program(simulate(scenario, start=start, engine=engine))
    return tally_flow(watched(flow(scenario, start=start, engine=engine), is_outdated))


def watched(passing: Flow, is_outdated: IsOutdated) -> Flow:
    """The same rows chunk by chunk; Outdated between two of them if nobody waits for them."""

    def chunks() -> Iterator[Chunk]:
        for chunk in passing.chunks:
            if is_outdated():
                raise Outdated
            yield chunk

    return dataclasses.replace(passing, chunks=chunks(), is_new=False)
