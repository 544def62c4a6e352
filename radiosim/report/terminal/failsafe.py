"""Failsafe of each stream: does it trip for nothing, and what does it do for its outputs?"""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from radiosim.measure.summary import FailsafeFigures, RareFigures, Stopping, Summary
from radiosim.report.terminal.parts import Cell, block, hanging
from radiosim.report.terminal.words import action, between, digits, limit, listed, span, whole
from radiosim.scenario import Scenario

SHORTEST_S = 3600.0
"""Simulated time from which on it means something that no trip was seen."""
HOURS_PER_YEAR = 8766.0
MANY = 1_000_000


def failsafe_lines(summary: Summary, scenario: Scenario) -> Iterator[RenderableType]:
    """One paragraph a stream."""
    rows = [
        (f"  {name}" if number == 0 else "", text)
        for name, stopping in summary.stopping.items()
        for number, text in enumerate(_of_stream(summary, scenario, name, stopping))
    ]
    if rows:
        yield block("Failsafe", hanging(rows))


def _of_stream(
    summary: Summary, scenario: Scenario, name: str, stopping: Stopping
) -> Iterator[Cell]:
    outputs = tuple(stopping.bound_ms)
    if stopping.timeout_ms is None:
        what = listed(outputs) or "what it drives"
        verb = "keep their last values" if len(outputs) > 1 else "keeps its last value"
        yield Text(f"NO FAILSAFE: {what} {verb} for good", style="bold red")
        return
    yield f"after {limit(stopping.timeout_ms)} ms of silence"
    stream = summary.figures.stream[name]
    if not stream.read:
        yield "never delivered a value; failsafe was on from the start"
    elif stream.failsafe is not None:
        yield nuisance_text(summary, stream.failsafe)
        if isinstance(stream.failsafe.rare, RareFigures) and not is_counted(stream.failsafe.rare):
            yield rare_text(stream.failsafe.rare)
    if stopping.cannot_work:
        yield Text("CANNOT WORK: see above", style="bold red")
    if outputs:
        yield "when its transmitter goes silent:"
    for output in outputs:
        yield _stop_text(scenario, output, stopping)
    if stopping.blind_to:
        yield f"blind to: {'; '.join(stopping.blind_to)}"


def nuisance_text(summary: Summary, figures: FailsafeFigures) -> str:
    """How often failsafe came on although nothing was broken."""
    interval = figures.nuisance_per_hour_ci95
    if not figures.nuisance_trips:
        total_s = summary.starts * summary.duration_s
        text = f"no nuisance trips seen in {span(total_s)}"
        if total_s < SHORTEST_S:
            return f"{text}: too short to tell"
        hint = "" if isinstance(figures.rare, RareFigures) else "; --rare tells more"
        if isinstance(interval, tuple):
            return f"{text}: at most {digits(interval[1])} an hour (95 % sure{hint})"
        return text
    trips = "nuisance trip" if figures.nuisance_trips == 1 else "nuisance trips"
    text = f"{whole(figures.nuisance_trips)} {trips}"
    if isinstance(figures.starts_with_nuisance, int):
        text += f" in {figures.starts_with_nuisance} of {summary.starts} starts"
    return f"{text}, {digits(figures.nuisance_per_hour)} an hour{between(interval)}"


def is_counted(rare: RareFigures) -> bool:
    """Whether trips were no rare things, and their rate stands there already."""
    return rare.trusted and not rare.levels_ms


def rare_text(rare: RareFigures) -> Cell:
    """What splitting found where trips are too rare to be counted."""
    interval = rare.per_hour_ci95
    if not rare.trusted:
        return Text(f"rare trips: no estimate to trust: {rare.why}", style="yellow")
    if rare.per_hour is None:
        limit = rare_every(interval[1]) if isinstance(interval, tuple) else "?"
        return f"rare trips: less than one in {limit} (95 % sure); {rare.why}"
    text = f"rare trips: about one in {rare_every(rare.per_hour)}"
    if not isinstance(interval, tuple):
        return text
    longest = rare_every(interval[0]) if interval[0] else "more"
    return f"{text} ({rare_every(interval[1])} to {longest}), by splitting"


def rare_every(per_hour: float) -> str:
    """Mean time between things of a rate, in the unit that fits: 40 min, 12 h, 3.1 years."""
    if per_hour * HOURS_PER_YEAR < 1:
        years = 1 / (per_hour * HOURS_PER_YEAR)
        return f"{digits(years) if years < MANY else whole(int(round(years, -5)))} years"
    return span(3600 / per_hour)


def _stop_text(scenario: Scenario, output: str, stopping: Stopping) -> Cell:
    what = action(scenario.output[output])
    bound_ms = stopping.bound_ms[output]
    if bound_ms is not None:
        still_ms = stopping.stopping_ms.get(output)
        still = "" if still_ms is None else f", standing still within {digits(still_ms)} ms"
        return f"  {output}: {what} within {digits(bound_ms)} ms{still}"
    if what == "holds":
        return Text(f"  {output}: holds its last value: NO BOUND", style="bold red")
    why = stopping.why.get(output, "")
    text = f"  {output}: {what}, NO BOUND"
    return Text(f"{text}: {why}" if why else text, style="bold red")
