"""Findings about a transmitter and a grid beside the link: deaf spans, bursts at a fixed rate."""

from collections.abc import Iterator
from itertools import islice

from radiosim.engine.grids import Grid, can_starve, grids_of, nominal_grid
from radiosim.engine.plan import Plan
from radiosim.engine.plan_emitters import emitters_of
from radiosim.findings.air_findings import silenced
from radiosim.findings.case import Case, Overrides
from radiosim.findings.clock_findings import clear_periods_ms, plan_of
from radiosim.findings.proof import Suspect
from radiosim.scenario import Scenario
from radiosim.units import NS_PER_MS, ns_from_ms

MOST_CURES = 3


def beats_with_grid(case: Case) -> Iterator[Suspect]:
    """Transmitters whose period is near that of deaf spans or bursts, or of a multiple of it."""
    scenario, plan = case.scenario, plan_of(case)
    nominal = plan.rx._replace(ppb=0)
    grids = [nominal_grid(grid, plan.rx) for grid in _grids(plan)]
    for place, name in enumerate(plan.streams):
        tx = plan.tx[place]._replace(ppb=0)
        figures = case.summary.figures.stream[name]
        for grid in grids:
            lost = figures.lost_deaf if grid.emitter is None else figures.lost_collision
            if not lost or not can_starve(nominal, tx, grid):
                continue
            what, removed = _named(scenario, grid)
            yield Suspect(
                what=f"the clocks of {name} and of {what} drift into each other, and then one "
                "frame after another meets it",
                where=f"transmitter.{name}.period_ms",
                # A unit that is switched off makes a gap of its own.
                drill=("fault=[]",),
                why=f"a period of {tx.period_ns / NS_PER_MS:g} ms is near a whole multiple of "
                f"{grid.period_ns / NS_PER_MS:g} ms, at which {grid.takes_ns / NS_PER_MS:.3g} ms "
                f"are lost each time; longest gap {figures.gap_ms.max:.0f} ms",
                figure=f"stream.{name}.gap_ms.max",
                removed=removed,
                cures=tuple(islice(_clear(plan, case, name, grids), MOST_CURES)),
                advice="no period near the other's, nor near a multiple of it",
                measure="let both run for an hour on the bench, log the instant of every read, and "
                "look at the longest gap",
            )


def _grids(plan: Plan) -> tuple[Grid, ...]:
    return grids_of(plan.rx, plan.steps, len(plan.tx), plan.until_ns)


def _named(scenario: Scenario, grid: Grid) -> tuple[str, Overrides]:
    """A grid in words, and what takes it away."""
    if grid.emitter is None:
        return f"receiver.deaf[{grid.place}]", ("receiver.deaf=[]",)
    name = _sources(scenario)[grid.place]
    return f"interferer.{name}", silenced(name)


def _sources(scenario: Scenario) -> list[str]:
    """Interferer of each emitter of a plan."""
    return [
        name
        for name, source in scenario.interferer.items()
        for _ in emitters_of(scenario, 0, name, source)
    ]


def _clear(plan: Plan, case: Case, name: str, grids: list[Grid]) -> Iterator[Overrides]:
    """Periods that keep clear of every grid and of every other transmitter, the nearest first."""
    tx, nominal = plan.tx[plan.streams.index(name)]._replace(ppb=0), plan.rx._replace(ppb=0)
    for period_ms in clear_periods_ms(case, plan, (name, name)):
        moved = tx._replace(period_ns=ns_from_ms(period_ms))
        if not any(can_starve(nominal, moved, grid) for grid in grids):
            yield (f"transmitter.{name}.period_ms={period_ms}",)
