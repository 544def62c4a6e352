"""Warnings that settings bring which the scenario as it stands does not have."""

from collections.abc import Iterable

from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed


def brought(scenario: Scenario, lines: Iterable[str]) -> tuple[str, ...]:
    """Warnings of the scenario with `lines` set that it has not without them, as `path: text`."""
    # Both are filled in alike: a file that leaves keys out may be warned of other things.
    had = set(changed(scenario, ()).warnings)
    return tuple(text for text in changed(scenario, lines).warnings if text not in had)
