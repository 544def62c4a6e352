"""`layout check`: the traps, each with its cure."""

from rich.console import Console
from rich.text import Text

from radiosim.layout.traps import Trap, traps_of
from radiosim.report.layouts.show import head, notes
from radiosim.report.terminal.parts import Trimmed, hanging
from radiosim.scenario.named_layout import NamedLayout
from radiosim.signals import Counter

_SIGNS = {"error": ("!", "bold red"), "warning": ("!", "yellow"), "note": ("-", "")}


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


def is_ok(traps: tuple[Trap, ...]) -> bool:
    """Is there nothing that is sure to go wrong?"""
    return all(trap.severity != "error" for trap in traps)


def print_traps(named: NamedLayout, traps: tuple[Trap, ...], console: Console) -> None:
    """Print one layout's traps, the worst first."""
    console.print(Trimmed(part=Text(head(named), style="bold")))
    for note in notes(named):
        console.print(Trimmed(part=hanging([("", note)], widths=(0,))))
    rows = []
    for trap in traps:
        sign, style = _SIGNS[trap.severity]
        name = f"{trap.field}: " if trap.field else ""
        text = f"{trap.severity}, {trap.trap}: {name}{trap.what}\ncure: {trap.cure}"
        rows.append((Text(sign, style=style), text))
    if rows:
        console.print(Trimmed(part=hanging(rows, widths=(1,))))
    else:
        console.print("no trap found")
    console.print()
