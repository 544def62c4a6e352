"""The page of a range: how far the requirements hold, and what arrives at which distance."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.report.figures.reach import draw, reach_data
from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.reach import CAUTION, FOOT, limit_text, table_row
from radiosim.report.terminal.words import printable, span
from radiosim.scenario import Scenario
from radiosim.study.range import UNKNOWN_DB, Reach, rounded_m
from radiosim.version import VERSION

COLUMNS = (
    "distance, m",
    "margin, dB",
    "read, %",
    "fresh values a second",
    "longest wait, ms",
    "trips an hour",
)
NO_BREAK = "\N{NO-BREAK SPACE}"


def page_of_reach(
    found: Reach, scenario: Scenario, *, source: str, scenario_text: str, command: str
) -> Page:
    """The whole page."""
    figure = draw(reach_data(found))
    seconds = span(found.starts * found.duration_s)
    each = f"{counted(found.starts, 'start')}, {seconds} at each distance"
    return Page(
        title=scenario.title or found.scenario or "A scenario without a title",
        what=f"How far a simulated radio control link reaches: {each}",
        verdict=_verdict(found),
        # Whether a distance is far enough is the reader's to say.
        is_well=None,
        cautions=(CAUTION,),
        sections=(
            *_limits(found),
            Section(heading=figure.title, prose=_notes(found), figure=figure),
            Section(
                heading="What arrives at which distance", prose=FOOT, tables=tuple(_tables(found))
            ),
        ),
        scenario_name=source,
        scenario_text=scenario_text,
        command=command,
        seed=scenario.seed,
        version=VERSION,
    )


def _verdict(found: Reach) -> str:
    if not found.limits:
        return (
            "The scenario asks for nothing that can be judged here: the figure shows what arrives, "
            "and how long a value is waited for."
        )
    first = min(found.limits, key=lambda limit: (limit.is_open[0], limit.distance_m))
    metres = rounded_m(first.distance_m[0])
    if first.is_open[0]:
        return f"Every requirement holds as far as was looked, about {metres:g} m."
    if metres == 0:
        return "Not every requirement is sure to hold, even at the nearest distance."
    return f"Every requirement holds up to about {metres:g} m, in the worse case."


def _limits(found: Reach) -> Iterator[Section]:
    if found.limits:
        yield Section(
            heading="How far the requirements hold",
            prose=tuple(f"{printable(it.requirement)}: {limit_text(it)}." for it in found.limits),
        )


def _notes(found: Reach) -> tuple[str, ...]:
    return tuple(f"{note[0].upper()}{note[1:]}." for note in found.notes if note)


def _tables(found: Reach) -> Iterator[PageTable]:
    for name, points in found.streams.items():
        yield PageTable(
            caption=f"{name}, with {UNKNOWN_DB:g} dB less to {UNKNOWN_DB:g} dB more",
            columns=COLUMNS,
            rows=tuple(
                tuple(cell.replace(" ", NO_BREAK) for cell in table_row(point)) for point in points
            ),
        )
