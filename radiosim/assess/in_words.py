"""Figures in words: values with their unit, requirements, nuisance trips, and the worst start."""

from collections.abc import Iterable, Iterator, Sequence

from radiosim.counted import counted
from radiosim.measure.summary import (
    FailsafeFigures,
    Interval,
    NoiseFigures,
    RareFigures,
    RequirementFigures,
    Summary,
)
from radiosim.registers.figure_register import is_rate
from radiosim.results.formats import (
    duration_text,
    fmt_count,
    fmt_exact,
    fmt_range,
    fmt_sig3,
    list_text,
)


def is_time(figure: str) -> bool:
    """Whether a figure is in milliseconds, by its path: `stream.drive.gap_ms.max` is."""
    return any(step.endswith("_ms") for step in figure.split("."))


def quantity_text(figure: str, value: float) -> str:
    """A value as prose has it: times with their unit, all else with three digits."""
    return duration_text(value) if is_time(figure) else fmt_sig3(value)


ORDER = (False, None, True)
"""Those that do not hold first."""


def worst_first(requirements: Sequence[RequirementFigures]) -> list[RequirementFigures]:
    """Requirements, those that failed first, then those that could not be judged."""
    return sorted(requirements, key=lambda requirement: ORDER.index(requirement.ok))


def requirement_text(requirement: RequirementFigures) -> str:
    """What was measured of a figure and what was asked for, and why it is not kept or not known."""
    why = f": {requirement.why}" if requirement.why else ""
    is_ = "" if requirement.measured is None else "is "
    measured = f"{requirement.figure} {is_}{measured_text(requirement)}"
    return f"{measured}, {asked_text(requirement)} was asked{why}"


def unmet_text(requirement: RequirementFigures) -> str:
    """A requirement that failed, or could not be judged, in one sentence."""
    word = "requirement FAILED" if requirement.ok is False else "requirement not judged"
    return f"{word}: {requirement_text(requirement)}"


def measured_text(requirement: RequirementFigures) -> str:
    """What was measured; a rounded figure never seems to meet a limit that it misses."""
    measured = requirement.measured
    if measured is None:
        return "not measured"
    limits = [limit for limit in (requirement.at_least, requirement.at_most) if limit is not None]
    figure = requirement.figure
    if not is_time(figure) and float(measured).is_integer():
        return fmt_exact(measured)
    text = quantity_text(figure, measured)
    is_close = any(text == quantity_text(figure, limit) and limit != measured for limit in limits)
    return f"{measured:.6g}{_unit(figure)}" if is_close else text


def asked_text(requirement: RequirementFigures) -> str:
    """The limits that were asked for."""
    return " and ".join(_limits(requirement))


def where_judged(figures: Iterable[str], of: str = "start") -> str:
    """Over which starts some figures of several are judged."""
    rates = "; rates over all" if any(map(is_rate, figures)) else ""
    return f"in the worst {of}{rates}"


def _limits(requirement: RequirementFigures) -> Iterator[str]:
    for word, limit in (("at least", requirement.at_least), ("at most", requirement.at_most)):
        if limit is not None:
            yield f"{word} {fmt_exact(limit)}{_unit(requirement.figure)}"


def _unit(figure: str) -> str:
    return " ms" if is_time(figure) else ""


SHORTEST_S = 3600.0
"""Simulated time from which on it means something that no trip was seen."""


def simulated_s(summary: Summary) -> float:
    """Time of all starts together."""
    return summary.starts * summary.duration_s


def nuisance_text(summary: Summary, figures: FailsafeFigures) -> str:
    """How often failsafe came on although nothing was broken."""
    interval = figures.nuisance_per_hour_ci95
    if not figures.nuisance_trips:
        total_s = simulated_s(summary)
        text = f"no nuisance trips seen in {duration_text(1000 * total_s)}"
        if total_s < SHORTEST_S:
            return f"{text}: too short to tell"
        hint = "" if isinstance(figures.rare, RareFigures) else "; --rare tells more"
        if isinstance(interval, tuple):
            return f"{text}: at most {fmt_sig3(interval[1])} an hour (95 % sure{hint})"
        return text
    trips = "nuisance trip" if figures.nuisance_trips == 1 else "nuisance trips"
    text = f"{fmt_count(figures.nuisance_trips)} {trips}"
    if isinstance(figures.starts_with_nuisance, int):
        text += f" in {figures.starts_with_nuisance} of {summary.starts} starts"
    return f"{text}, {fmt_sig3(figures.nuisance_per_hour)} an hour{interval_text(interval)}"


def noise_text(summary: Summary, figures: NoiseFigures) -> str:
    """How often noise passed for frames of a stream, counted and by closed form."""
    closed = f"{fmt_sig3(figures.expected_per_hour)} an hour by closed form"
    if not figures.frames:
        seen = duration_text(1000 * simulated_s(summary))
        return f"no frame out of noise seen in {seen}, {closed}"
    rate = f"{fmt_sig3(figures.per_hour)} an hour{interval_text(figures.per_hour_ci95)}"
    return f"{counted(figures.frames, 'frame')} out of noise, {rate}, {closed}"


def interval_text(interval: Interval) -> str:
    """An interval in brackets, with a space before it; empty where there is none."""
    return f" ({fmt_range(interval)})" if isinstance(interval, tuple) else ""


def is_counted(rare: RareFigures) -> bool:
    """Whether trips were counted, and their rate stands there already."""
    return rare.trusted and not rare.levels_ms


def rare_text(rare: RareFigures) -> str:
    """What splitting found where trips are too rare to be counted."""
    interval = rare.per_hour_ci95
    if not rare.trusted:
        return f"rare trips: no estimate to trust: {rare.why}"
    if rare.per_hour is None:
        limit = time_between(interval[1]) if isinstance(interval, tuple) else "?"
        return f"rare trips: less than once in {limit} simulated in effect (95 % sure); {rare.why}"
    text = f"rare trips: about one in {time_between(rare.per_hour)}"
    if not isinstance(interval, tuple):
        return text
    longest = time_between(interval[0]) if interval[0] else "more"
    return f"{text} ({time_between(interval[1])} to {longest}), by splitting"


def time_between(per_hour: float) -> str:
    """Mean time between events of a rate: 40 min, 12 h."""
    return duration_text(3_600_000 / per_hour)


def brownouts_text(summary: Summary) -> str:
    """How often what outputs draw brought the receiver down; empty where it never did."""
    receiver = summary.figures.receiver
    if not isinstance(receiver.brownouts, int) or not receiver.brownouts:
        return ""
    rows = receiver.brownouts_with if isinstance(receiver.brownouts_with, tuple) else ()
    who = [list_text(row.outputs) for row in rows if row.outputs]
    drew = f"what {' or '.join(who[:_MOST_NAMED])} drew" if who else "what its outputs drew"
    if len(who) > _MOST_NAMED:
        drew = "what several of its outputs drew"
    times = counted(receiver.brownouts, "time")
    each = "" if summary.start is not None else f" in {counted(summary.starts, 'start')}"
    return f"the receiver browned out {times}{each}, each time by {drew}"


_MOST_NAMED = 2


def worst_value(summary: Summary, path: str, otherwise: float | None) -> float | None:
    """The worst start's value of a figure; `otherwise` where one start is all there is."""
    found = summary.worst.get(path)
    return otherwise if found is None else found.value


def worst_start(summary: Summary) -> int:
    """The start with the longest gap of any stream."""
    worst = max(summary.figures.stream.values(), key=lambda stream: stream.gap_ms.max)
    return worst.longest_gap_start
