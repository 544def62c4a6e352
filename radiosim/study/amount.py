"""How much a study is about to simulate, handed over before it begins: limits and estimates."""

from collections.abc import Callable, Sequence

import msgspec

from radiosim.engine.simulate import Engine
from radiosim.scenario import Scenario
from radiosim.study.starts import tally_of


class Amount(msgspec.Struct, frozen=True, kw_only=True):
    """Work of one kind."""

    scenario: Scenario
    simulated_s: float
    """Of all starts together."""
    simulate: Callable[[Scenario], object]
    """Does the like on a scenario: as a measure of what it costs."""


OnAmounts = Callable[[Sequence[Amount]], None]


def amount_of_starts(scenario: Scenario, simulated_s: float, engine: Engine) -> Amount:
    """Starts that are simulated and measured, as most studies do."""
    return Amount(
        scenario=scenario,
        simulated_s=simulated_s,
        simulate=lambda shorter: tally_of(shorter, engine, 0),
    )
