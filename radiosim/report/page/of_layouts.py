"""The page of two layouts: what each end reads of the other, and what the link makes of it."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.layout.compare import Comparison, Outcome
from radiosim.layout.compare.compared import Length
from radiosim.report.figures import bytes as byte_figure
from radiosim.report.figures import change as change_figure
from radiosim.report.layouts.change import (
    INTERVAL,
    bound_text,
    change_cells,
    change_lines,
    shown_of,
    streams_of,
)
from radiosim.report.layouts.compare import (
    DIRECTIONS,
    LENGTHS,
    effects,
    receiver_of,
    scenario_of,
    verdict_text,
)
from radiosim.report.layouts.show import head
from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.terminal.words import span
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import LayoutChange
from radiosim.version import VERSION

CAUTION = (
    "Flash all boards together, or let a version field tell old from new; then try every control "
    "at both ends of its travel, wheels off the ground and propellers off."
)
_WORST_FIRST = ("misread", "refused", "rejected", "compatible")


def page_of_layouts(
    compared: Comparison,
    old: NamedLayout,
    new: NamedLayout,
    length: Length,
    *,
    change: LayoutChange | None,
    not_simulated: str,
    source: str,
    scenario_text: str,
    seed: int | None,
    command: str,
) -> Page:
    """The whole page; `not_simulated`: why the new layout cannot be, if it cannot."""
    pictures = (
        byte_figure.draw(byte_figure.bytes_data(old.layout, new.layout), "old"),
        byte_figure.draw(byte_figure.bytes_data(new.layout, old.layout), "new"),
    )
    return Page(
        title=f"{old.layout.name} and {new.layout.name}: two layouts of one frame",
        what=f"Old: {head(old)}. New: {head(new)}.",
        verdict=_verdict(compared, length),
        is_well=compared.is_compatible(length),
        cautions=(*_misreadings(compared, old, new, length), CAUTION),
        sections=(
            *(Section(heading=figure.title, figure=figure) for figure in pictures),
            *(_direction(compared, name, old, new, length) for name in DIRECTIONS),
            *_change(change, not_simulated),
        ),
        scenario_name=source,
        scenario_text=scenario_text,
        command=command,
        seed=seed,
        version=VERSION,
    )


def _outcome(compared: Comparison, name: str, length: Length) -> Outcome:
    direction = compared.new_to_old if name == "new_to_old" else compared.old_to_new
    return direction.of(length)


def _verdict(compared: Comparison, length: Length) -> str:
    said = [
        f"{title}: {_outcome(compared, name, length).verdict}" for name, title in DIRECTIONS.items()
    ]
    return f"{'; '.join(said)} ({LENGTHS[length].format(compared.padded_to_bytes)})."


def _misreadings(
    compared: Comparison, old: NamedLayout, new: NamedLayout, length: Length
) -> Iterator[str]:
    for name, title in DIRECTIONS.items():
        receiver, scenario = receiver_of(compared, name), scenario_of(name, old, new)
        for reading in _outcome(compared, name, length).fields:
            if reading.verdict == "misread":
                said = effects(receiver, reading, scenario) or (reading.says,)
                yield f"{title}: {'; '.join((f'{reading.name} is MISREAD', *said))}."


def _direction(
    compared: Comparison, name: str, old: NamedLayout, new: NamedLayout, length: Length
) -> Section:
    direction = compared.new_to_old if name == "new_to_old" else compared.old_to_new
    outcomes = (direction.own, direction.fixed, direction.padded)
    lengths = PageTable(
        caption="By the payload's length",
        columns=("verdict", "length"),
        rows=tuple(
            (it.verdict, LENGTHS[it.length].format(compared.padded_to_bytes)) for it in outcomes
        ),
        words=(1,),
    )
    asked = direction.of(length)
    return Section(
        heading=f"{DIRECTIONS[name]}: {verdict_text(asked)}",
        tables=(lengths, *_fields(compared, name, old, new, asked)),
    )


def _fields(
    compared: Comparison, name: str, old: NamedLayout, new: NamedLayout, outcome: Outcome
) -> Iterator[PageTable]:
    if not outcome.fields:
        return
    receiver, scenario = receiver_of(compared, name), scenario_of(name, old, new)
    yield PageTable(
        caption="What the receiver reads",
        columns=("field", "", "worst reading"),
        rows=tuple(
            (
                it.name,
                it.verdict,
                "; ".join(part for part in (it.says, *effects(receiver, it, scenario)) if part),
            )
            for it in sorted(outcome.fields, key=lambda it: _WORST_FIRST.index(it.verdict))
        ),
        words=(1, 2),
    )


def _change(found: LayoutChange | None, not_simulated: str) -> Iterator[Section]:
    if not_simulated:
        yield Section(
            heading="Not simulated with the new layout", prose=tuple(not_simulated.splitlines())
        )
    if found is None:
        return
    data = change_figure.change_data(found)
    figure = None if data is None else change_figure.draw(data)
    seconds = span(found.starts * found.duration_s)
    both = (
        f"In {found.scenario}: {counted(found.starts, 'start')}, {seconds}, both on the same draws."
    )
    tables = tuple(
        PageTable(
            caption=f"{stream}, mean over starts",
            columns=("", "old", "new", "difference", "95 % sure"),
            rows=tuple(
                (shown.words, *change_cells(change, shown.times))
                for shown, change in shown_of(found, stream)
            ),
        )
        for stream in streams_of(found)
    )
    bounds = PageTable(
        caption="Failsafe in effect within, ms",
        columns=("output", "old", "new"),
        rows=tuple(
            (name, bound_text(it.old_ms), bound_text(it.new_ms))
            for name, it in found.bounds.items()
        ),
    )
    yield Section(
        heading="What the link makes of it" if figure is None else figure.title,
        prose=(both, *(f"{name}: {text}." for name, text in change_lines(found)), INTERVAL),
        figure=figure,
        tables=(*tables, bounds) if found.bounds else tables,
    )
