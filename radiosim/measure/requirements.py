"""Whether the scenario's requirements hold: in the worst start; rates of events by their interval.

A rate of events says little where few came: none in two minutes is no evidence for fewer than one
an hour. So it holds only where the whole interval of 95 % does, and fails only where none of it
does."""

from collections.abc import Mapping

from radiosim.measure.intervals import hours_to_tell, weighted_poisson
from radiosim.measure.summary import RequirementFigures, Worst
from radiosim.measure.tally import Extreme
from radiosim.registers.figure import HIGH, LOW, NEITHER
from radiosim.registers.figure_register import figure_at
from radiosim.scenario import Scenario
from radiosim.scenario.structs.failsafe_and_fault import Requirement

Rate = tuple[float, tuple[float, float] | None]
"""A rate of events an hour over all starts, and its interval of 95 % if there is one."""
BEATS_TO_HAVE_SEEN = 3.0
"""Expected beats below which a run may well have seen none: e⁻³ is 5 %."""


def worst_of(extremes: Mapping[str, Extreme]) -> dict[str, Worst]:
    """The worst start of each figure that has a bad direction."""
    found: dict[str, Worst] = {}
    for path, extreme in extremes.items():
        at = figure_at(path)
        worse = NEITHER if at is None else at[0].worse_part(at[1])
        if worse == LOW:
            found[path] = Worst(value=extreme.low, start=extreme.low_start)
        elif worse == HIGH:
            found[path] = Worst(value=extreme.high, start=extreme.high_start)
    return found


def judge(
    scenario: Scenario,
    extremes: Mapping[str, Extreme],
    starts: int,
    beats: float,
    rates: Mapping[str, Rate],
) -> tuple[RequirementFigures, ...]:
    """Every requirement of the scenario against the figures of its worst start.

    `beats`: how many beats of the clocks that meet least the starts can have seen. `rates`: of
    events, by path, over all starts.
    """
    return tuple(
        _judge(
            requirement,
            extremes.get(requirement.figure),
            starts,
            beats,
            rates.get(requirement.figure),
            starts * scenario.duration_s / 3600,
        )
        for requirement in scenario.requirement
    )


def _judge(
    requirement: Requirement,
    extreme: Extreme | None,
    starts: int,
    beats: float,
    rate: Rate | None,
    hours: float,
) -> RequirementFigures:
    measured, ok, why = None, None, ""
    if requirement.figure.startswith("worst."):
        why = "radiosim failsafe judges stopping times, by drilling faults"
    elif extreme is None or extreme.n < starts:
        missing = starts - (0 if extreme is None else extreme.n)
        why = f"{missing} of {starts} starts had nothing to measure"
    elif rate is not None:
        measured = rate[0]
        ok, why = rate_verdict(rate, requirement, hours)
    else:
        is_floor = requirement.at_least is not None
        measured = float(extreme.low if is_floor else extreme.high)
        ok = holds(measured, requirement)
        if not ok and starts > 1:
            why = f"worst in start {extreme.low_start if is_floor else extreme.high_start}"
    if ok and beats < BEATS_TO_HAVE_SEEN:
        ok, why = None, _too_short(beats)
    return RequirementFigures(
        figure=requirement.figure,
        at_least=requirement.at_least,
        at_most=requirement.at_most,
        measured=measured,
        ok=ok,
        why=why,
    )


def rate_verdict(rate: Rate, requirement: Requirement, hours: float) -> tuple[bool | None, str]:
    """Whether a rate's whole interval is on one side of its limits, and why not if it is not.

    None: the limits lie inside the interval. `hours`: how long was simulated."""
    measured, interval = rate
    if interval is None:
        return None, "too few starts for an interval of the rate: more starts"
    low, high = interval
    if holds(low, requirement) and holds(high, requirement):
        return True, ""
    shown = f"between {low:.3g} and {high:.3g} an hour (95 % sure)"
    if _is_beyond(interval, requirement):
        return False, shown
    limit = requirement.at_most if requirement.at_most is not None else requirement.at_least
    needed = None if limit is None else _needed_hours(measured, interval, limit, hours)
    told = "" if needed is None else f": about {needed:.2g} h would tell"
    return None, f"{shown}{told}"


def _needed_hours(
    measured: float, interval: tuple[float, float], limit: float, hours: float
) -> float | None:
    """Hours that would tell, of events that come in bursts as often as those seen did.

    What independent events take (Garwood), longer by how much wider the interval is than theirs,
    squared, on the side of the limit; None: no time would tell.
    """
    independent = hours_to_tell(measured, limit)
    if independent is None:
        return None
    low, high = interval
    own_low, own_high = weighted_poisson([measured * hours], [hours], [1.0])
    # A lower end at 0 is cut off: the upper one tells how wide the interval would be.
    width = high - measured if measured < limit or low == 0 else measured - low
    own = own_high - measured if measured < limit else measured - own_low
    return max(hours, independent * max(1.0, width / own) ** 2)


def _is_beyond(interval: tuple[float, float], requirement: Requirement) -> bool:
    low, high = interval
    if requirement.at_least is not None and high < requirement.at_least:
        return True
    return requirement.at_most is not None and low > requirement.at_most


def holds(measured: float, requirement: Requirement) -> bool:
    """Whether a figure is on the right side of its limits."""
    if requirement.at_least is not None and not measured >= requirement.at_least:
        return False
    return requirement.at_most is None or measured <= requirement.at_most


def _too_short(beats: float) -> str:
    expected = f"{beats:.2g}"
    times = "once" if expected == "1" else f"{expected} times"
    return (
        f"too short: two clocks of the link drift into each other about {times} in all this "
        f"time; "
        f"to have seen it takes {BEATS_TO_HAVE_SEEN:g} times or more: longer, or "
        "more starts"
    )
