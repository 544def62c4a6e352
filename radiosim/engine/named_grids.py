"""The grids of a scenario by name, as they would be with ideal clocks."""

from collections.abc import Iterator

from radiosim.engine.grids import Grid, nominal_grid
from radiosim.engine.plan import Plan
from radiosim.engine.plan_emitters import emitters_of
from radiosim.scenario import Scenario


def named_grids(scenario: Scenario, plan: Plan) -> dict[str, Grid]:
    """Every grid by the path of what makes it: `receiver.deaf[0]`, `interferer.hall`.

    Of an interferer's frames and the acknowledgements to them, which are shorter, the frames'.
    """
    sources, found = tuple(_sources(scenario)), dict[str, Grid]()
    for grid in plan.grids:
        name = (
            f"interferer.{sources[grid.place]}"
            if grid.of == "emitter"
            else f"receiver.{grid.of}[{grid.place}]"
        )
        found.setdefault(name, nominal_grid(grid, plan.rx))
    return found


def _sources(scenario: Scenario) -> Iterator[str]:
    """Interferer of each emitter of a plan."""
    for name, source in scenario.interferer.items():
        for _ in emitters_of(scenario, 0, name, source):
            yield name
