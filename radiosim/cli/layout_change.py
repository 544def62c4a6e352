"""`radiosim layout compare --scenario`: which link, which streams, and where the figures go."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from radiosim.cli.source import OptionError
from radiosim.errors import ScenarioError

if TYPE_CHECKING:
    from radiosim.scenario import Scenario
    from radiosim.scenario.named_layout import NamedLayout
    from radiosim.study.layout_change import LayoutChange


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """What a scenario said of the change, if one was given."""

    change: "LayoutChange | None" = None
    refusal: str = ""
    """Why the link cannot be simulated with the new layout."""
    seed: int | None = None
    """Of the scenario."""


def simulated_change(
    argument: str,
    old: "NamedLayout",
    new: "NamedLayout",
    asked: tuple[str, ...],
    overrides: tuple[str, ...],
) -> Simulated:
    """Both layouts in the scenario; OptionError or ScenarioError for what cannot be simulated at
    all.

    A new layout that makes no sound link is no error: that is what was to be found out.
    """
    from radiosim.cli.progress import progress
    from radiosim.scenario import load
    from radiosim.scenario.changed import with_layout
    from radiosim.scenario.shipped import scenario_path
    from radiosim.study.layout_change import layout_change

    scenario = load(scenario_path(argument), overrides)
    streams = _streams(scenario, old, asked)
    key = scenario.transmitter[streams[0]].layout
    if key.startswith("plain_"):
        key = old.layout.name
    before, _ = with_layout(scenario, streams, old, key)
    try:
        after, notes = with_layout(scenario, streams, new, key)
    except ScenarioError as error:
        return Simulated(refusal=str(error), seed=scenario.seed)
    with progress(scenario.starts) as on_progress:
        change = layout_change(before, after, streams, notes=notes, on_progress=on_progress)
    return Simulated(change=change, seed=scenario.seed)


def _streams(scenario: "Scenario", old: "NamedLayout", asked: tuple[str, ...]) -> tuple[str, ...]:
    from radiosim.scenario.changed import streams_with

    known = ", ".join(scenario.transmitter)
    for name in asked:
        if name not in scenario.transmitter:
            raise OptionError(f"--stream: must be one of {known}, got '{name}'")
    streams = asked or streams_with(scenario, old)
    if not streams:
        raise OptionError(
            f"--scenario: must have a stream whose layout is {old.layout.name}, or say whose "
            f"frames "
            f"change with --stream ({known})"
        )
    return streams
