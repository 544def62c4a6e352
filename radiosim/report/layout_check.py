"""`radiosim layout check` as a report: what can go wrong with layouts, each with its cure."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from radiosim.counted import counted
from radiosim.layout.traps import Severity, Trap, traps_of
from radiosim.report.layouts import CAUTION, head, notes
from radiosim.results.document import Column, Origin, Report, Role, Section, Sentence, Table
from radiosim.results.formats import list_text
from radiosim.scenario.named_layout import NamedLayout
from radiosim.signals import Counter

_ROLES: dict[Severity, Role | None] = {"error": "bad", "warning": "warn", "note": None}


class CheckedLayout(Struct, frozen=True, kw_only=True):
    """What can go wrong with one layout."""

    layout: str
    is_ok: bool
    """Whether nothing is sure to go wrong."""
    traps: tuple[Trap, ...]


class LayoutChecksData(Struct, frozen=True, kw_only=True):
    """What can go wrong with layouts."""

    is_ok: bool
    layouts: tuple[CheckedLayout, ...]


def traps_in(named: NamedLayout) -> tuple[Trap, ...]:
    """The traps of a layout, with what its scenario says about counters and acknowledgements."""
    scenario = named.scenario
    units = (
        []
        if scenario is None
        else [unit for unit in scenario.transmitter.values() if unit.layout == named.layout.name]
    )
    counters = {
        name
        for unit in units
        for name, signal in unit.signals.items()
        if isinstance(signal, Counter)
    }
    return traps_of(
        named.layout,
        targets=named.targets,
        counters=frozenset(counters),
        is_acknowledged=not units or any(unit.acknowledge is not False for unit in units),
    )


def checks_data(layouts: Sequence[NamedLayout]) -> LayoutChecksData:
    """The traps of each layout."""
    checked = []
    for named in layouts:
        traps = traps_in(named)
        is_ok = all(trap.severity != "error" for trap in traps)
        checked.append(CheckedLayout(layout=named.label, is_ok=is_ok, traps=traps))
    return LayoutChecksData(is_ok=all(one.is_ok for one in checked), layouts=tuple(checked))


def checks_report(layouts: Sequence[NamedLayout], data: LayoutChecksData, origin: Origin) -> Report:
    """The traps of each layout, the worst first, each with its cure."""
    return Report(
        title=list_text(list(dict.fromkeys(named.layout.name for named in layouts))),
        subject="What can go wrong with a layout on the way from one firmware to another",
        done=f"{counted(len(layouts), 'layout')} checked",
        verdict=_verdict(data),
        is_well=data.is_ok,
        sections=tuple(
            Section(
                heading=head(named),
                sentences=(*notes(named), *_traps(checked)),
                tables=(),
            )
            for named, checked in zip(layouts, data.layouts, strict=True)
        ),
        tables=(_trap_table(data),),
        cautions=(CAUTION,),
        data=data,
        origin=origin,
    )


def _verdict(data: LayoutChecksData) -> str:
    severities = [trap.severity for checked in data.layouts for trap in checked.traps]
    counts = [
        counted(severities.count(severity), severity)
        for severity in _ROLES
        if severity in severities
    ]
    sure = "Nothing is sure to go wrong" if data.is_ok else "Something is sure to go wrong"
    return f"{sure}: {', '.join(counts) or 'no trap found'}."


def _traps(checked: CheckedLayout) -> Iterator[Sentence]:
    for trap in checked.traps:
        name = f"{trap.field}: " if trap.field else ""
        yield Sentence(
            lead=f"{trap.severity}, {trap.trap}",
            text=f"{name}{trap.what}. Cure: {trap.cure}.",
            role=_ROLES[trap.severity],
        )
    if not checked.traps:
        yield Sentence(text="no trap found")


def _trap_table(data: LayoutChecksData) -> Table:
    return Table(
        key="traps",
        columns=tuple(
            Column(key=key) for key in ("layout", "field", "trap", "severity", "what", "cure")
        ),
        rows=tuple(
            (checked.layout, trap.field, trap.trap, trap.severity, trap.what, trap.cure)
            for checked in data.layouts
            for trap in checked.traps
        ),
        where="data",
    )
