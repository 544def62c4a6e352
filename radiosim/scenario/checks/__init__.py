"""Cross-checks: what no key shows on its own. One file a subject, all run by `problems_of`."""

from radiosim.scenario.checks import (
    air,
    failsafe,
    fault,
    frames,
    link,
    names,
    output,
    receiver,
    requirement,
    transmitter,
)
from radiosim.scenario.checks.view import Found, view_of
from radiosim.scenario.structs.scenario import SceneFile

_SUBJECTS = (
    names,
    link,
    frames,
    transmitter,
    receiver,
    air,
    failsafe,
    output,
    fault,
    requirement,
)


def problems_of(file: SceneFile) -> tuple[Found, ...]:
    """Every (path, text) of a scenario whose keys are all well formed, but do not go together."""
    view = view_of(file)
    return tuple(found for subject in _SUBJECTS for found in subject.problems(view))
