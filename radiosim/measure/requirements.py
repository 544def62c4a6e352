"""Whether the scene's requirements hold, in the worst start."""

from collections.abc import Mapping

from radiosim.measure.summary import RequirementFigures, Worst
from radiosim.scenario import Scenario
from radiosim.scenario.structs.requirement import Requirement

MEETINGS_TO_HAVE_SEEN = 3.0
"""Expected meetings below which a run may well have seen none: e⁻³ is 5 %."""

_LOW_IS_WORSE = {"delivery_ratio", "update_rate_hz", "worst_second_updates", "read", "sent"}
_HIGH_IS_WORSE = {
    "hole_ms",
    "longest_hold_ms",
    "attempts_per_frame",
    "air_time_share",
    "busy_share",
    "collisions",
    "nuisance_trips",
    "nuisance_per_hour",
    "seconds_on",
    "given_up",
    "fifo_dropped",
    "lost_chance",
    "lost_collision",
    "lost_deaf",
    "lost_off",
    "lost_range",
    "lost_cut",
    "duplicates",
    "replaced",
    "power_cut",
    "skipped",
    "queue_full",
    "thrown_away",
    "never_accepted",
    "acknowledgements_lost",
}
_SPREAD_PARTS = {"mean", "median", "p95", "p99", "max"}


def worst_of(starts: Mapping[int, Mapping[str, float]]) -> dict[str, Worst]:
    """The worst start of each figure that has a bad direction; `starts`: start → path → value."""
    found: dict[str, Worst] = {}
    for path in dict.fromkeys(path for figures in starts.values() for path in figures):
        leaf = path.rsplit(".", 1)[-1]
        values = {start: figures[path] for start, figures in starts.items() if path in figures}
        if leaf in _LOW_IS_WORSE:
            start = min(values, key=lambda k: values[k])
        elif leaf in _HIGH_IS_WORSE or leaf in _SPREAD_PARTS:
            start = max(values, key=lambda k: values[k])
        else:
            continue
        found[path] = Worst(value=values[start], start=start)
    return found


def judge(
    scenario: Scenario, starts: Mapping[int, Mapping[str, float]], meetings: float
) -> tuple[RequirementFigures, ...]:
    """Every requirement of the scene against all starts' figures (start → path → value).

    `meetings`: how many meetings of the clocks that meet least the starts can have seen.
    """
    return tuple(_judge(requirement, starts, meetings) for requirement in scenario.requirement)


def _judge(
    requirement: Requirement, starts: Mapping[int, Mapping[str, float]], meetings: float
) -> RequirementFigures:
    figure = requirement.figure
    values = {start: found[figure] for start, found in starts.items() if figure in found}
    measured, ok, why = None, None, ""
    if figure.startswith("worst."):
        why = "stopping times are judged by drilling faults, which a run does not"
    elif len(values) < len(starts):
        missing = len(starts) - len(values)
        why = f"{missing} of {len(starts)} starts had nothing to measure"
    else:
        is_floor = requirement.at_least is not None
        worst = (min if is_floor else max)(values, key=lambda start: values[start])
        measured = float(values[worst])
        ok = _holds(measured, requirement)
        if not ok and len(starts) > 1:
            why = f"worst in start {worst}"
        if ok and meetings < MEETINGS_TO_HAVE_SEEN:
            ok, why = None, _too_short(meetings)
    return RequirementFigures(
        figure=figure,
        at_least=requirement.at_least,
        at_most=requirement.at_most,
        measured=measured,
        ok=ok,
        why=why,
    )


def _holds(measured: float, requirement: Requirement) -> bool:
    if requirement.at_least is not None and not measured >= requirement.at_least:
        return False
    return requirement.at_most is None or measured <= requirement.at_most


def _too_short(meetings: float) -> str:
    return (
        f"too short: the senders' clocks drift into each other about {meetings:.2g} times in all "
        f"this time; to have seen it takes {MEETINGS_TO_HAVE_SEEN:g} times or more: longer, or "
        "more starts"
    )
