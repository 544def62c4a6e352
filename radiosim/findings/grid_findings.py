"""Findings about a transmitter and a grid beside the link: deaf spans, work, bursts at a fixed
rate."""

from collections.abc import Iterator
from itertools import islice

from radiosim.engine.grids import Grid, can_starve, grid_window_ns
from radiosim.engine.named_grids import named_grids
from radiosim.findings.air_findings import silenced
from radiosim.findings.case import Case, Overrides
from radiosim.findings.clock_findings import clear_periods_ms, dithered, ideal
from radiosim.findings.proof import Suspect
from radiosim.measure.summary import StreamFigures
from radiosim.units import NS_PER_MS

MOST_CURES = 3


def beats_with_grid(case: Case) -> Iterator[Suspect]:
    """Transmitters whose period is near that of deaf spans, work or bursts, or of a multiple of
    it."""
    plan = case.plan
    (rx, tx), grids = ideal(plan), named_grids(case.scenario, plan)
    for place, name in enumerate(plan.streams):
        figures = case.summary.figures.stream[name]
        for what, grid in grids.items():
            if not _lost(figures, grid) or not can_starve(rx, tx, place, grid):
                continue
            period_ms, grid_ms = tx[place].period_ns / NS_PER_MS, grid.period_ns / NS_PER_MS
            yield Suspect(
                what=f"the clocks of {name} and of {what} drift into each other, and then one "
                "frame after another meets it",
                where=f"transmitter.{name}.period_ms",
                # A unit that is switched off makes a gap of its own.
                drill=("fault=[]",),
                why=f"a period of {period_ms:g} ms is near a whole multiple of {grid_ms:g} ms, at "
                f"which {grid.takes_ns / NS_PER_MS:.3g} ms are lost each time; longest gap "
                f"{figures.gap_ms.max:.0f} ms",
                figure=f"stream.{name}.gap_ms.max",
                removed=_removed(what, grid),
                cures=(
                    *_clear_cures(case, name),
                    *dithered(case, name, grid_window_ns(tx, place, grid)),
                ),
                advice="no period near the other's, nor near a multiple of it",
                measure="let both run for an hour on the bench, log the instant of every read, and "
                "look at the longest gap",
            )


def _lost(figures: StreamFigures, grid: Grid) -> int:
    """Attempts that may have been lost to a grid."""
    lost = {
        "deaf": figures.lost_deaf,
        "work": figures.fifo_dropped,
        "emitter": figures.lost_collision,
    }
    return lost[grid.of]


def _removed(name: str, grid: Grid) -> Overrides:
    """What takes a grid away."""
    if grid.of == "emitter":
        return silenced(name.removeprefix("interferer."))
    return (f"receiver.{grid.of}=[]",)


def _clear_cures(case: Case, name: str) -> Iterator[Overrides]:
    """Periods that keep clear of every grid and of every other transmitter, the nearest first."""
    for period_ms in islice(clear_periods_ms(case, case.plan, (name, name)), MOST_CURES):
        yield (f"transmitter.{name}.period_ms={period_ms}",)
