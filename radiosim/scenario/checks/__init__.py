"""Cross-checks: what no key shows on its own. All run by `problems_of`."""

from radiosim.scenario.checks.antenna_checks import antenna_problems
from radiosim.scenario.checks.drift_checks import drift_problems
from radiosim.scenario.checks.link_checks import air_problems, link_problems
from radiosim.scenario.checks.output_checks import (
    failsafe_problems,
    fault_problems,
    output_problems,
    requirement_problems,
)
from radiosim.scenario.checks.program_checks import program_problems
from radiosim.scenario.checks.supply_checks import supply_problems
from radiosim.scenario.checks.unit_checks import (
    frame_problems,
    receiver_problems,
    transmitter_problems,
)
from radiosim.scenario.checks.view import Found, name_problems, view_of
from radiosim.scenario.structs.scenario_file import ScenarioFile

_CHECKS = (
    name_problems,
    link_problems,
    frame_problems,
    transmitter_problems,
    receiver_problems,
    program_problems,
    air_problems,
    antenna_problems,
    drift_problems,
    failsafe_problems,
    output_problems,
    supply_problems,
    fault_problems,
    requirement_problems,
)


def problems_of(file: ScenarioFile) -> tuple[Found, ...]:
    """Every (path, text) of a scenario whose keys are well formed, but contradict each other."""
    view = view_of(file)
    return tuple(found for check in _CHECKS for found in check(view))
